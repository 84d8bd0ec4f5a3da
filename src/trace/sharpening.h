#pragma once

#include <Eigen/Core>
#include <map>
#include <opencv2/core/mat.hpp>
#include <vector>

namespace glintline {

/// A camera's own sharpening, taken as an unsharp mask on encoded levels: out = in + amount (in - blurred(in)).
struct Sharpening {
  double amount = 0;
  double sigma_px = 1.4;  ///< of the mask's blur; cameras use one to two pixels (by experience)
};

/// The amount that makes a black-white edge of the given blur (linear light, px) overshoot by `overshoot`, a share of
/// the step in encoded levels. Between 0 and 1.5; more is not believed.
[[nodiscard]] Sharpening sharpening_of(double blur_px, double overshoot);

/// Takes a sharpening back out of profiles of encoded levels across a straight edge: solves
/// in = (out + amount blurred(in)) / (1 + amount) by fixed point; the factor amount / (1 + amount) < 1 contracts. Levels
/// go on beyond a profile's ends as they are there. Not to be shared between threads.
class ProfileFilter {
 public:
  /// Of profiles whose samples lie `px_per_sample` apart.
  ProfileFilter(const Sharpening& sharpening, double px_per_sample);

  void take_out(std::vector<double>& levels) const;

 private:
  [[nodiscard]] Eigen::MatrixXd rounds(std::size_t samples) const;

  double share_ = 0;            ///< amount / (1 + amount)
  std::vector<double> kernel_;  ///< of the mask's blur, [0] in the middle
  mutable std::map<std::size_t, Eigen::MatrixXd> by_length_;  ///< what all rounds make of a profile
};

/// The same for a picture of encoded levels, CV_8UC3: what it was in linear light before the camera sharpened it,
/// CV_32FC3. Cameras sharpen brightness and leave colour alone (by experience): all channels got the halo of the
/// brightness. Clipped levels stay as they are.
[[nodiscard]] cv::Mat linear_unsharpened(const cv::Mat& bgr, const Sharpening& sharpening);

}  // namespace glintline
