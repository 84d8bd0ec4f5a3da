#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>

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

}  // namespace glintline
