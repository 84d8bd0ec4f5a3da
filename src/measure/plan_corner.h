#pragma once

#include <optional>
#include <vector>

namespace glintline {

/// A place of the cutting edge's outline in the chain's directions.
struct CornerPlace {
  double in_mm = 0;      ///< across the chain, from the outer side inwards
  double ahead_mm = 0;   ///< along the chain
  double behind_mm = 0;  ///< behind the edge's line, square to it
  double alike_mm = 0;   ///< how far behind ahead_mm the light stops being that of the plate straight behind
};

/// How well the slope of an outline's tangent is known.
constexpr double kUTangent = 0.1;

/// Where a top plate's own outline is lost on its way to the working corner.
struct OutlineEnd {
  double in_mm = 0;     ///< across the chain, from the outer side inwards: outline nearer to the side is lower metal's
  double strip_mm = 0;  ///< the plate's outline lies so far ahead of where its light ends: its rounding
  /// The light does not tell: the outline beyond may be the plate's own all the same.
  bool doubtful = false;
  /// The outline is not seen beyond, and had left the edge's line before: the bend of a rounded corner goes on unseen.
  bool lost = false;
  double bend_mm = 0;  ///< of a lost bend: across the chain, from the outer side inwards, where it begins
  double ahead_mm = 0;  ///< where along the chain the plate's outline ends
  double rise = 0;  ///< how far the outline before it runs ahead per way towards the side: convex, no farther beyond
};

/// Metal that lies lower and further ahead, the gullet's floor or the side plate's front, shows beside a rounded corner
/// and passes for the plate. It gives itself away twice: the outline, which bends away from the edge's line round the
/// corner, turns ahead again; and along the chain the light changes well before it, because the plate's bend is a
/// cylinder along the chain that looks alike straight behind its outline. Either alone proves nothing: a bend cut down
/// to the height of the file's axis turns ahead by itself, and dirt and rounding change the light.
///
/// Method: medians of every 0.1 mm across the chain, from the straight part outwards; their upper convex hull; the end
/// is where the following medians lie ahead of the hull's tangent. What comes back to the edge's line, the plate's
/// light ending evenly beside it, is the edge beyond a chip. A turn ahead in the last 0.3 mm that the light does not
/// tell of is doubtful: at the height of the file's axis a bend may turn so, and so does a sliver of what lies below.
/// in: seen places, any order; `mm_per_px`. out: nothing where the outline is the plate's all the way.
[[nodiscard]] std::optional<OutlineEnd> outline_end(const std::vector<CornerPlace>& outline, double mm_per_px);

/// Where the bend of a rounded corner is lost: the outline leaves the edge's line little by little, as no chip's wall
/// does, and then is not seen up to the side, or only in scraps that lie on the line or ahead of it (a pattern of lower
/// metal where the line was followed), or behind a stretch without outline where the plate's light ends well before it.
/// A bend never comes back to the line by itself; where what lies beyond is on the line and seen throughout, it is the
/// edge beyond a chip.
/// in: as above. out: nothing where no bend is lost.
[[nodiscard]] std::optional<OutlineEnd> lost_bend(const std::vector<CornerPlace>& outline, double mm_per_px);

}  // namespace glintline
