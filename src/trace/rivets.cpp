#include "trace/rivets.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "math/circle_fit.h"
#include "math/statistics.h"
#include "trace/head_alignment.h"
#include "trace/plane_picture.h"
#include "trace/rim_alignment.h"
#include "trace/row_places.h"

namespace glintline {

namespace {

constexpr double kLeastRadiusMm = 1.7;
constexpr double kMostRadiusMm = 3.4;
constexpr double kLeastSpacingMm = 5.5;
constexpr double kMostSpacingMm = 11.5;
/// A head may stand this far beside the row (a chain that hangs or lies in a slight bow).
constexpr double kAsideMm = 1.2;
constexpr std::size_t kMostPeaks = 40;

struct Peak {
  Point2 at;
  double votes;  ///< share of the circumference that votes, more or less
};

struct EdgePixel {
  float x, y, ux, uy;
};

/// Pixels whose gradient stands out from the picture's own texture.
std::vector<EdgePixel> edge_pixels(const cv::Mat& grey) {
  cv::Mat smooth, gx, gy;
  cv::GaussianBlur(grey, smooth, {}, 0.8);
  cv::Sobel(smooth, gx, CV_16S, 1, 0);
  cv::Sobel(smooth, gy, CV_16S, 0, 1);
  // Sobel's gain is 8; two codes a pixel is about the least that a head's outline shows on dull steel.
  constexpr float kLeast = 16;
  std::vector<EdgePixel> pixels;
  pixels.reserve(grey.total() / 4);
  for (int y = 0; y < grey.rows; ++y) {
    const auto* dx = gx.ptr<short>(y);
    const auto* dy = gy.ptr<short>(y);
    for (int x = 0; x < grey.cols; ++x) {
      const float length2 = static_cast<float>(dx[x]) * dx[x] + static_cast<float>(dy[x]) * dy[x];
      if (length2 < kLeast * kLeast) continue;
      const float inverse = 1 / std::sqrt(length2);
      pixels.push_back({static_cast<float>(x), static_cast<float>(y), dx[x] * inverse, dy[x] * inverse});
    }
  }
  return pixels;
}

/// Votes for centres of circles, on a picture with a margin as wide as the largest: no vote need be checked.
class Votes {
 public:
  Votes(const cv::Size& size, double most_radius)
      : margin_(static_cast<int>(std::ceil(most_radius)) + 1),
        all_(size.height + 2 * margin_, size.width + 2 * margin_, CV_32F),
        inside_(all_(cv::Rect(cv::Point(margin_, margin_), size))) {}

  /// Those of edge pixels for `radius`, smoothed by about a pixel; a vote spread over about 3 x 3 pixels counts as one
  /// over the circumference. What lies beyond the picture's border counts for nothing.
  void take(const std::vector<EdgePixel>& pixels, float radius, cv::Mat& smoothed) {
    const float one = 9 / (2 * std::numbers::pi_v<float> * radius);
    all_.setTo(0);
    for (const EdgePixel& p : pixels) {
      const float x = radius * p.ux;
      const float y = radius * p.uy;
      at(p.x + x, p.y + y) += one;
      at(p.x - x, p.y - y) += one;
    }
    cv::GaussianBlur(inside_, smoothed, {5, 5}, 1.0, 1.0, cv::BORDER_DEFAULT | cv::BORDER_ISOLATED);
  }

 private:
  float& at(float x, float y) { return all_.ptr<float>(cvRound(y) + margin_)[cvRound(x) + margin_]; }

  int margin_;
  cv::Mat all_;
  cv::Mat inside_;
};

/// True where no place of the neighbourhood `kernel` (odd) has more votes. Most places are told at once by what lies
/// next to them, where a filter would pass the whole kernel over every one.
bool has_most(const cv::Mat& votes, const cv::Point& at, const cv::Mat& kernel) {
  const float value = votes.at<float>(at);
  const cv::Point first = at - cv::Point(kernel.cols / 2, kernel.rows / 2);
  const cv::Rect inside = cv::Rect(first, kernel.size()) & cv::Rect({}, votes.size());
  for (int y = inside.y; y < inside.br().y; ++y) {
    const auto* row = votes.ptr<float>(y);
    const auto* counts = kernel.ptr<uchar>(y - first.y);
    for (int x = inside.x; x < inside.br().x; ++x) {
      if (row[x] > value && counts[x - first.x]) return false;
    }
  }
  return true;
}

std::vector<Peak> peaks_of(const cv::Mat& best, int apart) {
  const cv::Mat near = cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3});
  const cv::Mat wide = cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * apart + 1, 2 * apart + 1});
  std::vector<Peak> peaks;
  for (int y = 0; y < best.rows; ++y) {
    for (int x = 0; x < best.cols; ++x) {
      const float value = best.at<float>(y, x);
      if (!(value > 0.5F) || !has_most(best, {x, y}, near) || !has_most(best, {x, y}, wide)) continue;
      peaks.push_back({Point2(x, y), value});
    }
  }
  std::sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.votes > b.votes; });
  if (peaks.size() > kMostPeaks) peaks.resize(kMostPeaks);
  return peaks;
}

/// A row as it grows: peaks where there are some, null where one is missing between two others.
using Row = std::vector<const Peak*>;

/// The peaks nearest to origin + k step, k running both ways until two in a row are missing.
Row row_through(const std::vector<Peak>& peaks, const Point2& origin, const Point2& step,
                                     double aside) {
  Row members;
  for (const int way : {1, -1}) {
    Point2 place = way > 0 ? origin : Point2(origin - step);
    for (int missing = 0; missing < 2;) {
      const Peak* nearest = nullptr;
      double least = aside;
      for (const Peak& p : peaks) {
        const double d = (p.at - place).norm();
        if (d < least) {
          least = d;
          nearest = &p;
        }
      }
      if (nearest) {
        members.insert(way > 0 ? members.end() : members.begin(), missing, nullptr);
        members.insert(way > 0 ? members.end() : members.begin(), nearest);
      }
      missing = nearest ? 0 : missing + 1;
      place = (nearest ? nearest->at : place) + way * step;
    }
  }
  return members;
}

double support(const Row& row) {
  double sum = 0;
  for (const Peak* p : row) sum += p ? p->votes : 0;
  return sum;
}

/// The row's centres, a missing one put midway between its neighbours for a closer look.
RivetRow completed(const Row& row) {
  RivetRow result;
  std::vector<double> spacings;
  for (std::size_t i = 0; i < row.size(); ++i) {
    result.centres.push_back(row[i] ? row[i]->at : Point2(0.5 * (row[i - 1]->at + row[i + 1]->at)));
    if (i > 0 && row[i] && row[i - 1]) spacings.push_back((row[i]->at - row[i - 1]->at).norm());
  }
  result.spacing = median(spacings);
  // A head at either end may be half in the dark; the closer look decides.
  const Point2 step = (result.centres.back() - result.centres.front()) / (result.centres.size() - 1.0);
  result.centres.insert(result.centres.begin(), Point2(result.centres.front() - step));
  result.centres.push_back(result.centres.back() + step);
  return result;
}

/// A row and the votes of its peaks.
struct SupportedRow {
  RivetRow row;
  double support = 0;
};

/// The row of at least three peaks that has the most support; empty where there is none.
SupportedRow best_row(const std::vector<Peak>& peaks, double mm_per_px) {
  Row best;
  for (const Peak& a : peaks) {
    for (const Peak& b : peaks) {
      const Point2 step = b.at - a.at;
      const double spacing = step.norm() * mm_per_px;
      if (step.x() < 0 || spacing < kLeastSpacingMm || spacing > kMostSpacingMm) continue;
      Row found = row_through(peaks, a.at, step, kAsideMm / mm_per_px);
      if (found.size() >= 3 && support(found) > support(best)) best = std::move(found);
    }
  }
  return best.empty() ? SupportedRow{} : SupportedRow{completed(best), support(best)};
}

constexpr int kDirections = 72;

/// Brightness slopes around a head, seen square on.
struct Slopes {
  PlaneFrame frame;
  cv::Mat x;  ///< CV_16S
  cv::Mat y;

  [[nodiscard]] Point2 middle() const { return {0.5 * frame.size.width, 0.5 * frame.size.height}; }

  /// Slope along `out` (unit) at a place, of either sign; 0 outside.
  [[nodiscard]] double along(const Point2& at, const Point2& out) const {
    const int i = cvRound(at.x());
    const int j = cvRound(at.y());
    if (i < 0 || j < 0 || i >= x.cols || j >= x.rows) return 0;
    return std::abs(x.at<short>(j, i) * out.x() + y.at<short>(j, i) * out.y());
  }

  [[nodiscard]] Point2 in_photo(const CameraView& view, const Point2& at) const {
    return view.pixel(frame.board(at.x(), at.y()));
  }
};

/// A head's outline in the pixels of Slopes.
struct HeadCircle {
  Point2 centre;
  double radius;
};

Slopes slopes_round(const cv::Mat& bgr, const CameraView& view, const RivetSearch& search) {
  Slopes s;
  const Point2 px = view.pixel({search.near_mm.x(), search.near_mm.y(), -search.height_mm});
  // A head's outline is a rounded foot some hundredths of a millimetre wide; finer pixels show the steel's grain.
  s.frame.mm_per_px = std::max(0.03, view.mm_per_px(px, search.height_mm));
  const int side = static_cast<int>(2.6 * kMostRadiusMm / s.frame.mm_per_px);
  s.frame.size = {side, side};
  s.frame.height_mm = search.height_mm;
  s.frame.origin_mm = search.near_mm - 0.5 * side * s.frame.mm_per_px * Point2(1, 1);
  cv::Mat grey;
  cv::cvtColor(picture_of_plane(bgr, view, s.frame), grey, cv::COLOR_BGR2GRAY);
  cv::GaussianBlur(grey, grey, {}, 1.2);
  cv::Sobel(grey, s.x, CV_16S, 1, 0);
  cv::Sobel(grey, s.y, CV_16S, 0, 1);
  return s;
}

/// Mean slope over a circle, every direction counting at most `kCap` codes (times Sobel's gain of 8), so that a whole
/// circle of modest slope beats an arc of a bright highlight.
double coherence(const Slopes& slopes, const HeadCircle& circle, const std::array<Point2, kDirections>& directions,
                 int stride) {
  constexpr double kCap = 5 * 8;
  double sum = 0;
  for (int k = 0; k < kDirections; k += stride) {
    sum += std::min(kCap, slopes.along(circle.centre + circle.radius * directions[k], directions[k]));
  }
  return sum * stride / kDirections;
}

const std::array<Point2, kDirections>& all_directions() {
  static const std::array<Point2, kDirections> table = [] {
    std::array<Point2, kDirections> directions;
    for (int k = 0; k < kDirections; ++k) {
      const double angle = 2 * std::numbers::pi * k / kDirections;
      directions[k] = {std::cos(angle), std::sin(angle)};
    }
    return directions;
  }();
  return table;
}

/// A head's outline shows at least this mean slope (codes a pixel, times Sobel's gain of 8): one code.
constexpr double kLeastCoherence = 8;

/// A circle and how coherent its outline is.
struct Scored {
  HeadCircle circle;
  double value = -1;
};

/// The most coherent circle of a given radius with its centre within `reach_mm` of `near`.
Scored most_coherent(const Slopes& slopes, const HeadCircle& near, double reach_mm, double step_mm, int stride) {
  const double scale = 1 / slopes.frame.mm_per_px;
  Scored best{near, -1};
  for (double dy = -reach_mm; dy <= reach_mm + 1e-9; dy += step_mm) {
    for (double dx = -reach_mm; dx <= reach_mm + 1e-9; dx += step_mm) {
      const HeadCircle circle{near.centre + scale * Point2(dx, dy), near.radius};
      const double value = coherence(slopes, circle, all_directions(), stride);
      if (value > best.value) best = {circle, value};
    }
  }
  return best;
}

/// The radius, mm, that all heads of the picture agree on best: one chain has one kind of rivet, and highlights inside
/// the heads differ from head to head while their outlines do not.
double common_radius_mm(const std::vector<Slopes>& heads) {
  double best = 0;
  double most = -1;
  for (double radius = kLeastRadiusMm; radius <= kMostRadiusMm; radius += 0.1) {
    double sum = 0;
    for (const Slopes& s : heads) {
      sum += most_coherent(s, {s.middle(), radius / s.frame.mm_per_px}, 0.72, 0.18, 3).value;
    }
    if (sum > most) {
      most = sum;
      best = radius;
    }
  }
  return best;
}

/// In every direction the steepest place within `reach` pixels of the circle.
std::vector<Point2> strongest_near(const Slopes& slopes, const HeadCircle& circle, double reach) {
  std::vector<Point2> edge;
  for (const Point2& out : all_directions()) {
    double steepest = 0;
    double where = 0;
    for (double r = circle.radius - reach; r <= circle.radius + reach; r += 0.5) {
      const double slope = slopes.along(circle.centre + r * out, out);
      if (slope > steepest) {
        steepest = slope;
        where = r;
      }
    }
    if (steepest > 0) edge.push_back(circle.centre + where * out);
  }
  return edge;
}

/// A head's outline and how coherent it is.
struct FoundHead {
  RivetOutline outline;
  double coherence = 0;
};

/// The head in `slopes` near a place, its outline a circle of about `radius_mm`.
std::optional<FoundHead> refined(const Slopes& slopes, const CameraView& view, double radius_mm, const Point2& near) {
  const double scale = 1 / slopes.frame.mm_per_px;
  Scored best = most_coherent(slopes, {near, radius_mm * scale}, 0.9, 0.09, 2);
  Scored finer = best;
  for (const double dr : {-0.08, -0.04, 0.0, 0.04, 0.08}) {
    const Scored tried =
        most_coherent(slopes, {best.circle.centre, (radius_mm + dr) * scale}, 0.09, 0.03, 1);
    if (tried.value > finer.value) finer = tried;
  }
  const std::vector<Point2> edge = strongest_near(slopes, finer.circle, 0.12 * scale);
  const auto fit = fit_circle(edge, {.loss = Loss::kTukey, .least_sigma = 0.2, .ordered = true});
  if (!fit.ok() || (fit->circle.centre - finer.circle.centre).norm() > 0.15 * scale) return std::nullopt;
  RivetOutline outline;
  for (std::size_t i = 0; i < edge.size(); ++i) {
    if (fit->weights[i] > 0.3) outline.rim_px.push_back(slopes.in_photo(view, edge[i]));
  }
  if (outline.rim_px.size() * 2 < kDirections || finer.value < kLeastCoherence) return std::nullopt;
  outline.centre_px = slopes.in_photo(view, fit->circle.centre);
  const double u_mm = std::sqrt(std::max(fit->covariance(0, 0), fit->covariance(1, 1))) * slopes.frame.mm_per_px;
  outline.u_px = u_mm / view.mm_per_px(outline.centre_px, slopes.frame.height_mm);
  return FoundHead{outline, finer.value};
}

/// Highlights and the rims of links can put a head's coarse place so far off that its outline is out of reach: a head
/// that lies off the middle of its neighbours is looked for there too (spacings differ by half a millimetre at most).
void look_between(std::vector<std::optional<FoundHead>>& found, const std::vector<Slopes>& heads,
                  const CameraView& view, double radius_mm) {
  constexpr double kOffMm = 0.4;
  const auto place = [&](std::size_t k) {
    return view.at_height(found[k]->outline.centre_px, heads[k].frame.height_mm);
  };
  for (std::size_t k = 1; k + 1 < found.size(); ++k) {
    if (!found[k - 1] || !found[k + 1]) continue;
    const Point2 middle = 0.5 * (place(k - 1) + place(k + 1));
    if (found[k] && (place(k) - middle).norm() < kOffMm) continue;
    auto between = refined(heads[k], view, radius_mm, heads[k].frame.shown(middle));
    if (between && (!found[k] || between->coherence > found[k]->coherence)) found[k] = std::move(between);
  }
}

/// The places of the heads that were found.
std::vector<Point2> those_seen(const std::vector<std::optional<Point2>>& places) {
  std::vector<Point2> seen;
  for (const auto& place : places) {
    if (place) seen.push_back(*place);
  }
  return seen;
}

/// For each head that stands off the row of the others, where that says it is.
std::vector<std::optional<Point2>> places_elsewhere(const std::vector<std::optional<Point2>>& seen) {
  // What a slight bow and the joints' play put it off by is less, and within the alignment's reach.
  constexpr double kOffMm = 0.5;
  auto places = places_in_row(seen);
  for (std::size_t k = 0; k < seen.size(); ++k) {
    if (!seen[k] || (places[k] && (*places[k] - *seen[k]).norm() < kOffMm)) places[k].reset();
  }
  return places;
}

/// The heads aligned. A circle mistaken for a head is out of the alignment's reach: what stands off the row of the
/// others is looked for again where that says it is. Where nothing there looks like the others either, it is in doubt
/// by as much as it was off.
std::vector<AlignedHead> aligned_in_row(const cv::Mat& bgr, const CameraView& view,
                                        std::vector<std::optional<Point2>> centres, double radius_mm,
                                        double height_mm) {
  constexpr double kLikeOthers = 0.5;
  const auto align = [&] {
    const auto roughly = align_heads(bgr, view, those_seen(centres), radius_mm, height_mm);
    return align_rims(bgr, view, roughly, radius_mm, height_mm);
  };
  const auto heads = align();
  auto head = heads.begin();
  for (auto& c : centres) {
    if (c) c = (head++)->centre_mm;
  }
  const auto elsewhere = places_elsewhere(centres);
  if (std::ranges::none_of(elsewhere, [](const auto& place) { return place.has_value(); })) return heads;
  std::vector<double> off;
  for (std::size_t k = 0; k < centres.size(); ++k) {
    if (!centres[k]) continue;
    off.push_back(elsewhere[k] ? (*elsewhere[k] - *centres[k]).norm() : 0);
    if (elsewhere[k]) centres[k] = elsewhere[k];
  }
  auto again = align();
  for (std::size_t i = 0; i < again.size(); ++i) {
    if (again[i].likeness < kLikeOthers) again[i].u_mm = std::max(again[i].u_mm, off[i]);
  }
  return again;
}

/// Distance, mm, at which most of all heads' outlines lie from their centres.
double usual_rim_mm(const std::vector<std::optional<RivetOutline>>& outlines, const CameraView& view,
                    double height_mm) {
  std::vector<double> distances;
  for (const auto& outline : outlines) {
    if (!outline) continue;
    const Point2 centre = view.at_height(outline->centre_px, height_mm);
    for (const Point2& p : outline->rim_px) distances.push_back((view.at_height(p, height_mm) - centre).norm());
  }
  return median(std::move(distances));
}

/// Highlights wander over a dome as the sight line turns along the row, evenly with the distance, and take the aligned
/// centres with them; the outlines stay. So the aligned row is stretched, along itself, to the outlines' (the median of
/// all pairs' ratios; Theil 1950, Sen 1968).
void stretch_to(const std::vector<Point2>& outlines_mm, std::vector<AlignedHead>& aligned) {
  const Point2 first = aligned.front().centre_mm;
  const Point2 along = (aligned.back().centre_mm - first).normalized();
  std::vector<double> ratios;
  for (std::size_t i = 0; i < aligned.size(); ++i) {
    for (std::size_t j = i + 1; j < aligned.size(); ++j) {
      const double moved = (aligned[j].centre_mm - aligned[i].centre_mm).dot(along);
      // Weighted by distance: a pair counts once for every pitch or so that it spans.
      const int times = std::max(1, static_cast<int>(moved / kLeastSpacingMm));
      ratios.insert(ratios.end(), times, (outlines_mm[j] - outlines_mm[i]).dot(along) / moved);
    }
  }
  const double ratio = median(ratios);
  const Point2 middle = 0.5 * (first + aligned.back().centre_mm);
  for (AlignedHead& head : aligned) {
    head.centre_mm += (ratio - 1) * (head.centre_mm - middle).dot(along) * along;
  }
}

}  // namespace

RivetRow find_rivet_row(const cv::Mat& grey, double mm_per_px) {
  CV_Assert(grey.type() == CV_8UC1);
  const std::vector<EdgePixel> pixels = edge_pixels(grey);
  cv::Mat best = cv::Mat::zeros(grey.size(), CV_32F);
  Votes votes(grey.size(), kMostRadiusMm / mm_per_px);
  const int apart = cvRound(kLeastRadiusMm / mm_per_px);
  cv::Mat smoothed;
  SupportedRow most;
  const auto consider = [&](const cv::Mat& of) {
    SupportedRow found = best_row(peaks_of(of, apart), mm_per_px);
    if (found.support > most.support) most = std::move(found);
  };
  // Smoothed votes hardly change over a pixel and a half of radius.
  for (double r = kLeastRadiusMm / mm_per_px; r <= kMostRadiusMm / mm_per_px; r += 1.5) {
    votes.take(pixels, static_cast<float>(r), smoothed);
    cv::max(best, smoothed, best);
    // One chain has one kind of rivet: where highlights beside the heads have the most votes of all, the heads may
    // still stand in a row by themselves.
    consider(smoothed);
  }
  consider(best);
  return std::move(most.row);
}

std::vector<std::optional<RivetOutline>> refine_rivets(const cv::Mat& bgr, const CameraView& view,
                                                       const std::vector<RivetSearch>& searches) {
  std::vector<Slopes> heads;
  for (const RivetSearch& search : searches) heads.push_back(slopes_round(bgr, view, search));
  const double radius_mm = common_radius_mm(heads);
  std::vector<std::optional<FoundHead>> found;
  for (const Slopes& slopes : heads) found.push_back(refined(slopes, view, radius_mm, slopes.middle()));
  look_between(found, heads, view, radius_mm);
  std::vector<std::optional<RivetOutline>> outlines;
  std::vector<std::optional<Point2>> places(found.size());
  for (std::size_t k = 0; k < found.size(); ++k) {
    outlines.push_back(found[k] ? std::optional(found[k]->outline) : std::nullopt);
    if (found[k]) places[k] = view.at_height(found[k]->outline.centre_px, heads[k].frame.height_mm);
  }
  const std::vector<Point2> centres = those_seen(places);
  if (centres.size() < 2) return outlines;
  const double height_mm = searches.front().height_mm;
  auto aligned = aligned_in_row(bgr, view, places, radius_mm, height_mm);
  stretch_to(centres, aligned);
  const double rim_mm = usual_rim_mm(outlines, view, height_mm);
  auto next = aligned.begin();
  for (auto& outline : outlines) {
    if (!outline) continue;
    outline->centre_px = view.pixel({next->centre_mm.x(), next->centre_mm.y(), -height_mm});
    outline->u_px = next->u_mm / view.mm_per_px(outline->centre_px, height_mm);
    outline->rim_px.clear();
    for (const Point2& out : all_directions()) {
      const Point2 at = next->centre_mm + rim_mm * out;
      outline->rim_px.push_back(view.pixel({at.x(), at.y(), -height_mm}));
    }
    ++next;
  }
  return outlines;
}

}  // namespace glintline
