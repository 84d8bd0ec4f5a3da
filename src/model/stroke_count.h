#pragma once

#include <string>

namespace glintline {

/// What a counted number of file strokes took off one cutter.
struct StrokeCount {
  std::string chain;
  int cutter = 0;
  double strokes = 0;
  double bevel_mm = 0;  ///< how far the bevel went back along the chain, the worn-off tip included
  double u_mm = 0;      ///< standard uncertainty of bevel_mm
};

}  // namespace glintline
