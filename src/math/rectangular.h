#pragma once

namespace glintline {

/// Standard uncertainty of a value that lies anywhere within a half-width alike, over that half-width: 1 / sqrt(3)
/// (JCGM 100:2008, 4.3.7).
inline constexpr double kRectangular = 0.57735026918962573;

}  // namespace glintline
