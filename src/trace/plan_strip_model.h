#pragma once

#include <Eigen/Core>
#include <array>
#include <optional>

#include "model/plan_outlines.h"

namespace glintline {

/// The picture's response to a step: blur, and the camera's sharpening of it.
struct StepResponse {
  double sigma_px = 1;
  double sharpening = 0;  ///< share of a wider Gaussian that the camera subtracts

  /// 0 far before the step at `at`, 1 far beyond it.
  [[nodiscard]] double at(double n, double step) const;
};

/// Window of a profile around an assumed outline, which lies at n = 0; positive n is ground.
struct StripWindow {
  double behind_px = 0;
  double beyond_px = 0;
  int samples = 0;

  static constexpr double kStepPx = 0.5;
  [[nodiscard]] double n(int i) const { return i * kStepPx - behind_px; }
};

/// Levels of light at an edge, linear.
struct StripLevels {
  double scale = 1;         ///< brightest around: priors are shares of it
  double ground = 0.1;      ///< usual level of the ground
  double diffuse = 0;       ///< usual level of what the flat gives back without mirroring
  double noise = 0.01;      ///< fine-grained, of a profile's sample
  double flat_wave = 0.01;  ///< standard deviation of the flat's coarse-grained texture along a profile
  double ground_wave = 0.01;
};

/// Columns of the linear model: levels of the zones, then cosines by which flat and ground may wave, then the plate's
/// shade on the ground beside it. Shading and scratches are no strip: each surface may wave as strongly as it is seen
/// to wave where no strip can be. Shade at the edge's foot is none either: it looks like the slip's mirror image.
/// Normals at which the lit part's light is free, of equal angle from the flat's own, which is not one of them, to the
/// horizon; between them it changes evenly. A lamp reaches some normals and not others, and ground steel blurs its end.
inline constexpr int kLitNodes = 6;
enum StripColumn { kFlat, kLit, kMirror = kLit + kLitNodes, kGround, kStripLevels };
inline constexpr int kWaves = 3;
inline constexpr int kShade = 1;  ///< columns
inline constexpr int kStripColumns = kStripLevels + 2 * kWaves + kShade;
/// Rows of the priors, after the samples; only the first wants something other than zero.
inline constexpr int kStripPriors = 1 + kLitNodes + 2 * kWaves + kShade;

/// Samples half a pixel apart share the blur: of n samples about n / 4 are independent.
inline constexpr double kIndependentShare = 0.24;

/// What the mirror part is expected to show: about half of the light of the ground, and what the steel scatters there,
/// up to twice as much as the flat (Lambert: a lamp low ahead meets the flat aslant and the strip's end head-on). The
/// value that the first prior row wants, for a ground of level `ground` and a flat of level `flat`.
[[nodiscard]] double wanted_mirror(double ground, double flat, const StripLevels& levels);

/// How the light may lie on the lit part. A line of light is as well a narrow strip under an even light as a wider one
/// whose light swells and fades: no picture of a narrow strip tells which.
enum class LightShape {
  kSteady,  ///< as the nodes have it, the flat's at its beginning
  kEven,  ///< begins at once where the strip stops looking like the flat; pairs of nodes are then pieces of even light
};

/// Linear model of a rounding of `radius_px` whose outline lies at n = 0: rows are samples, then priors.
[[nodiscard]] Eigen::MatrixXd strip_design(const StripWindow& window, double radius_px, const StripModel& model,
                                           const StepResponse& response, const StripLevels& levels,
                                           LightShape shape = LightShape::kSteady);

/// A single step at n = `step`, flat to ground, with the same waves and rows: what is left without a strip.
[[nodiscard]] Eigen::MatrixXd plain_design(const StripWindow& window, double step, const StepResponse& response,
                                           const StripLevels& levels);

/// How far the lit part's levels stand out from flat and ground, in usual waves of those surfaces: over 1 it is a
/// strip of its own. Levels between those of flat and ground are no more than a soft step, which shading explains as
/// well; a dimmer ground is the slip's mirror image, whose inner end is no landmark.
struct Prominence {
  double bright = 0;  ///< brighter than flat and ground: a line of light
  double any = 0;     ///< or darker than both, or dark and bright in turn
};

/// in: solved levels, as StripColumn.
[[nodiscard]] Prominence prominence(const Eigen::VectorXd& solved, const StripLevels& levels, bool flat_flashes);

/// Light of the lit nodes over the flat's, as shares of the brightest of them; nothing where none is brighter.
using LitShares = std::array<double, kLitNodes>;
[[nodiscard]] std::optional<LitShares> lit_shares(const Eigen::VectorXd& solved);

/// Where the light of a strip begins and ends, half of it each; nothing while its end is not seen: it then lies at the
/// horizon or so near to it that the blur hides it.
[[nodiscard]] std::optional<LitBand> lit_band(const LitShares& shares, const StripModel& model);

}  // namespace glintline
