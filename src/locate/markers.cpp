#include "locate/markers.h"

#include <algorithm>
#include <opencv2/aruco.hpp>
#include <opencv2/calib3d.hpp>

#include "base/text.h"
#include "locate/reduced.h"

namespace glintline {

namespace {

/// How one attempt looks at the picture.
struct Attempt {
  int long_side;     ///< of the reduced picture, px
  int window_first;  ///< adaptive threshold windows, px of the reduced picture
  int window_last;
};

// One threshold window finds a usual card in a third of the time of three. Then windows for very small and very large
// squares, then finer pictures for a card that fills little of the frame.
constexpr std::array<Attempt, 4> kAttempts{{{1000, 15, 15}, {1500, 7, 31}, {2200, 15, 31}, {3000, 15, 39}}};

using Quad = std::vector<cv::Point2f>;

struct Detections {
  std::vector<int> ids;
  std::vector<Quad> quads;
  int factor = 1;
};

cv::Ptr<cv::aruco::DetectorParameters> detector_parameters(const Attempt& attempt) {
  auto parameters = cv::aruco::DetectorParameters::create();
  parameters->adaptiveThreshWinSizeMin = attempt.window_first;
  parameters->adaptiveThreshWinSizeMax = attempt.window_last;
  parameters->adaptiveThreshWinSizeStep = 8;
  parameters->minMarkerPerimeterRate = 0.02;
  parameters->cornerRefinementMethod = cv::aruco::CORNER_REFINE_NONE;
  // One wrong bit in 36 at the most: with three, one picture in twenty without any card would show a marker.
  parameters->errorCorrectionRate = 0.2;
  return parameters;
}

// Rounded up, so that a large picture is never searched at full size; pictures a little over a multiple are let pass.
int reduction(const cv::Mat& bgr, int long_side) {
  constexpr double kLittle = 0.1;
  const double times = static_cast<double>(std::max(bgr.cols, bgr.rows)) / long_side;
  return std::max(1, static_cast<int>(std::ceil(times - kLittle)));
}

Detections detect(const cv::Mat& bgr, const Attempt& attempt) {
  Detections seen;
  seen.factor = reduction(bgr, attempt.long_side);
  static const auto kFamily = cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11);
  cv::aruco::detectMarkers(reduced_green(bgr, seen.factor), kFamily, seen.quads, seen.ids,
                           detector_parameters(attempt));
  return seen;
}

SeenMarker full_size(int id, const Quad& quad, int factor) {
  SeenMarker marker;
  marker.id = id;
  const double centre = block_centre(factor);
  for (int i = 0; i < 4; ++i) {
    marker.corners_px[i] = Point2(quad[i].x * factor + centre, quad[i].y * factor + centre);
  }
  return marker;
}

/// All markers of one detection, sorted by what they belong to.
struct Sorted {
  std::array<std::vector<SeenMarker>, 2> cards;  ///< wide, close: printed squares only
  std::vector<NumberTag> tags;
  int strangers = 0;  ///< of our family, but on neither card and on no tag
};

Sorted sorted(const Detections& seen) {
  static const std::array<CardLayout, 2> kLayouts{CardLayout(CardKind::kWide), CardLayout(CardKind::kClose)};
  Sorted result;
  for (std::size_t i = 0; i < seen.ids.size(); ++i) {
    const SeenMarker marker = full_size(seen.ids[i], seen.quads[i], seen.factor);
    const bool wide = kLayouts[0].square_of(marker.id).has_value();
    const bool close = kLayouts[1].square_of(marker.id).has_value();
    if (const auto number = tag_number(marker.id)) {
      result.tags.push_back({*number, marker.corners_px});
    } else if (wide || close) {
      result.cards[wide ? 0 : 1].push_back(marker);
    } else {
      ++result.strangers;
    }
  }
  return result;
}

double mean_side(const std::vector<SeenMarker>& markers) {
  double sum = 0;
  for (const SeenMarker& m : markers) sum += (m.corners_px[0] - m.corners_px[2]).norm() / std::sqrt(2.0);
  return sum / static_cast<double>(markers.size());
}

/// The markers that stand as the card prints them; fills the homography. The tolerance lets the lens bend the card by
/// a fifth of a square but keeps every marker in its own.
std::vector<SeenMarker> agreeing(const std::vector<SeenMarker>& markers, CardKind kind, Eigen::Matrix3d& homography) {
  if (markers.size() < 3) return {};
  const CardLayout layout(kind);
  std::vector<cv::Point2f> board;
  std::vector<cv::Point2f> picture;
  for (const SeenMarker& marker : markers) {
    const auto [column, row] = *layout.square_of(marker.id);
    const std::array<Point2, 4> corners = layout.marker_corners(column, row);
    for (int i = 0; i < 4; ++i) {
      board.emplace_back(corners[i].x() / layout.square_mm(), corners[i].y() / layout.square_mm());
      picture.emplace_back(marker.corners_px[i].x(), marker.corners_px[i].y());
    }
  }
  const double tolerance_px = 0.2 * mean_side(markers) / 0.75;
  cv::Mat inlier;
  const cv::Mat h = cv::findHomography(board, picture, cv::RANSAC, tolerance_px, inlier);
  if (h.empty()) return {};
  for (int i = 0; i < 9; ++i) homography(i / 3, i % 3) = h.at<double>(i / 3, i % 3);
  std::vector<SeenMarker> agreed;
  for (std::size_t m = 0; m < markers.size(); ++m) {
    int fitting = 0;
    for (int i = 0; i < 4; ++i) fitting += inlier.at<unsigned char>(static_cast<int>(4 * m + i)) != 0 ? 1 : 0;
    if (fitting == 4) agreed.push_back(markers[m]);
  }
  return agreed;
}

/// One attempt's outcome.
struct Found {
  CardMarkers card;
  int seen = 0;       ///< markers of the better card, agreeing or not
  int strangers = 0;  ///< all other markers of our family
};

Found look(const Photo& photo, const Attempt& attempt) {
  const Detections seen = detect(photo.bgr, attempt);
  const Sorted all = sorted(seen);
  const int better = all.cards[1].size() > all.cards[0].size() ? 1 : 0;
  Found found;
  found.card.kind = better == 1 ? CardKind::kClose : CardKind::kWide;
  found.card.tags = all.tags;
  found.card.corner_u_px = 0.5 * seen.factor;
  found.seen = static_cast<int>(all.cards[better].size());
  found.strangers = all.strangers + static_cast<int>(all.cards[1 - better].size());
  found.card.markers = agreeing(all.cards[better], found.card.kind, found.card.px_from_squares);
  return found;
}

// Other widely printed families. Those of few bits find themselves in any texture, so they must show more markers.
bool shows_another_family(const cv::Mat& bgr) {
  constexpr std::array<int, 9> kFamilies{
      cv::aruco::DICT_6X6_1000,       cv::aruco::DICT_5X5_1000,       cv::aruco::DICT_7X7_1000,
      cv::aruco::DICT_ARUCO_ORIGINAL, cv::aruco::DICT_4X4_1000,       cv::aruco::DICT_APRILTAG_16h5,
      cv::aruco::DICT_APRILTAG_25h9,  cv::aruco::DICT_APRILTAG_36h10, cv::aruco::DICT_APRILTAG_36h11};
  constexpr std::size_t kConvincing = 4;
  const Attempt attempt{1300, 7, 23};
  auto parameters = detector_parameters(attempt);
  parameters->errorCorrectionRate = 0;
  const cv::Mat green = reduced_green(bgr, reduction(bgr, attempt.long_side));
  for (const int family : kFamilies) {
    std::vector<int> ids;
    std::vector<Quad> quads;
    cv::aruco::detectMarkers(green, cv::aruco::getPredefinedDictionary(family), quads, ids, parameters);
    if (ids.size() >= kConvincing) return true;
  }
  return false;
}

Error refusal(const Photo& photo, const Found& best) {
  const std::string needed = std::to_string(kNeededSquares) + " needed";
  if (best.seen > 2 && best.card.markers.size() * 2 < static_cast<std::size_t>(best.seen)) {
    return {
        Fault::kWrongCard,
        counted(best.seen, "marker") + " seen, but not placed as on the card: use one sheet printed by this program",
        photo.path};
  }
  if (best.seen > 0) {
    const int squares = std::max<int>(1, static_cast<int>(best.card.markers.size()));
    return {Fault::kCardHidden,
            counted(squares, "square") + " of the card seen, " + needed + ": move back or uncover the card",
            photo.path};
  }
  if (best.strangers > 0 || shows_another_family(photo.bgr)) {
    return {Fault::kWrongCard, "markers of another board seen, none of the card's: put the card in the picture",
            photo.path};
  }
  return {Fault::kNoCard, "no square of the card seen, " + needed + ": put the card in the picture, flat and in focus",
          photo.path};
}

}  // namespace

Result<CardMarkers> find_markers(const Photo& photo) {
  Found best;
  try {
    int last_factor = 0;
    int last_window = 0;
    for (const Attempt& attempt : kAttempts) {
      const int factor = reduction(photo.bgr, attempt.long_side);
      if (factor == last_factor && attempt.window_last <= last_window) continue;
      last_factor = factor;
      last_window = attempt.window_last;
      Found found = look(photo, attempt);
      if (found.card.markers.size() >= kNeededSquares) return std::move(found.card);
      if (found.card.markers.size() > best.card.markers.size() || found.seen > best.seen) best = std::move(found);
    }
    return refusal(photo, best);
  } catch (const cv::Exception& error) {
    return Error{Fault::kNoCard, std::string("the search for the card failed: ") + error.what(), photo.path};
  }
}

}  // namespace glintline
