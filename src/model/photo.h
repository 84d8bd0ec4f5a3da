#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>

namespace glintline {

/// What the camera wrote beside the picture. Absent or senseless entries are nullopt or empty.
struct Exif {
  int orientation = 1;                 ///< as stored, 1 to 8; the pixels of Photo have it applied already
  std::optional<double> focal_mm;      ///< real focal length
  std::optional<double> focal_35mm;    ///< 35 mm equivalent (by the diagonal: 43.27 mm)
  std::string camera;                  ///< make and model, for matching a camera file
  std::string taken_at;                ///< "2026:05:01 10:20:30", local time as written
};

/// A photograph, upright. Never changed after reading; stages look at it through const references.
struct Photo {
  std::string path;
  std::string sha256;  ///< of the file's bytes, lower-case hexadecimal
  cv::Mat bgr;         ///< CV_8UC3, sRGB, EXIF orientation applied
  Exif exif;
  /// Pixels between stored samples of colour, across and down: 1, or 2 where a JPEG stores colour more coarsely.
  cv::Size colour_step{1, 1};
  /// About, on libjpeg's scale: 1 keeps hardly anything, 100 all. 100 where the file is no JPEG.
  int jpeg_quality = 100;
  std::string colour_profile;  ///< name of an embedded profile clearly unlike sRGB ("Display P3"); the pixels are in it

  /// Size before the orientation was applied: a camera file speaks of the stored picture.
  [[nodiscard]] cv::Size stored_size() const {
    return exif.orientation >= 5 ? cv::Size(bgr.rows, bgr.cols) : bgr.size();
  }
};

}  // namespace glintline
