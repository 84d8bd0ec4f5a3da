#include "sheet_probe.h"

#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>
#include <png.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <memory>
#include <sstream>
#include <stdexcept>

namespace glintline::testing {
namespace {

constexpr double kMmPerPoint = 25.4 / 72;

/// What a command prints.
std::string output_of(const std::string& command) {
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), &pclose);
  if (!pipe) throw std::runtime_error("cannot run " + command);
  std::string all;
  std::array<char, 65536> piece{};
  while (const size_t got = fread(piece.data(), 1, piece.size(), pipe.get())) all.append(piece.data(), got);
  if (all.empty()) throw std::runtime_error("nothing from: " + command + " (is poppler-utils installed?)");
  return all;
}

std::string quoted(const std::filesystem::path& path) {
  return std::string(1, '\'').append(path.string()).append(1, '\'');
}

cv::Mat parsed_pgm(const std::string& bytes) {
  std::istringstream in(bytes);
  std::string magic;
  int width = 0;
  int height = 0;
  int top = 0;
  in >> magic >> width >> height >> top;
  in.get();
  if (magic != "P5" || top != 255) throw std::runtime_error("not a PGM: " + magic);
  cv::Mat grey(height, width, CV_8UC1);
  in.read(grey.ptr<char>(), static_cast<std::streamsize>(grey.total()));
  if (!in) throw std::runtime_error("PGM too short");
  return grey;
}

/// Numbers of "M x y L x y L x y L x y Z": one closed four-sided path, as pdftocairo writes it.
std::vector<Region> boxes_of_path(const std::string& path) {
  std::vector<Region> boxes;
  std::istringstream in(path);
  std::vector<Point2> corners;
  for (std::string word; in >> word;) {
    if (word == "Z") {
      if (corners.size() == 4) {
        const Point2 low = corners[0].cwiseMin(corners[2]);
        const Point2 size = corners[0].cwiseMax(corners[2]) - low;
        boxes.push_back({low.x(), low.y(), size.x(), size.y()});
      }
      corners.clear();
      continue;
    }
    if (word != "M" && word != "L") return {};  // a curve
    if (word == "M") corners.clear();
    double x = 0;
    double y = 0;
    in >> x >> y;
    corners.emplace_back(x * kMmPerPoint, y * kMmPerPoint);
  }
  return boxes;
}

}  // namespace

Raster rasterised(const std::filesystem::path& pdf, double dpi, const Region& region) {
  Raster raster;
  raster.px_per_mm = dpi / 25.4;
  const auto px = [&](double mm) { return std::lround(mm * raster.px_per_mm); };
  raster.offset_px = Point2(static_cast<double>(px(region.x)), static_cast<double>(px(region.y)));
  std::ostringstream command;
  command << "pdftoppm -gray -r " << dpi << " -x " << px(region.x) << " -y " << px(region.y) << " -W "
          << px(region.width) << " -H " << px(region.height) << " " << quoted(pdf);
  raster.grey = parsed_pgm(output_of(command.str()));
  return raster;
}

SheetPng read_png(const std::filesystem::path& png) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_file(&image, png.c_str()) == 0) throw std::runtime_error(image.message);
  image.format = PNG_FORMAT_RGB;
  cv::Mat rgb(static_cast<int>(image.height), static_cast<int>(image.width), CV_8UC3);
  if (png_image_finish_read(&image, nullptr, rgb.data, 0, nullptr) == 0) throw std::runtime_error(image.message);
  SheetPng sheet;
  cv::extractChannel(rgb, sheet.raster.grey, 1);

  std::ifstream file(png, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(file), {}};
  const size_t at = bytes.find("pHYs");
  if (at == std::string::npos) throw std::runtime_error("no pHYs chunk");
  for (size_t i = 4; i < 8; ++i)
    sheet.px_per_metre = sheet.px_per_metre << 8 | static_cast<unsigned char>(bytes[at + i]);
  sheet.raster.px_per_mm = sheet.px_per_metre / 1000.0;
  return sheet;
}

Point2 page_size_mm(const std::filesystem::path& pdf) {
  const std::string info = output_of("pdfinfo " + quoted(pdf));
  double width_pt = 0;
  double height_pt = 0;
  const size_t at = info.find("Page size:");
  if (at == std::string::npos || std::sscanf(info.c_str() + at, "Page size: %lf x %lf", &width_pt, &height_pt) != 2) {
    throw std::runtime_error("no page size in " + info);
  }
  return Point2(width_pt, height_pt) * kMmPerPoint;
}

std::vector<Region> black_boxes(const std::filesystem::path& pdf) {
  const std::string svg = output_of("pdftocairo -svg -noshrink -nocenter " + quoted(pdf) + " -");
  std::vector<Region> boxes;
  for (size_t at = svg.find("<path"); at != std::string::npos; at = svg.find("<path", at + 1)) {
    const std::string tag = svg.substr(at, svg.find("/>", at) - at);
    if (tag.find("stroke:none") == std::string::npos || tag.find("fill:rgb(0%,0%,0%)") == std::string::npos) continue;
    const size_t data = tag.find(" d=\"") + 4;
    const auto found = boxes_of_path(tag.substr(data, tag.find('"', data) - data));
    boxes.insert(boxes.end(), found.begin(), found.end());
  }
  return boxes;
}

std::vector<Word> words(const std::filesystem::path& pdf) {
  const std::string html = output_of("pdftotext -bbox " + quoted(pdf) + " -");
  std::istringstream lines(html);
  std::vector<Word> found;
  for (std::string line; std::getline(lines, line);) {
    double x0 = 0;
    double y0 = 0;
    double x1 = 0;
    double y1 = 0;
    const char* pattern = " <word xMin=\"%lf\" yMin=\"%lf\" xMax=\"%lf\" yMax=\"%lf\">";
    if (std::sscanf(line.c_str(), pattern, &x0, &y0, &x1, &y1) != 4) continue;
    const size_t first = line.find('>') + 1;
    const std::string text = line.substr(first, line.find("</word>") - first);
    found.push_back({text, {x0 * kMmPerPoint, y0 * kMmPerPoint, (x1 - x0) * kMmPerPoint, (y1 - y0) * kMmPerPoint}});
  }
  return found;
}

std::vector<FoundTag> april_tags(const Raster& raster) {
  const std::unique_ptr<apriltag_family_t, void (*)(apriltag_family_t*)> family(tag36h11_create(), &tag36h11_destroy);
  const std::unique_ptr<apriltag_detector_t, void (*)(apriltag_detector_t*)> detector(apriltag_detector_create(),
                                                                                      &apriltag_detector_destroy);
  apriltag_detector_add_family(detector.get(), family.get());
  detector->quad_decimate = 1;
  cv::Mat grey = raster.grey.clone();
  image_u8_t picture{grey.cols, grey.rows, static_cast<int32_t>(grey.step), grey.data};
  zarray_t* detections = apriltag_detector_detect(detector.get(), &picture);
  std::vector<FoundTag> found;
  for (int i = 0; i < zarray_size(detections); ++i) {
    apriltag_detection_t* tag = nullptr;
    zarray_get(detections, i, &tag);
    FoundTag one{tag->id, tag->hamming, {}};
    for (size_t c = 0; c < 4; ++c) one.corners_mm[c] = raster.mm({tag->p[c][0], tag->p[c][1]});
    found.push_back(one);
  }
  apriltag_detections_destroy(detections);
  apriltag_detector_remove_family(detector.get(), family.get());
  return found;
}

}  // namespace glintline::testing
