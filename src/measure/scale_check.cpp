#include "measure/scale_check.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/text.h"
#include "math/statistics.h"
#include "measure/profile_heights.h"
#include "measure/rivet_row.h"

namespace glintline {

namespace {

// Real pitches of common chain, mm (trade tables; 3/8 in chain is often 9.32).
constexpr std::array<double, 5> kRealPitches{6.35, 8.25, 9.32, 9.525, 10.26};
// Highlights that wander over the domes stretch the whole row (by experiment: tests/accuracy).
constexpr double kRowStretchU = 0.0025;
// On a taut chain all distances over three rivets are one; beyond this their scatter is play in the joints.
constexpr double kPlayMm = 0.08;
constexpr std::size_t kLeastTriples = 3;
// A warning asks to look again and decides nothing: it comes where one side's 95 % are left (ISO 14253-1's guard band).
constexpr double kWarningU = 1.645;

/// Half the distance over three rivets at every place where no head between them was missed.
std::vector<double> half_triples(const ProfileOutlines& outlines, const CameraView& view, double height_mm) {
  std::vector<double> halves;
  for (std::size_t i = 0; i + 2 < outlines.rivets.size(); ++i) {
    const auto place = [&](std::size_t k) { return view.at_height(outlines.rivets[k].centre_px, height_mm); };
    const double first = (place(i + 1) - place(i)).norm();
    const double second = (place(i + 2) - place(i + 1)).norm();
    if (std::max(first, second) > 1.3 * std::min(first, second)) continue;
    halves.push_back(0.5 * (place(i + 2) - place(i)).norm());
  }
  return halves;
}

std::optional<double> pitch_of(const ProfileOutlines& outlines, const CameraView& view, double height_mm) {
  const std::vector<double> halves = half_triples(outlines, view, height_mm);
  if (halves.empty()) return std::nullopt;
  return median(halves);
}

/// Root sum of squares of the lines for which `wanted` holds.
template <typename Wanted>
double share_of(const Quantity& pitch, const Wanted& wanted) {
  double sum = 0;
  for (const BudgetLine& line : pitch.budget) {
    if (wanted(line.source)) sum += line.u * line.u;
  }
  return std::sqrt(sum);
}

/// What a disagreement is told from.
struct Disagreement {
  double off_mm;  ///< measured less sheet
  double u_print_mm;
  double u_stand_off_mm;
  double u_mm;         ///< all of it
  double expected_mm;  ///< the sheet's pitch
  double measured_mm;
};

bool is_slack(const ProfileOutlines& outlines, const CardPose& pose, const Setup& setup) {
  const double height = profile_heights(setup, true).usual.rivets;
  const std::vector<double> halves = half_triples(outlines, pose.view, height);
  return halves.size() >= kLeastTriples && mad_sigma(halves) > kPlayMm;
}

/// A real pitch that fits what was measured where the sheet's does not.
std::optional<double> other_pitch(const Disagreement& d) {
  const double nearest = *std::min_element(kRealPitches.begin(), kRealPitches.end(), [&](double a, double b) {
    return std::abs(a - d.measured_mm) < std::abs(b - d.measured_mm);
  });
  constexpr double kSamePitch = 0.005;  // 8.25 and 8.255 mm are one
  const bool another = std::abs(nearest / d.expected_mm - 1) > kSamePitch;
  const bool nearer = std::abs(nearest - d.measured_mm) < std::abs(d.off_mm) / 2;
  return another && nearer && std::abs(nearest - d.measured_mm) <= kCoverage * d.u_mm ? std::optional(nearest)
                                                                                      : std::nullopt;
}

std::string likely_cause(const Disagreement& d, const ProfileOutlines& outlines, const CardPose& pose,
                         const Setup& setup) {
  if (is_slack(outlines, pose, setup)) {
    return "the rivets stand unevenly, so the chain lies slack or kinked: pull it taut";
  }
  if (const auto other = other_pitch(d)) {
    return "the sheet may be another chain's: the nearest real pitch is " + fixed(*other, 3) + " mm";
  }
  const double percent = 100 * std::abs(d.off_mm) / d.expected_mm;
  const std::string by = fixed(percent, 1) + " %";
  const bool print_likelier = d.u_print_mm >= d.u_stand_off_mm;
  // Nobody mistakes a height by so many of its uncertainties; a misread bar is likelier then.
  const bool stand_off_unlikely = std::abs(d.off_mm) > 3 * d.u_stand_off_mm;
  if (setup.print.measured && (print_likelier || stand_off_unlikely)) {
    return std::string("the print's check bars were likely misread by ") + by +
           ": measure them again, and check the stand-off";
  }
  if (!setup.print.measured && print_likelier) {
    return std::string("the print, which nobody measured, is likely ") + by + (d.off_mm > 0 ? " shorter" : " longer") +
           " than drawn: measure its check bars, or check the stand-off";
  }
  const double eye_mm = -pose.view.eye().z();
  const std::string height = fixed(std::abs(d.off_mm) / d.expected_mm * eye_mm, 1) + " mm";
  return std::string("the chain likely lies ") + height + (d.off_mm > 0 ? " nearer to" : " further from") +
         " the camera than assumed: tell the stand-off" +
         (setup.print.measured ? ", or measure the check bars again" : ", or measure the print's check bars");
}

}  // namespace

std::optional<Quantity> measured_pitch(const ProfileOutlines& outlines, const CardPose& pose, const Setup& setup) {
  const HeightModel heights = profile_heights(setup, true);
  const auto value = pitch_of(outlines, pose.view, heights.usual.rivets);
  if (!value) return std::nullopt;
  const double heads = static_cast<double>(outlines.rivets.size());
  Quantity q{*value, {{Source::kEdge, kHeadMm / std::sqrt(heads / 3)}, {Source::kDefinition, kRowStretchU * *value}}};
  for (const ViewVariation& v : pose.variations) {
    if (const auto moved = pitch_of(outlines, v.view, heights.usual.rivets)) {
      q.budget.push_back({v.source, std::abs(*moved - *value)});
    }
  }
  for (const HeightVariation& v : heights.variations) {
    if (const auto moved = pitch_of(outlines, pose.view, v.heights.rivets)) {
      q.budget.push_back({v.source, std::abs(*moved - *value)});
    }
  }
  return q;
}

std::vector<std::string> scale_warnings(const Quantity& pitch, const ProfileOutlines& outlines, const CardPose& pose,
                                        const Setup& setup) {
  if (!setup.chain.pitch_mm) return {};
  Disagreement d{};
  d.expected_mm = *setup.chain.pitch_mm;
  d.measured_mm = pitch.value;
  d.off_mm = pitch.value - d.expected_mm;
  d.u_mm = pitch.u();
  d.u_print_mm = share_of(pitch, [](Source s) { return s == Source::kPrint; });
  d.u_stand_off_mm = share_of(pitch, [](Source s) { return s == Source::kStandOff; });
  const double u_rest = setup.print.measured ? d.u_mm : share_of(pitch, [](Source s) { return s != Source::kPrint; });
  if (std::abs(d.off_mm) <= kWarningU * u_rest) return {};
  return {"pitch measured " + fixed(pitch.value, 3) + " +- " + fixed(kCoverage * d.u_mm, 3) + " mm, sheet says " +
          fixed(d.expected_mm, 3) + ": " + likely_cause(d, outlines, pose, setup)};
}

std::optional<std::string> narrowing_advice(const std::vector<CutterMeasurement>& cutters, const Setup& setup) {
  struct Remedy {
    Source source;
    bool open;
    const char* what;
  };
  const std::array<Remedy, 3> remedies{{
      {Source::kPrint, !setup.print.measured, "the print's check bars measured (--printed)"},
      {Source::kFocal, !setup.camera, "the camera learnt (glintline lens)"},
      {Source::kStandOff, !setup.stand_off, "the stand-off told (--standoff)"},
  }};
  std::string text;
  for (const Remedy& remedy : remedies) {
    if (!remedy.open) continue;
    std::vector<double> gains;
    for (const CutterMeasurement& cutter : cutters) {
      if (!cutter.length_mm || !(cutter.length_mm->u() > 0)) continue;
      const double share =
          share_of(*cutter.length_mm, [&](Source s) { return s == remedy.source; }) / cutter.length_mm->u();
      gains.push_back(1 - std::sqrt(std::max(0.0, 1 - share * share)));
    }
    if (gains.empty()) continue;
    // Steps so coarse that photographs of one bench say the same, and it is told once.
    const int percent = 10 * static_cast<int>(std::lround(10 * median(gains)));
    if (percent < 10) continue;
    text += (text.empty() ? "u95 of the lengths would be " : ", ") + std::to_string(percent) + " % smaller with " +
            remedy.what;
  }
  return text.empty() ? std::nullopt : std::optional(text);
}

}  // namespace glintline
