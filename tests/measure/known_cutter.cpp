#include "measure/known_cutter.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

namespace glintline::testing {

namespace {

using Curve = std::vector<Point2>;  // in the picture, turned so that x runs along the chain and y away from the bar

/// The picture turned: the projected directions of the chain at the cutter.
struct Turned {
  Point2 origin;
  Point2 x;
  Point2 y;
  [[nodiscard]] Point2 in(const Point2& px) const { return {(px - origin).dot(x), (px - origin).dot(y)}; }
  [[nodiscard]] Point2 out(const Point2& p) const { return origin + p.x() * x + p.y() * y; }
};

/// A point of the cutter: chain frame x, z and the distance inwards from the outer face.
struct Place {
  double x, z, inwards;
};

class Camera3 {
 public:
  Camera3(const KnownCutter& cutter, const KnownScene& scene) : cutter_(cutter), scene_(scene), view_(scene.view()) {
    const double high = cutter.outer_height_mm;
    turned_.origin = scene.pixel(view_, 0, 0, high);
    turned_.x = (scene.pixel(view_, cutter.pitch_mm, 0, high) - turned_.origin).normalized();
    turned_.y = turned_quarter(turned_.x);
    if ((scene.pixel(view_, 0, 1, high) - turned_.origin).dot(turned_.y) < 0) turned_.y = -turned_.y;
  }

  [[nodiscard]] Point2 at(const Place& p) const {
    const double inwards = cutter_.outer_face_up ? -p.inwards : p.inwards;
    return turned_.in(scene_.pixel(view_, p.x, p.z, cutter_.outer_height_mm + inwards));
  }

  /// A curve of places between two ends.
  [[nodiscard]] Curve curve(double from, double to, const std::function<Place(double)>& place) const {
    constexpr int kPieces = 120;
    Curve c;
    for (int i = 0; i <= kPieces; ++i) c.push_back(at(place(from + (to - from) * i / kPieces)));
    return c;
  }

  [[nodiscard]] const Turned& turned() const { return turned_; }

 private:
  const KnownCutter& cutter_;
  const KnownScene& scene_;
  CameraView view_;
  Turned turned_;
};

/// Height of a curve over `t`, its coordinate number `axis`; nothing where it does not reach.
std::optional<double> over(const Curve& curve, double t, int axis) {
  std::optional<double> most;
  for (std::size_t i = 0; i + 1 < curve.size(); ++i) {
    const double a = curve[i][axis];
    const double b = curve[i + 1][axis];
    if ((a - t) * (b - t) > 0 || a == b) continue;
    const double v = curve[i][1 - axis] + (t - a) / (b - a) * (curve[i + 1][1 - axis] - curve[i][1 - axis]);
    if (!most || v > *most) most = v;
  }
  return most;
}

/// How an outline is read off its curves.
struct Reading {
  int axis = 0;      ///< 0: columns, the highest; 1: rows, the foremost
  double way = 1;    ///< -1: the rearmost
  double from = 0;
  double to = 0;
};

class Reader {
 public:
  Reader(const Turned& turned, double noise_px, unsigned seed) : turned_(turned), noise_(noise_px), random_(seed) {}

  std::vector<EdgePoint> read(std::vector<Curve> curves, const Reading& r) {
    for (Curve& c : curves) {
      for (Point2& p : c) p[1 - r.axis] *= r.way;
    }
    constexpr double kStepPx = 1.6;
    std::vector<EdgePoint> points;
    const int count = static_cast<int>(std::abs(r.to - r.from) / kStepPx);
    for (int i = 0; i <= count; ++i) {
      const double t = r.from + (r.to > r.from ? kStepPx : -kStepPx) * i;
      std::optional<double> most;
      for (const Curve& c : curves) {
        const auto v = over(c, t, r.axis);
        if (v && (!most || *v > *most)) most = v;
      }
      if (!most) continue;
      std::normal_distribution<double> noise(0, 1);
      const double v = r.way * *most + noise_ * noise(random_);
      points.push_back({turned_.out(r.axis == 0 ? Point2(t, v) : Point2(v, t)), std::max(0.02, noise_)});
    }
    return points;
  }

 private:
  Turned turned_;
  double noise_;
  std::mt19937 random_;
};

/// The cutter's rims.
struct Rims {
  const KnownCutter& k;
  [[nodiscard]] double rear_x() const { return k.corner_x_mm - k.length_mm; }
  /// How far the rounded shoulder stands under the flat top.
  [[nodiscard]] double under(double inwards) const {
    if (inwards >= k.shoulder_mm) return 0;
    const double left = k.shoulder_mm - inwards;
    return k.shoulder_mm - std::sqrt(std::max(0.0, k.shoulder_mm * k.shoulder_mm - left * left));
  }
  /// Both sides of the plate drawn in towards the rear, what lies between them in proportion.
  [[nodiscard]] Place drawn_in(Place p) const {
    const double half = k.plate_width_mm / 2;
    p.inwards = half + (p.inwards - half) * (1 - (k.corner_x_mm - p.x) * std::tan(k.taper_rad) / half);
    return p;
  }
  [[nodiscard]] double edge_x(double inwards) const { return k.corner_x_mm - inwards * std::tan(k.edge_angle_rad); }
  [[nodiscard]] Place top(double x, double inwards) const {
    return {x, k.plate_top_mm - (k.corner_x_mm - x) * std::tan(k.slope_rad) - under(inwards), inwards};
  }
  [[nodiscard]] Place edge(double inwards) const { return top(edge_x(inwards), inwards); }
  /// The side plate's front, `down` under the edge; a filed front stands back inwards like the edge.
  [[nodiscard]] Place front(double down, double inwards) const {
    const Place corner = edge(0);
    return {edge_x(inwards) - down / std::tan(k.hook_rad), corner.z - down, inwards};
  }
  [[nodiscard]] Place gauge(double x, double inwards) const {
    // Highest of the plate: on a rounded shoulder the flat begins that far inside, and so further back.
    const double high = edge(k.shoulder_mm).z;
    const double share = (inwards - k.gauge_set_in_mm) / k.side_plate_mm;
    const double under = k.gauge_fall_mm > 0 ? (1 - share) * k.gauge_fall_mm : -share * k.gauge_fall_mm;
    return {x, high - k.drop_mm - under - (x - k.gauge_x_mm) * (x - k.gauge_x_mm) / (2 * k.gauge_radius_mm), inwards};
  }
};

std::vector<Curve> plate_curves(const Camera3& camera, const Rims& rims) {
  std::vector<Curve> curves;
  const double width = rims.k.plate_width_mm;
  const int rims_of_shoulder = rims.k.shoulder_mm > 0 ? 24 : 0;
  for (int i = 0; i <= rims_of_shoulder; ++i) {
    const double inwards = rims_of_shoulder ? rims.k.shoulder_mm * i / rims_of_shoulder : 0;
    curves.push_back(camera.curve(rims.rear_x(), rims.edge_x(inwards), [&](double x) {
      return rims.drawn_in(rims.top(x, inwards));
    }));
  }
  curves.push_back(camera.curve(rims.rear_x(), rims.edge_x(width),
                                [&](double x) { return rims.drawn_in(rims.top(x, width)); }));
  curves.push_back(camera.curve(0, width, [&](double in) { return rims.edge(in); }));
  curves.push_back(camera.curve(0, width, [&](double in) { return rims.drawn_in(rims.top(rims.rear_x(), in)); }));
  return curves;
}

}  // namespace

ProfileHeights KnownCutter::heights() const {
  const double inwards = outer_face_up ? -1 : 1;
  ProfileHeights h;
  h.rivets = rivet_height_mm;
  h.plate_outer = outer_height_mm;
  h.plate_inner = outer_height_mm + inwards * plate_width_mm;
  h.taper = std::tan(taper_rad);
  h.gauge_outer = outer_height_mm + inwards * gauge_set_in_mm;
  h.gauge_inner = h.gauge_outer + inwards * side_plate_mm;
  h.gauge_fall = gauge_fall_mm;
  return h;
}

Point2 KnownScene::along() const { return {std::cos(heading_rad), std::sin(heading_rad)}; }

Point2 KnownScene::up() const {
  // Left of a direction, in a picture with y down, is a quarter turn against turned_quarter.
  const Point2 right = turned_quarter(along());
  return up_is_left ? Point2(-right) : right;
}

CameraView KnownScene::view() const {
  const Point2 foot = rear_rivet_mm + ahead_mm * along() + 6 * up() + (distance_mm * std::tan(sight_rad)) * up();
  CameraView view;
  view.camera.fx = focal_px;
  view.camera.fy = focal_px;
  view.camera.cx = 2000;
  view.camera.cy = 1500;
  view.camera.distortion = {-0.05, 0.02, 0.0003, -0.0002, 0};
  // Looking down on the card: camera x, y, z along the board's X, Y, Z, then rolled and tilted.
  const Eigen::Matrix3d turn = (Eigen::AngleAxisd(tilt_rad, Point3::UnitX()) *
                                Eigen::AngleAxisd(roll_rad, Point3::UnitZ())).toRotationMatrix();
  view.camera_from_board.rotation = turn;
  view.camera_from_board.translation = -(turn * Point3(foot.x(), foot.y(), -distance_mm));
  return view;
}

Point2 KnownScene::pixel(const CameraView& view, double x, double z, double height_mm) const {
  const Point2 p = rear_rivet_mm + x * along() + z * up();
  return view.pixel({p.x(), p.y(), -height_mm});
}

CutterOutline outline_of(const KnownCutter& cutter, const KnownScene& scene, double noise_px, unsigned seed) {
  const Camera3 camera(cutter, scene);
  const Rims rims{cutter};
  Reader reader(camera.turned(), noise_px, seed);
  const CameraView view = scene.view();
  CutterOutline out;
  out.rear_rivet.centre_px = scene.pixel(view, 0, 0, cutter.rivet_height_mm);
  out.front_rivet.centre_px = scene.pixel(view, cutter.pitch_mm, 0, cutter.rivet_height_mm);
  out.outer_face_up = cutter.outer_face_up;
  // From the inner side a strap's edge lies before the body, alike on both sides of the gullet.
  if (!cutter.outer_face_up) out.face.strap = out.face.strap_ahead = out.face.under_gauge = 0.6;
  out.chance_of_other_face = 0;
  out.blur_px = 1.2;

  const Point2 corner = camera.at(rims.edge(cutter.shoulder_mm));
  const Point2 rear = camera.at(rims.top(rims.rear_x() + 0.4, 0));
  out.top = reader.read(plate_curves(camera, rims), {0, 1, rear.x(), corner.x()});

  std::vector<Curve> gauge;
  for (const double inwards : {cutter.gauge_set_in_mm, cutter.gauge_set_in_mm + cutter.side_plate_mm}) {
    gauge.push_back(camera.curve(cutter.gauge_x_mm - 1.4, cutter.gauge_x_mm + 1.4,
                                 [&](double x) { return rims.gauge(x, inwards); }));
  }
  out.gauge = reader.read(gauge, {0, 1, gauge[0].front().x() + 4, gauge[0].back().x() - 4});

  std::vector<Curve> front{camera.curve(0, cutter.plate_width_mm, [&](double in) { return rims.edge(in); })};
  for (const double inwards : {0.0, cutter.side_plate_mm}) {
    front.push_back(camera.curve(0, 2.2, [&](double down) { return rims.front(down, inwards); }));
  }
  out.front = reader.read(front, {1, 1, corner.y() - 0.4, corner.y() - (camera.at(rims.front(0, 0)) -
                                                                    camera.at(rims.front(2.0, 0))).y() - 2});

  std::vector<Curve> ends;
  for (const double inwards : {0.0, cutter.plate_width_mm}) {
    ends.push_back(camera.curve(0, 1.2, [&](double down) {
      Place p = rims.top(rims.rear_x(), std::max(inwards, cutter.shoulder_mm));
      p.x -= down * std::tan(cutter.rear_lean_rad);
      p.z -= down;
      p.inwards = inwards;
      return rims.drawn_in(p);
    }));
  }
  // Rows that both ends of the rear reach.
  const double from = std::min(ends[0].front().y(), ends[1].front().y());
  const double to = std::max(ends[0].back().y(), ends[1].back().y());
  out.rear = reader.read(ends, {1, -1, from - 2, to + 2});
  return out;
}

CardPose pose_of(const KnownScene& scene) {
  CardPose pose;
  pose.view = scene.view();
  pose.tilt_rad = scene.tilt_rad;
  pose.print.measured = true;
  pose.print.u_rel = 0;
  return pose;
}

Hand hand_of(const KnownCutter& cutter, const KnownScene& scene) {
  const Point3 ahead(scene.along().x(), scene.along().y(), 0);
  const Point3 above(scene.up().x(), scene.up().y(), 0);
  // The board frame is right-handed (X right, Y down, Z into the card); right of ahead is ahead x above in such a one.
  const Point3 right = ahead.cross(above);
  const Point3 outwards(0, 0, cutter.outer_face_up ? -1 : 1);
  return outwards.dot(right) > 0 ? Hand::kRight : Hand::kLeft;
}

}  // namespace glintline::testing
