#pragma once

#include <array>
#include <filesystem>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "math/geometry.h"

namespace glintline::testing {

/// Reads printed sheets back by programs and libraries that had no part in drawing them: Poppler's tools
/// (poppler-utils) and the AprilTag library. Everything here throws std::runtime_error where a tool fails.

/// A part of a sheet, mm from its top-left corner.
struct Region {
  double x = 0;
  double y = 0;
  double width = 0;
  double height = 0;
};

/// A piece of a rasterised sheet. Points of the sheet lie at mm * px_per_mm - offset_px in corner-based pixels (the
/// picture's top-left corner, not a pixel's centre, is 0, 0).
struct Raster {
  cv::Mat grey;  ///< CV_8UC1
  double px_per_mm = 0;
  Point2 offset_px = Point2::Zero();

  [[nodiscard]] Point2 px(const Point2& sheet_mm) const { return px_per_mm * sheet_mm - offset_px; }
  [[nodiscard]] Point2 mm(const Point2& corner_based_px) const { return (corner_based_px + offset_px) / px_per_mm; }
};

/// Poppler's own rasteriser (Splash, not cairo), one page.
[[nodiscard]] Raster rasterised(const std::filesystem::path& pdf, double dpi, const Region& region);

struct SheetPng {
  Raster raster;
  unsigned px_per_metre = 0;  ///< as written in the file
};
[[nodiscard]] SheetPng read_png(const std::filesystem::path& png);

/// Page size in mm, by pdfinfo, which prints it to 0.001 pt.
[[nodiscard]] Point2 page_size_mm(const std::filesystem::path& pdf);

/// Axis-parallel black boxes of the sheet, by pdftocairo: mm.
[[nodiscard]] std::vector<Region> black_boxes(const std::filesystem::path& pdf);

struct Word {
  std::string text;
  Region box;
};
/// By pdftotext: mm.
[[nodiscard]] std::vector<Word> words(const std::filesystem::path& pdf);

struct FoundTag {
  int id = 0;
  int wrong_bits = 0;
  std::array<Point2, 4> corners_mm;  ///< in the library's order
};
/// Markers of AprilTag 36h11 by the AprilTag library.
[[nodiscard]] std::vector<FoundTag> april_tags(const Raster& raster);

}  // namespace glintline::testing
