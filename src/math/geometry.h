#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <cmath>
#include <optional>

namespace glintline {

using Point2 = Eigen::Vector2d;
using Point3 = Eigen::Vector3d;

/// A rigid motion `b_from_a`: x_in_b = rotation * x_in_a + translation.
struct Pose {
  Eigen::Matrix3d rotation = Eigen::Matrix3d::Identity();
  Point3 translation = Point3::Zero();

  [[nodiscard]] Point3 operator*(const Point3& x_in_a) const { return rotation * x_in_a + translation; }
  [[nodiscard]] Pose inverse() const { return {rotation.transpose(), -(rotation.transpose() * translation)}; }
};

/// Left-hand normal of a direction in a frame with x right and y down: turns (1, 0) into (0, 1).
[[nodiscard]] inline Point2 turned_quarter(const Point2& v) { return {-v.y(), v.x()}; }

/// A directed straight line; `direction` has unit length.
struct Line2 {
  Point2 point = Point2::Zero();
  Point2 direction = Point2::UnitX();

  /// Signed distance of `p`, positive on the side of turned_quarter(direction).
  [[nodiscard]] double distance(const Point2& p) const { return (p - point).dot(turned_quarter(direction)); }
  /// How far the foot of `p` lies from `point`, along `direction`.
  [[nodiscard]] double along(const Point2& p) const { return (p - point).dot(direction); }
  [[nodiscard]] Point2 at(double along) const { return point + along * direction; }
  [[nodiscard]] Point2 foot(const Point2& p) const { return at(along(p)); }
};

/// Where two lines cross; nothing for parallel ones (sine of the angle under 1e-9).
[[nodiscard]] inline std::optional<Point2> crossing(const Line2& a, const Line2& b) {
  const double sine = turned_quarter(a.direction).dot(b.direction);
  if (!(std::abs(sine) > 1e-9)) return std::nullopt;
  return b.at(-a.distance(b.point) / sine);
}

struct Circle {
  Point2 centre = Point2::Zero();
  double radius = 0;

  /// Signed distance of `p`, positive outside.
  [[nodiscard]] double distance(const Point2& p) const { return (p - centre).norm() - radius; }
};

}  // namespace glintline
