#include "accuracy/plan_edge_scene.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <random>

namespace glintline::testing {

namespace {

constexpr double kDegree = M_PI / 180;
constexpr double kFloorMm = -2.5;
constexpr int kSamples = 3;  ///< rays a pixel, each way

using Colour = Point3;  ///< blue, green, red, linear

/// Scene frame: x along the chain (running direction), y across, z up, mm; the edge starts at the origin.
struct Caster {
  const EdgeScene& scene;
  Point3 along;                  ///< the edge
  Point3 out;                    ///< square to it, level, ahead of the plate
  Point3 sight;                  ///< from the surface towards the camera
  std::vector<double> marks;     ///< slope of the grinding marks, by place across the chain
  std::vector<double> waviness;  ///< of the outline, mm, by place along the edge
  std::vector<Point3> flecks;    ///< x, y, radius
};

double value_at(const std::vector<double>& table, double where) {
  if (table.empty()) return 0;
  const double at = std::clamp(where, 0.0, static_cast<double>(table.size()) - 1.001);
  const auto k = static_cast<std::size_t>(at);
  return table[k] + (at - static_cast<double>(k)) * (table[k + 1] - table[k]);
}

/// Noise smoothed by a running mean of `width` entries.
std::vector<double> smooth_noise(std::mt19937_64& random, std::size_t count, double spread, int width) {
  std::normal_distribution<double> normal(0, spread * std::sqrt(width));
  std::vector<double> raw(count + width);
  for (double& v : raw) v = normal(random);
  std::vector<double> out(count, 0);
  for (std::size_t k = 0; k < count; ++k) {
    for (int m = 0; m < width; ++m) out[k] += raw[k + m] / width;
  }
  return out;
}

/// Soft disc of light round a direction: full inside `half`, gone 6 degrees further out (ground steel's gloss).
double disc(const Point3& direction, const Point3& towards, double half) {
  const double angle = std::acos(std::clamp(direction.dot(towards), -1.0, 1.0));
  return std::clamp(1 - (angle - half) / (6 * kDegree), 0.0, 1.0);
}

double floor_mm(const EdgeScene& scene) { return scene.slip_gap_mm > 0 ? -scene.slip_gap_mm : kFloorMm; }

/// Share of an even sky that lights a place of the floor: the plate is a half-plane over it, whose rim stands in the
/// angle b from the vertical; (1 + sin b) / 2 of the cosine-weighted sky is free.
double sky_share(const Caster& c, const Point3& at) {
  if (c.scene.slip_gap_mm <= 0) return 1;
  const double ahead = at.dot(c.out);
  return (1 + ahead / std::hypot(ahead, c.scene.slip_gap_mm)) / 2;
}

Colour floor_colour(const Caster& c, const Point3& at) {
  if (c.scene.slip) return sky_share(c, at) * Colour(0.45, 0.06, 0.012);
  // Links run along the chain: bands across it.
  const double band = std::sin(at.y() * 2.1 + 0.4);
  const double level = band > 0.3 ? 0.28 : (band > -0.4 ? 0.02 : 0.07);
  return level * Colour(1, 1, 1);
}

/// What comes from a direction, seen from the edge.
Colour surroundings(const Caster& c, const Point3& from, const Point3& direction) {
  if (direction.z() < -0.02) return floor_colour(c, from + (floor_mm(c.scene) / direction.z()) * direction);
  const auto lamp = [&](double elevation_deg, double sign) {
    const double e = elevation_deg * kDegree;
    return Point3(std::cos(e) * sign * c.out + std::sin(e) * Point3(0, 0, 1));
  };
  const double sky = 0.10 + 0.05 * direction.z();
  double light = 0;
  switch (c.scene.light) {
    case SceneLight::kWindow:
      light = 3.0 * disc(direction, lamp(32, 1), 34 * kDegree);
      break;
    case SceneLight::kLamp:
      light = 6.0 * disc(direction, lamp(c.scene.lamp_height_deg, 1), c.scene.lamp_half_deg * kDegree);
      break;
    case SceneLight::kBehind:
      light = 4.0 * disc(direction, lamp(60, -1), 12 * kDegree);
      break;
    case SceneLight::kOvercast:
      light = 0.45;
      break;
  }
  return (sky + c.scene.exposure * light) * Colour(1, 1, 1);
}

double gap_at(const EdgeScene& scene, double s) {
  double deepest = 0;
  for (const SceneGap& g : scene.gaps) {
    const double t = 2 * (s - g.at_mm) / g.width_mm;
    if (std::abs(t) < 1) deepest = std::max(deepest, g.depth_mm * std::sqrt(1 - t * t));
  }
  return deepest;
}

/// A hit on the plate: place, and the normal before roughness.
struct Hit {
  Point3 at;
  Point3 normal;
};

/// Where the ray through `p` (a place in the plane z = 0), coming along -sight, first meets the plate. The flat ends
/// where the cylinder touches it; the cylinder's axis lies r below and its foremost line is the section's end.
std::optional<Hit> meet_plate(const Caster& c, const Point3& p) {
  const double r = c.scene.radius_um / 1000;
  const double s = p.dot(c.along);
  const double recess = gap_at(c.scene, s) + value_at(c.waviness, s * c.scene.px_per_mm);
  const bool broken = gap_at(c.scene, s) > 0;
  const double radius = broken ? std::min(r, 0.008) : r;
  const double axis_x = -recess - radius;  // along `out`
  const double x = p.dot(c.out);
  if (x <= axis_x) return Hit{p, Point3(0, 0, 1)};
  // In the plane square to the edge: origin (x, 0), direction (dx, dz) of the ray downwards.
  const Eigen::Vector2d origin(x - axis_x, radius);
  const Eigen::Vector2d down(-c.sight.dot(c.out), -c.sight.z());
  const double a = down.squaredNorm();
  const double b = origin.dot(down);
  const double q = b * b - a * (origin.squaredNorm() - radius * radius);
  if (q < 0) return std::nullopt;
  const double t = (-b - std::sqrt(q)) / a;
  const Eigen::Vector2d hit = origin + t * down;
  return Hit{p - t * c.sight, Point3(hit.x() * c.out + hit.y() * Point3(0, 0, 1)) / radius};
}

Colour plate_colour(const Caster& c, const Hit& hit, std::mt19937_64& random) {
  for (const Point3& f : c.flecks) {
    if ((hit.at.head<2>() - f.head<2>()).norm() < f.z()) return Colour(0.06, 0.17, 0.32);
  }
  std::normal_distribution<double> rough(0, 0.03);
  // Grinding marks run along the chain: they tilt the normal across it.
  Point3 n = hit.normal + Point3(rough(random), value_at(c.marks, (hit.at.y() + 20) * 40) + rough(random), 0);
  n.normalize();
  const Point3 mirrored = 2 * n.dot(c.sight) * n - c.sight;
  return 0.55 * surroundings(c, hit.at, mirrored);
}

Colour cast(const Caster& c, const Point3& p, std::mt19937_64& random) {
  if (const auto hit = meet_plate(c, p)) return plate_colour(c, *hit, random);
  return floor_colour(c, p + (floor_mm(c.scene) / c.sight.z()) * c.sight);
}

uchar coded(double linear, double noise) {
  const double v = std::clamp(linear, 0.0, 1.0);
  const double s = v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;
  return cv::saturate_cast<uchar>(255 * s + noise);
}

Caster make_caster(const EdgeScene& scene, std::mt19937_64& random) {
  const double a = scene.angle_rad;
  Caster c{scene, Point3(-std::sin(a), std::cos(a), 0), Point3(std::cos(a), std::sin(a), 0), {}, {}, {}, {}};
  c.sight = std::sin(scene.lean_rad) * c.out + std::cos(scene.lean_rad) * Point3(0, 0, 1);
  c.marks = smooth_noise(random, 2000, scene.scratches, 2);
  const auto along = static_cast<std::size_t>(scene.edge_mm * scene.px_per_mm * 1.2) + 50;
  c.waviness =
      smooth_noise(random, along, scene.roughness_um / 1000, std::max(2, static_cast<int>(0.08 * scene.px_per_mm)));
  std::uniform_real_distribution<double> even(0, 1);
  const int count = static_cast<int>(scene.dirt * 400);
  for (int k = 0; k < count; ++k) {
    const Point3 at = even(random) * scene.edge_mm * c.along - even(random) * 2.5 * c.out;
    c.flecks.emplace_back(at.x(), at.y(), 0.04 + 0.12 * even(random));
  }
  return c;
}

}  // namespace

EdgePicture cast_edge(const EdgeScene& scene) {
  std::mt19937_64 random(scene.seed);
  const Caster c = make_caster(scene, random);
  const double behind_mm = 2.2;
  const double beyond_mm = 0.9;
  EdgePicture out;
  // Picture axes: x along the chain, y against the scene's (so that right-handed y up becomes y down).
  const double ppm = scene.px_per_mm;
  const double width =
      scene.edge_mm * std::sin(scene.angle_rad) + behind_mm / std::cos(scene.angle_rad) + beyond_mm * 2;
  const double height = scene.edge_mm * std::cos(scene.angle_rad);
  const cv::Size size(static_cast<int>(width * ppm), static_cast<int>(height * ppm));
  const Point2 corner(size.width - 1.6 * beyond_mm * ppm, 0);
  cv::Mat linear(size, CV_64FC3);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) {
      Colour sum(0, 0, 0);
      for (int k = 0; k < kSamples * kSamples; ++k) {
        const double u = i + (k % kSamples + 0.5) / kSamples - 0.5;
        const double v = j + (k / kSamples + 0.5) / kSamples - 0.5;
        sum += cast(c, Point3((u - corner.x()) / ppm, (v - corner.y()) / ppm, 0), random);
      }
      linear.at<cv::Vec3d>(j, i) = cv::Vec3d(sum.x(), sum.y(), sum.z()) / (kSamples * kSamples);
    }
  }
  cv::GaussianBlur(linear, linear, cv::Size(), scene.blur_px, scene.blur_px, cv::BORDER_REPLICATE);
  out.bgr = cv::Mat(size, CV_8UC3);
  std::normal_distribution<double> noise(0, scene.noise);
  for (int j = 0; j < size.height; ++j) {
    for (int i = 0; i < size.width; ++i) {
      for (int ch = 0; ch < 3; ++ch)
        out.bgr.at<cv::Vec3b>(j, i)[ch] = coded(linear.at<cv::Vec3d>(j, i)[ch], noise(random));
    }
  }
  out.frame.corner_px = corner;
  out.frame.along = Point2(c.along.x(), c.along.y());
  out.frame.ahead = Point2(1, 0);
  out.frame.length_px = scene.edge_mm * ppm - 4;
  out.frame.sine = std::cos(scene.angle_rad);
  return out;
}

}  // namespace glintline::testing
