#include "support/board_render.h"

#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace glintline::testing {

namespace {

enum Surface : int { kBlackInk, kPaper, kFieldInk, kTable, kFirstCover };

Point2 lens(const Point2& p, const std::array<double, 5>& d) {
  const double r2 = p.squaredNorm();
  const double radial = 1 + d[0] * r2 + d[1] * r2 * r2 + d[4] * r2 * r2 * r2;
  return {p.x() * radial + 2 * d[2] * p.x() * p.y() + d[3] * (r2 + 2 * p.x() * p.x()),
          p.y() * radial + d[2] * (r2 + 2 * p.y() * p.y()) + 2 * d[3] * p.x() * p.y()};
}

// Newton with a numeric derivative: slow and sure.
Point2 through_lens(const Point2& wanted, const std::array<double, 5>& d) {
  Point2 p = wanted;
  constexpr double kStep = 1e-6;
  for (int i = 0; i < 4; ++i) {
    const Point2 miss = wanted - lens(p, d);
    Eigen::Matrix2d slope;
    slope.col(0) = (lens(p + Point2(kStep, 0), d) - lens(p - Point2(kStep, 0), d)) / (2 * kStep);
    slope.col(1) = (lens(p + Point2(0, kStep), d) - lens(p - Point2(0, kStep), d)) / (2 * kStep);
    p += slope.inverse() * miss;
  }
  return p;
}

class Caster {
 public:
  explicit Caster(const BoardScene& scene)
      : s_(scene),
        to_board_(scene.view.camera_from_board.rotation.transpose()),
        eye_(-to_board_ * scene.view.camera_from_board.translation) {
    for (int row = 0; row < kCardRows; ++row) {
      for (int column = 0; column < kCardColumns; ++column) {
        if (CardLayout::square(column, row) == SquareKind::kMarker) {
          modules_[row][column] = marker_modules(*s_.layout.marker_id(column, row));
        }
      }
    }
    for (const LooseTag& tag : s_.tags) tag_modules_.push_back(marker_modules(kTagIdBase + tag.number));
  }

  /// Nominal board point that a pixel sees.
  [[nodiscard]] Point2 board_point(const Point2& px) const {
    const Camera& c = s_.view.camera;
    const Point2 d = through_lens({(px.x() - c.cx) / c.fx, (px.y() - c.cy) / c.fy}, c.distortion);
    const Point3 ray = to_board_ * Point3(d.x(), d.y(), 1);
    double z = 0;
    Point2 at = Point2::Zero();
    for (int i = 0; i < 5; ++i) {
      at = (eye_ + ray * ((z - eye_.z()) / ray.z())).head<2>();
      at = {at.x() / s_.print_x, at.y() / s_.print_y};
      const double u = 2 * at.x() / s_.layout.width_mm() - 1;
      const double v = 2 * at.y() / s_.layout.height_mm() - 1;
      z = -(s_.bow_x_mm * u * u + s_.bow_y_mm * v * v);
      if (s_.bow_x_mm == 0 && s_.bow_y_mm == 0) break;
    }
    return at;
  }

  [[nodiscard]] int surface(const Point2& mm) const {
    for (std::size_t i = 0; i < s_.covers.size(); ++i) {
      if (inside(mm, s_.covers[i])) return kFirstCover + static_cast<int>(i);
    }
    for (std::size_t i = 0; i < s_.tags.size(); ++i) {
      if (const int tag = tag_surface(mm - s_.tags[i].centre_mm, tag_modules_[i]); tag >= 0) return tag;
    }
    const double q = s_.layout.square_mm();
    if (mm.x() < -q || mm.y() < -q || mm.x() > s_.layout.width_mm() + q || mm.y() > s_.layout.height_mm() + q) {
      return kTable;
    }
    const double e = s_.ink_spread_mm;
    if (ink(mm)) return kBlackInk;
    if (e > 0 &&
        (ink(mm + Point2(e, e)) || ink(mm + Point2(-e, e)) || ink(mm + Point2(e, -e)) || ink(mm + Point2(-e, -e)))) {
      return kBlackInk;
    }
    return in_field(mm) ? kFieldInk : kPaper;
  }

  [[nodiscard]] cv::Vec3d colour(int surface) const {
    switch (surface) {
      case kBlackInk:
        return cv::Vec3d::all(s_.black);
      case kPaper:
        return cv::Vec3d::all(s_.white);
      case kFieldInk:
        return s_.field;
      case kTable:
        return {0.6 * s_.table, 0.9 * s_.table, 1.2 * s_.table};
      default:
        return cv::Vec3d::all(s_.covers[surface - kFirstCover].level);
    }
  }

  [[nodiscard]] double light(const Point2& mm) const {
    double light = 1;
    for (const BoardPatch& shadow : s_.shadows) {
      if (inside(mm, shadow)) light *= shadow.level;
    }
    return light;
  }

 private:
  static bool inside(const Point2& p, const BoardPatch& box) {
    return p.x() >= box.min_mm.x() && p.x() < box.max_mm.x() && p.y() >= box.min_mm.y() && p.y() < box.max_mm.y();
  }

  [[nodiscard]] int tag_surface(const Point2& from_centre, const MarkerModules& modules) const {
    const NumberTagSize size = s_.layout.number_tag();
    if (from_centre.cwiseAbs().maxCoeff() >= size.square_mm / 2) return -1;
    const Point2 in = (from_centre / size.marker_mm + Point2(0.5, 0.5)) * kMarkerModules;
    if (in.minCoeff() < 0 || in.maxCoeff() >= kMarkerModules) return kPaper;
    return modules[static_cast<int>(in.y())][static_cast<int>(in.x())] ? kPaper : kBlackInk;
  }

  [[nodiscard]] bool in_field(const Point2& mm) const {
    const Point2 a = s_.layout.field_top_left_mm();
    const Point2 b = s_.layout.field_bottom_right_mm();
    return mm.x() >= a.x() && mm.y() >= a.y() && mm.x() < b.x() && mm.y() < b.y();
  }

  [[nodiscard]] bool ink(const Point2& mm) const {
    const Point2 in = mm / s_.layout.square_mm();
    const int column = static_cast<int>(std::floor(in.x()));
    const int row = static_cast<int>(std::floor(in.y()));
    if (column < 0 || row < 0 || column >= kCardColumns || row >= kCardRows) return false;
    switch (CardLayout::square(column, row)) {
      case SquareKind::kBlack:
        return true;
      case SquareKind::kField:
        return false;
      case SquareKind::kMarker:
        break;
    }
    const double u = (in.x() - column - 0.125) / 0.75 * kMarkerModules;
    const double v = (in.y() - row - 0.125) / 0.75 * kMarkerModules;
    if (u < 0 || v < 0 || u >= kMarkerModules || v >= kMarkerModules) return false;
    return !modules_[row][column][static_cast<int>(v)][static_cast<int>(u)];
  }

  const BoardScene& s_;
  Eigen::Matrix3d to_board_;
  Point3 eye_;
  std::array<std::array<MarkerModules, kCardColumns>, kCardRows> modules_{};
  std::vector<MarkerModules> tag_modules_;
};

struct Corner {
  Point2 mm;
  int surface = 0;
  double light = 1;
};

/// Board points of all pixel corners, traced on every fourth and interpolated between: the map is so smooth that this
/// costs less than a thousandth of a pixel, and a sanitizer build can wait for it.
class CornerGrid {
 public:
  CornerGrid(const Caster& caster, const cv::Size& size) : columns_(size.width / kStep + 2) {
    const int rows = size.height / kStep + 2;
    points_.reserve(static_cast<std::size_t>(columns_) * rows);
    for (int j = 0; j < rows; ++j) {
      for (int i = 0; i < columns_; ++i) points_.push_back(caster.board_point({i * kStep - 0.5, j * kStep - 0.5}));
    }
  }

  /// The upper left corner of pixel (x, y).
  [[nodiscard]] Point2 at(int x, int y) const {
    const Point2* first = &points_[static_cast<std::size_t>(y / kStep) * columns_ + x / kStep];
    const double u = static_cast<double>(x % kStep) / kStep;
    const double v = static_cast<double>(y % kStep) / kStep;
    return (1 - v) * ((1 - u) * first[0] + u * first[1]) + v * ((1 - u) * first[columns_] + u * first[columns_ + 1]);
  }

 private:
  static constexpr int kStep = 4;
  int columns_;
  std::vector<Point2> points_;
};

std::vector<Corner> corner_row(const Caster& caster, const CornerGrid& grid, int y, int width) {
  std::vector<Corner> row(width + 1);
  for (int x = 0; x <= width; ++x) {
    row[x].mm = grid.at(x, y);
    row[x].surface = caster.surface(row[x].mm);
    row[x].light = caster.light(row[x].mm);
  }
  return row;
}

bool alike(const Corner& a, const Corner& b) { return a.surface == b.surface && a.light == b.light; }

cv::Vec3d mean_of_rays(const Caster& caster, const RayLattice& lattice, const Corner& a, const Corner& b, const Corner& c, const Corner& d) {
  cv::Vec3d sum(0, 0, 0);
  for (int i = 0; i < lattice.rays; ++i) {
    const double u = (i + 0.5) / lattice.rays;
    const double v = (i * lattice.step % lattice.rays + 0.5) / lattice.rays;
    // Within one pixel the map is straight to 1e-6 px.
    const Point2 mm = (1 - v) * ((1 - u) * a.mm + u * b.mm) + v * ((1 - u) * c.mm + u * d.mm);
    sum += caster.light(mm) * caster.colour(caster.surface(mm));
  }
  return sum / lattice.rays;
}

cv::Mat linear_picture(const BoardScene& scene) {
  const Caster caster(scene);
  cv::Mat picture(scene.size, CV_32FC3);
  const CornerGrid grid(caster, scene.size);
  std::vector<Corner> above = corner_row(caster, grid, 0, scene.size.width);
  for (int y = 0; y < scene.size.height; ++y) {
    std::vector<Corner> below = corner_row(caster, grid, y + 1, scene.size.width);
    for (int x = 0; x < scene.size.width; ++x) {
      const Corner& a = above[x];
      const bool plain = alike(a, above[x + 1]) && alike(a, below[x]) && alike(a, below[x + 1]);
      const cv::Vec3d level = plain ? a.light * caster.colour(a.surface)
                                    : mean_of_rays(caster, scene.lattice, a, above[x + 1], below[x], below[x + 1]);
      const double light = 1 + scene.light_gradient * (static_cast<double>(x) / scene.size.width - 0.5);
      picture.at<cv::Vec3f>(y, x) = cv::Vec3f(light * level);
    }
    above = std::move(below);
  }
  return picture;
}

float encoded(float linear) {
  if (linear <= 0) return 0;
  if (linear >= 1) return 255;
  return linear <= 0.0031308F ? 255 * 12.92F * linear : 255 * (1.055F * std::pow(linear, 1 / 2.4F) - 0.055F);
}

}  // namespace

cv::Mat render_board(const BoardScene& scene) {
  cv::Mat picture = linear_picture(scene);
  if (scene.blur_px > 0) cv::GaussianBlur(picture, picture, {}, scene.blur_px, scene.blur_px, cv::BORDER_REPLICATE);
  picture.forEach<cv::Vec3f>([](cv::Vec3f& p, const int*) {
    for (int c = 0; c < 3; ++c) p[c] = encoded(p[c]);
  });
  if (scene.sharpen > 0) {
    cv::Mat soft;
    cv::GaussianBlur(picture, soft, {}, 1.4);
    cv::addWeighted(picture, 1 + scene.sharpen, soft, -scene.sharpen, 0, picture);
  }
  if (scene.noise_8bit > 0) {
    cv::Mat noise(scene.size, CV_32FC3);
    cv::RNG random(scene.seed);
    random.fill(noise, cv::RNG::NORMAL, cv::Scalar::all(0), cv::Scalar::all(scene.noise_8bit));
    picture += noise;
  }
  cv::Mat bytes;
  picture.convertTo(bytes, CV_8UC3);
  return bytes;
}

Photo photographed(const BoardScene& scene, double focal_35mm) {
  Photo photo;
  photo.path = "rendered card";
  photo.bgr = render_board(scene);
  if (focal_35mm > 0) photo.exif.focal_35mm = focal_35mm;
  return photo;
}

Camera plain_camera(double focal_px, const cv::Size& size) {
  Camera camera;
  camera.fx = camera.fy = focal_px;
  camera.cx = (size.width - 1) / 2.0;
  camera.cy = (size.height - 1) / 2.0;
  return camera;
}

Pose camera_over(const Point2& centre_mm, double distance_mm, double tilt_rad, double azimuth_rad, double roll_rad) {
  const Point3 axis(std::cos(azimuth_rad), std::sin(azimuth_rad), 0);
  Pose pose;
  pose.rotation = (Eigen::AngleAxisd(roll_rad, Point3::UnitZ()) * Eigen::AngleAxisd(tilt_rad, axis)).toRotationMatrix();
  pose.translation = Point3(0, 0, distance_mm) - pose.rotation * Point3(centre_mm.x(), centre_mm.y(), 0);
  return pose;
}

Point2 true_pixel(const BoardScene& scene, const Point2& nominal_mm) {
  const double u = 2 * nominal_mm.x() / scene.layout.width_mm() - 1;
  const double v = 2 * nominal_mm.y() / scene.layout.height_mm() - 1;
  return scene.view.pixel(Point3(nominal_mm.x() * scene.print_x, nominal_mm.y() * scene.print_y,
                                 -(scene.bow_x_mm * u * u + scene.bow_y_mm * v * v)));
}

}  // namespace glintline::testing
