#pragma once

#include <compare>
#include <cstddef>
#include <limits>
#include <map>

#include "model/inspection.h"
#include "model/quantity.h"

namespace glintline {

/// Whose error it is. Two values that carry an error of one key carry the same error, fully correlated.
struct ErrorKey {
  static constexpr std::size_t kAny = std::numeric_limits<std::size_t>::max();

  Source source = Source::kEdge;
  std::size_t photo = kAny;   ///< which photograph's
  std::size_t cutter = kAny;  ///< which cutter's in it
  int what = -1;              ///< which quantity's, card's or face's

  [[nodiscard]] auto operator<=>(const ErrorKey&) const = default;
};

/// A value that remembers whose errors it carries, so that what two values share cancels in their difference and does
/// not shrink in their mean.
///
/// in: u_k, standard uncertainty due to error k, signed. Sums: u(a x + b y)² = sum over k of (a u_k(x) + b u_k(y))²
/// source: JCGM 100:2008, 5.2.2 and F.1.2.3 (correlation by common influences).
struct TracedValue {
  double value = 0;
  std::map<ErrorKey, double> errors;

  /// this + factor x other
  void add(double factor, const TracedValue& other);
  [[nodiscard]] double u() const;
  /// One budget line a source.
  [[nodiscard]] Quantity quantity() const;
};

[[nodiscard]] TracedValue difference(const TracedValue& a, const TracedValue& b);

/// Where a quantity was measured, as far as it decides what errors it shares with others.
struct ErrorOrigin {
  std::size_t photo = 0;
  std::size_t cutter = 0;
  int what = 0;  ///< one number a quantity: chip depth and length of one cutter do not share their outlines' noise
  CardKind card = CardKind::kWide;
  ViewKind view = ViewKind::kProfile;
  std::optional<Hand> hand;
  int print = 0;  ///< photographs with the same card kind and the same `print` lay on one and the same sheet
};

/// Pose, focal length and flatness are shared by all values of the photograph; the print by all photographs on it;
/// stand-off and thicknesses by all cutters of one hand in one view, because the two hands show opposite faces. Outline
/// and definition are the value's own.
[[nodiscard]] TracedValue traced(const Quantity& quantity, const ErrorOrigin& origin);

/// Mean weighted by 1/u² of each, errors traced. Assumes at least one value.
[[nodiscard]] TracedValue traced_mean(const std::vector<TracedValue>& values);

}  // namespace glintline
