#include "read/camera_file.h"

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/core/persistence.hpp>
#include <string>

#include "read/file_bytes.h"

namespace glintline {

namespace {

constexpr double kUsualFocalU = 0.01;
constexpr double kUsualCentreU = 0.005;

Error bad(const std::filesystem::path& path, const std::string& what) {
  return {Fault::kBadOption, what, path.string()};
}

/// The matrix as doubles, empty where absent or not of numbers.
cv::Mat numbers_at(const cv::FileStorage& file, const char* key) {
  const cv::FileNode node = file[key];
  cv::Mat stored;
  if (node.isMap()) node >> stored;
  cv::Mat numbers;
  if (!stored.empty() && stored.channels() == 1) stored.convertTo(numbers, CV_64F);
  return numbers;
}

double number_at(const cv::FileStorage& file, const char* key, double absent) {
  const cv::FileNode node = file[key];
  return node.isInt() || node.isReal() ? node.real() : absent;
}

/// What is wrong with the matrix as that of a camera for pictures of this size; empty if nothing.
std::string objection(const cv::Mat& k, int width, int height) {
  if (k.rows != 3 || k.cols != 3) return "camera_matrix must be 3 x 3 numbers";
  const double fx = k.at<double>(0, 0);
  const double fy = k.at<double>(1, 1);
  // Fish eyes to long lenses: 0.2 to 50 picture widths.
  const double larger = std::max(width, height);
  if (!(fx > 0.2 * larger && fx < 50 * larger))
    return "camera_matrix: a focal length of 0.2 to 50 picture widths is needed, in pixels";
  if (!(std::abs(fy / fx - 1) < 0.1)) return "camera_matrix: fx and fy differ by more than 10 %";
  if (!(std::abs(k.at<double>(0, 1)) < 1e-3 * fx && k.at<double>(1, 0) == 0 && k.at<double>(2, 0) == 0 &&
        k.at<double>(2, 1) == 0 && k.at<double>(2, 2) == 1)) {
    return "camera_matrix must read fx 0 cx, 0 fy cy, 0 0 1";
  }
  const double cx = k.at<double>(0, 2);
  const double cy = k.at<double>(1, 2);
  if (!(cx > 0 && cx < width && cy > 0 && cy < height)) {
    return "camera_matrix: the principal point lies outside the picture: is it for another picture size?";
  }
  return {};
}

Result<CameraFile> camera_of(const cv::FileStorage& file, const std::filesystem::path& path) {
  CameraFile result;
  const double width = number_at(file, "image_width", 0);
  const double height = number_at(file, "image_height", 0);
  if (!(width >= 100 && width <= 50000 && height >= 100 && height <= 50000)) {
    return bad(path,
               "image_width and image_height are needed, 100 to 50000 pixels: the size of the pictures it is for");
  }
  result.width = static_cast<int>(width);
  result.height = static_cast<int>(height);
  const cv::Mat k = numbers_at(file, "camera_matrix");
  if (std::string what = objection(k, result.width, result.height); !what.empty()) return bad(path, what);
  Camera& camera = result.camera;
  camera.fx = k.at<double>(0, 0);
  camera.fy = k.at<double>(1, 1);
  camera.cx = k.at<double>(0, 2);
  camera.cy = k.at<double>(1, 2);
  camera.source = FocalSource::kCameraFile;
  camera.u_focal_rel = number_at(file, "u_focal_rel", kUsualFocalU);
  camera.u_centre_px = number_at(file, "u_centre_px", kUsualCentreU * width);
  if (!(camera.u_focal_rel >= 0 && camera.u_focal_rel <= 0.5))
    return bad(path, "u_focal_rel must be a share from 0 to 0.5");
  if (!(camera.u_centre_px >= 0 && camera.u_centre_px <= width))
    return bad(path, "u_centre_px must be 0 or more pixels");

  const cv::Mat d = numbers_at(file, "distortion_coefficients");
  if (d.empty() && !file["distortion_coefficients"].empty())
    return bad(path, "distortion_coefficients must be a matrix");
  const std::size_t count = d.total();
  for (std::size_t i = 0; i < count; ++i) {
    const double value = d.at<double>(static_cast<int>(i));
    if (!(std::abs(value) < 10)) return bad(path, "distortion_coefficients: larger than any lens has");
    if (i < camera.distortion.size()) {
      camera.distortion[i] = value;
    } else if (value != 0) {
      return bad(path, "distortion_coefficients: calibrate with k1 k2 p1 p2 k3 alone, more are not supported");
    }
  }
  return result;
}

}  // namespace

Result<CameraFile> read_camera_file(const std::filesystem::path& path) {
  const Result<std::vector<std::uint8_t>> bytes = read_bytes(path);
  if (!bytes) return Error{bytes.error().fault, bytes.error().what, path.string()};
  if (bytes->size() > (1U << 20)) return bad(path, "larger than 1 MB: that is no camera file");
  if (bytes->empty()) return bad(path, "an empty file is no camera file");
  try {
    const std::string text(bytes->begin(), bytes->end());
    const cv::FileStorage file(text, cv::FileStorage::READ | cv::FileStorage::MEMORY);
    if (!file.isOpened()) return bad(path, "not readable as an OpenCV camera file: a first line %YAML:1.0 is needed");
    return camera_of(file, path);
  } catch (const cv::Exception& e) {
    return bad(path, "not readable as an OpenCV camera file: " + std::string(e.err));
  }
}

}  // namespace glintline
