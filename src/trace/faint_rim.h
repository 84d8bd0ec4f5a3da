#pragma once

#include <vector>

#include "trace/rim_light.h"

namespace glintline {

/// A sharp step of light parallel to an outline, ahead of it.
struct StepAhead {
  double at = 0;       ///< samples inwards of the outline, so under 0
  double share = 0;    ///< by how much the field's light changes there, inwards, as a share of what it is before
  bool steel = false;  ///< what lies behind is steel by its light
};

/// The clearest step ahead of an outline that is as sharp as the picture: a rounded rim, or a top seen from above,
/// that mirrors the field. A penumbra is wider. Steel is told from a shadow by light of another colour than the
/// field's, or by being the brighter one. in: light across a straight stretch of outline, from as far ahead of it as is
/// looked; `blur`, samples; `smear`, samples by which the file carries colour out from an edge: nearer by, only
/// brightness counts. fails (nothing): no such step.
[[nodiscard]] std::optional<StepAhead> step_ahead(const RimLight& light, double blur, double smear);

/// The rim ahead of the outline of a straight top. One that mirrors the field is often too faint to be told in single
/// profiles, or in some of them only, and what was followed is where bare steel begins. Laid over each other along the
/// top, the profiles show it, as nothing but the rim runs parallel to the steel so sharply. in: `outline`, places from
/// rear to front; `reach`, samples ahead of it within which the rim lies. out: places on the rim, from rear to front.
/// fails (empty): less than half of the top's length shows one.
[[nodiscard]] std::vector<Point2> faint_rim(const CutterScene& s, const std::vector<Point2>& outline, double reach);

}  // namespace glintline
