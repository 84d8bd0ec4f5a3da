#include <algorithm>
#include <cctype>
#include <cmath>
#include <filesystem>
#include <opencv2/core.hpp>
#include <opencv2/core/persistence.hpp>

#include "base/text.h"
#include "model/quantity.h"
#include "report/lens_report.h"
#include "report/text_layout.h"

namespace glintline {
namespace {

constexpr double kDegree = M_PI / 180;

std::string name_of(const LensPhoto& photo) { return printable(std::filesystem::path(photo.path).filename().string()); }

double u95(const LensCalibration& lens, LensParameter k) { return kCoverage * std::sqrt(lens.covariance(k, k)); }

std::string with_u95(double value, double u95, int decimals) {
  return fixed(value, decimals) + " +- " + fixed(u95, decimals);
}

int kept(const LensPhoto& photo) {
  return static_cast<int>(
      std::count_if(photo.misses.begin(), photo.misses.end(), [](const LensMiss& m) { return m.weight > 0; }));
}

std::string photo_line(const LensPhoto& photo, int width, bool settled) {
  const std::string name = padded(name_of(photo), width);
  if (photo.left_out) return name + "  left out: " + printable(*photo.left_out) + "\n";
  if (!settled) return name + "  could be used\n";
  return name + "  " + padded(std::to_string(kept(photo)), 4, true) + " crossings, " + fixed(photo.rms_px, 2) +
         " px rms, tilt " + fixed(photo.tilt_rad / kDegree, 0) + " deg\n";
}

void write_photos(cv::FileStorage& file, const LensCalibration& lens) {
  file << "photographs"
       << "[";
  for (const LensPhoto& photo : lens.photos) {
    file << "{"
         << "file" << ascii(name_of(photo));
    if (photo.left_out) {
      file << "left_out" << ascii(*photo.left_out);
    } else {
      file << "crossings" << kept(photo) << "rms_px" << photo.rms_px << "tilt_deg" << photo.tilt_rad / kDegree;
    }
    file << "}";
  }
  file << "]";
}

}  // namespace

std::string camera_yaml(const LensCalibration& lens) {
  cv::FileStorage file("camera.yml", cv::FileStorage::WRITE | cv::FileStorage::MEMORY | cv::FileStorage::FORMAT_YAML);
  const Camera& c = lens.camera;
  file << "camera" << ascii(printable(lens.camera_name));
  file << "image_width" << lens.width << "image_height" << lens.height;
  file << "camera_matrix" << cv::Mat(cv::Matx33d(c.fx, 0, c.cx, 0, c.fy, c.cy, 0, 0, 1));
  file << "distortion_coefficients" << cv::Mat(1, 5, CV_64F, const_cast<double*>(c.distortion.data()));
  file << "avg_reprojection_error" << lens.rms_px;
  file.writeComment("Standard uncertainties: of the focal length as a share, of the principal point in pixels.");
  file << "u_focal_rel" << c.u_focal_rel << "u_centre_px" << c.u_centre_px;
  file << "covariance_of"
       << "fx fy cx cy k1 k2 p1 p2 k3";
  cv::Mat covariance(kLensParameters, kLensParameters, CV_64F);
  for (int i = 0; i < kLensParameters; ++i) {
    for (int j = 0; j < kLensParameters; ++j) covariance.at<double>(i, j) = lens.covariance(i, j);
  }
  file << "covariance" << covariance;
  write_photos(file, lens);
  return file.releaseAndGetString();
}

std::string lens_text(const LensCalibration& lens) {
  int width = 0;
  for (const LensPhoto& photo : lens.photos) width = std::max(width, display_width(name_of(photo)));
  std::string text;
  for (const LensPhoto& photo : lens.photos) text += photo_line(photo, width, lens.covered > 0);
  if (lens.refusal) return text + "\nNo camera learnt: " + printable(lens.refusal->what) + ".\n";
  const Camera& c = lens.camera;
  text += "\nfocal length  " + with_u95(c.fx, u95(lens, kLensFx), 1) + " px (" +
          fixed(100 * kCoverage * c.u_focal_rel, 2) + " %)\n";
  text += "centre        " + with_u95(c.cx, u95(lens, kLensCx), 1) + ", " + with_u95(c.cy, u95(lens, kLensCy), 1) +
          " px of " + std::to_string(lens.width) + " x " + std::to_string(lens.height) + "\n";
  text += "distortion    k1 " + with_u95(c.distortion[0], u95(lens, kLensK1), 3) + ", k2 " +
          with_u95(c.distortion[1], u95(lens, kLensK2), 3) + ", k3 " +
          with_u95(c.distortion[4], u95(lens, kLensK3), 3) + "\n";
  text += "misses        " + fixed(lens.rms_px, 2) + " px rms; crossings in " + fixed(100 * lens.covered, 0) +
          " % of the picture\n";
  for (const std::string& warning : lens.warnings) text += "Note: " + printable(warning) + ".\n";
  return text;
}

std::string camera_file_stem(const LensCalibration& lens) {
  std::string stem;
  for (const char c : lens.camera_name) {
    if (std::isalnum(static_cast<unsigned char>(c)) != 0 && static_cast<unsigned char>(c) < 0x80) {
      stem += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    } else if (!stem.empty() && stem.back() != '-') {
      stem += '-';
    }
  }
  while (!stem.empty() && stem.back() == '-') stem.pop_back();
  return stem.empty() ? "camera" : stem;
}

}  // namespace glintline
