#pragma once

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

/// Takes the sharpening back out of a profile of encoded levels across a straight edge, `px_per_sample` apart: solves
/// in = (out + amount blurred(in)) / (1 + amount) by fixed point; the factor amount / (1 + amount) < 1 contracts.
void take_out(const Sharpening& sharpening, double px_per_sample, std::vector<double>& levels);

/// The same for a picture of encoded levels, CV_8UC3: what it was in linear light before the camera sharpened it,
/// CV_32FC3. Cameras sharpen brightness and leave colour alone (by experience): all channels got the halo of the
/// brightness. Clipped levels stay as they are.
[[nodiscard]] cv::Mat linear_unsharpened(const cv::Mat& bgr, const Sharpening& sharpening);

}  // namespace glintline
