#include "trace/strap_outline.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

#include "math/linear_light.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// A place of an outline, pitches: `along` from the rear rivet, `over` the rivet line, and the direction square to the
/// outline in the same frame.
struct Place {
  double along = 0;
  double over = 0;
  Point2 square = Point2::Zero();
};

/// By which share the picture's brightness changes, as a vector, about every place of the body's part of it.
class Changes {
 public:
  explicit Changes(const CutterScene& s) : s_(s) {
    constexpr double kFinestPx = 0.6;
    constexpr double kGrainMm = 0.02;
    // No strap's outline lies outside of this.
    constexpr double kOver = 0.55;
    constexpr double kBeyond = 0.55;
    const int top = std::max(0, cvRound(s.rear_rivet.y() - kOver * s.pitch_px));
    const int left = s.column(-kBeyond);
    part_ = cv::Rect(left, top, s.column(1 + kBeyond) + 1 - left, s.picture.rows - top);
    cv::Mat grey(part_.size(), CV_32F);
    for (int y = 0; y < grey.rows; ++y) {
      const auto* in = s.picture.ptr<cv::Vec3b>(top + y) + left;
      auto* out = grey.ptr<float>(y);
      for (int x = 0; x < grey.cols; ++x) out[x] = static_cast<float>(luma(in[x][0], in[x][1], in[x][2]));
    }
    cv::GaussianBlur(grey, grey_, {}, std::max(kFinestPx, s.px(kGrainMm)));
    reach_ = std::max(1, cvRound(s.px(0.06)));
    set_usual();
  }

  /// True where a change at a place is clear and square to the outline there.
  [[nodiscard]] bool show(const Place& place) const {
    constexpr double kSquare = 0.9;  // cosine of 26 degrees
    const auto change = at(cvRound(s_.rear_rivet.x() + place.along * s_.pitch_px),
                           cvRound(s_.rear_rivet.y() - place.over * s_.pitch_px));
    if (!change) return false;
    const double along_square = std::abs(change->x() * place.square.x() - change->y() * place.square.y());
    return along_square > std::max(usual_, kSquare * change->norm());
  }

 private:
  /// A body's grain, dirt and scratches: four in five of its places change by less.
  void set_usual() {
    constexpr double kShare = 0.8;
    constexpr double kLeast = 0.04;
    constexpr int kStride = 4;
    std::vector<double> all;
    const int last = s_.column(1.3);
    for (int y = part_.y; y < s_.solid.rows; y += kStride) {
      for (int x = s_.column(-0.3); x < last; x += kStride) {
        const auto change = s_.solid.at<uchar>(y, x) ? at(x, y) : std::nullopt;
        if (change) all.push_back(change->norm());
      }
    }
    usual_ = all.empty() ? kLeast : std::max(kLeast, percentile(std::move(all), kShare));
  }

  [[nodiscard]] std::optional<Point2> at(int x, int y) const {
    constexpr float kBlack = 10;  // codes: in the dark grain is no change
    const int i = x - part_.x;
    const int j = y - part_.y;
    if (i < reach_ || j < reach_ || i + reach_ >= grey_.cols || j + reach_ >= grey_.rows) return std::nullopt;
    const auto* row = grey_.ptr<float>(j);
    const float scale = 1 / (row[i] + kBlack);
    return Point2(scale * (row[i + reach_] - row[i - reach_]),
                  scale * (grey_.at<float>(j + reach_, i) - grey_.at<float>(j - reach_, i)));
  }

  const CutterScene& s_;
  cv::Rect part_;  ///< of the picture that `grey_` holds
  cv::Mat grey_;
  int reach_ = 1;
  double usual_ = 0;
};

/// Share of `count` places of an outline that show. `place`: of a share, 0 to 1, of its length.
template <typename F>
double shown(const Changes& changes, int count, const F& place) {
  int showing = 0;
  for (int k = 0; k < count; ++k) showing += changes.show(place((k + 0.5) / count)) ? 1 : 0;
  return static_cast<double>(showing) / count;
}

Place on_upper_edge(const StrapOutline& strap, double along) {
  constexpr double kTurn = 2 * std::numbers::pi;
  return {along, strap.upper_edge(along), Point2(kTurn * strap.waist * std::sin(kTurn * along), 1).normalized()};
}

/// Where a strap comes down behind a rivet: a quarter of a circle that ends so far beyond it.
struct Shoulder {
  double over = 0;  ///< where it leaves the upper edge, pitches
  double end = 0;
  double radius = 0;

  /// From 0.15 to 0.85 of the turn; the rest is the upper edge's and the end's, which a body has too.
  [[nodiscard]] Place operator()(double share, bool front) const {
    const double turn = (0.15 + 0.7 * share) * std::numbers::pi / 2;
    const double beyond = end - radius + radius * std::sin(turn);
    const double way = front ? 1 : -1;
    return {front ? 1 + beyond : -beyond, over - radius + radius * std::cos(turn),
            Point2(way * std::sin(turn), std::cos(turn))};
  }
};

/// What shows of the shoulders that leave an upper edge.
struct Shoulders {
  double rear = 0;  ///< of two alike
  double front = 0;
  double rear_alone = 0;  ///< of any at the rear
};

constexpr int kUpperPlaces = 90;
constexpr int kShoulderPlaces = 30;

Shoulders best_shoulders(const Changes& changes, double over) {
  Shoulders best;
  // Heads end 0.25 pitches from their middle, and neighbouring links need room: straps end between.
  for (double end = 0.29; end < 0.45; end += 0.03) {
    for (double radius = 0.1; radius < 0.21; radius += 0.05) {
      const Shoulder shoulder{over, end, radius};
      const auto seen = [&](bool front) {
        return shown(changes, kShoulderPlaces, [&](double share) { return shoulder(share, front); });
      };
      const double rear = seen(false);
      const double front = seen(true);
      best.rear_alone = std::max(best.rear_alone, rear);
      if (rear + front > best.rear + best.front) {
        best.rear = rear;
        best.front = front;
      }
    }
  }
  return best;
}

}  // namespace

StrapOutline strap_outline(const CutterScene& s) {
  constexpr double kStep = 0.01;
  constexpr int kLowest = 22;  // of the middle height, steps
  constexpr int kHighest = 39;
  constexpr int kWaist = 6;              // steps, either way
  constexpr double kBeyondRivet = 0.05;  // pitches: from there on its shoulders turn away
  constexpr double kShareOfUpper = 0.4;
  constexpr double kShareOfShoulder = 0.3;
  // The rear half alone, where a bumper rises ahead: by so much more often it shows by accident.
  constexpr double kShareOfRearUpper = 0.55;
  constexpr double kBeforeBumper = 0.6;
  constexpr double kByAccident = 0.2;
  const Changes changes(s);
  std::vector<Shoulders> shoulders;
  for (int over = kLowest - kWaist; over <= kHighest + kWaist; ++over) {
    shoulders.push_back(best_shoulders(changes, kStep * over));
  }
  StrapOutline best;
  for (int over = kLowest; over <= kHighest; ++over) {
    for (int waist = -kWaist; waist <= kWaist; waist += 2) {
      StrapOutline tried{0, kStep * over, kStep * waist};
      const Shoulders& ends = shoulders[over + waist - kLowest + kWaist];
      const auto upper = [&](double to, int places) {
        return shown(changes, places,
                     [&](double share) { return on_upper_edge(tried, -kBeyondRivet + share * (to + kBeyondRivet)); });
      };
      const double whole =
          kShareOfUpper * upper(1 + kBeyondRivet, kUpperPlaces) + kShareOfShoulder * (ends.rear + ends.front);
      const double rear =
          kShareOfRearUpper * upper(kBeforeBumper, kUpperPlaces * 3 / 5) + (1 - kShareOfRearUpper) * ends.rear_alone;
      tried.seen = std::max(whole, rear - kByAccident);
      if (tried.seen > best.seen) best = tried;
    }
  }
  return best;
}

}  // namespace glintline
