#include "trace/plan_plates.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "math/parabola.h"
#include "math/statistics.h"
#include "trace/plan_surface.h"

namespace glintline {

namespace {

/// Limits of what can be a top plate. TRADE.md's new plate is 9 to 11 by 4 to 6.5 mm and is retired at 3 to 4 mm of
/// length; wider bounds so that nothing real is lost.
constexpr double kLeastWidthMm = 3;
constexpr double kMostWidthMm = 9;
constexpr double kLeastLengthMm = 2;
constexpr double kMostLengthMm = 14;
/// Rear end against the square to the chain, and sides against the chain: tapers and a slot that lies askew.
constexpr double kMostSkew = 0.16;
/// Edge angles of 8 to 50 degrees, plus skew.
constexpr double kLeastLean = 0.14;
constexpr double kMostLean = 1.2;
/// An outline may be missing in part (dirt, no contrast), but not for the most part.
constexpr double kLeastSupport = 0.45;
/// A side that lies over the field has half of that at most; an eighth of it may be hidden as well.
constexpr double kLeastSideSupport = 0.4;
/// The cutting edge may lose half of itself to a chip and look like the metal beneath for the rest.
constexpr double kLeastFrontSupport = 0.3;
/// Supported less unsupported outline from which a candidate is a plate: less is chance.
constexpr double kLeastScoreMm = 5;
/// Lines looked at for every 20 mm of band: a link of the chain shows some ten edges across it, and slot and squares
/// have longer ones, each of which makes several lines (by experiment: 12 lost a rear end among them).
constexpr int kRearPeaks = 20;
constexpr double kFrontPeaks = 20;

/// An edge beside the field is most likely the slot's own rim, but a plate may stand over the field too: it counts
/// half.
constexpr int kFullWeight = 2;
constexpr int kRimWeight = 1;

/// Thin edges of the band.
struct EdgeMap {
  cv::Mat transverse;  ///< CV_32F, the line's slope dx/dy of edges that cross the chain, NaN where there is none
  cv::Mat lengthwise;  ///< CV_8U, weight of edges along the chain
  cv::Mat weight;      ///< CV_8U, kRimWeight near the field, else kFullWeight
};

struct Gradient {
  int x = 0;
  int y = 0;
};

/// Gradient of the channel that changes most: plate and slip may be alike in brightness, not in colour.
Gradient strongest(const cv::Vec3s& gx, const cv::Vec3s& gy) {
  Gradient best;
  int most = -1;
  for (int c = 0; c < 3; ++c) {
    const int size = std::abs(gx[c]) + std::abs(gy[c]);
    if (size > most) {
      most = size;
      best = {gx[c], gy[c]};
    }
  }
  return best;
}

/// Strengths along x and along y of every sample.
struct GradientField {
  cv::Mat x;  ///< CV_16S
  cv::Mat y;
  int floor = 0;  ///< gradients under this are noise and texture
};

GradientField gradients(const PlanBand& band) {
  cv::Mat smooth;
  cv::GaussianBlur(band.bgr, smooth, cv::Size(3, 3), 0);
  cv::Mat gx;
  cv::Mat gy;
  cv::Sobel(smooth, gx, CV_16S, 1, 0);
  cv::Sobel(smooth, gy, CV_16S, 0, 1);
  GradientField out{cv::Mat(gx.size(), CV_16S), cv::Mat(gx.size(), CV_16S), 0};
  std::vector<int> counts(4096, 0);
  for (int j = 0; j < gx.rows; ++j) {
    for (int i = 0; i < gx.cols; ++i) {
      const Gradient g = strongest(gx.at<cv::Vec3s>(j, i), gy.at<cv::Vec3s>(j, i));
      out.x.at<short>(j, i) = static_cast<short>(g.x);
      out.y.at<short>(j, i) = static_cast<short>(g.y);
      ++counts[std::min(4095, std::abs(g.x))];
    }
  }
  // Twice the upper quartile of the transverse gradient, at least 3 grey levels a sample (24 in Sobel's units).
  int seen = 0;
  int quartile = 0;
  while (quartile < 4095 && seen < 0.75 * gx.total()) seen += counts[quartile++];
  out.floor = std::max(24, 2 * quartile);
  return out;
}

/// kRimWeight within 0.2 mm of the field; thin blue mirror images on rounded rims are no field.
cv::Mat rim_weights(const PlanBand& band) {
  const int reach = std::max(1, static_cast<int>(0.2 / band.frame.mm_per_px));
  const cv::Mat block = cv::getStructuringElement(cv::MORPH_RECT, cv::Size(2 * reach + 1, 2 * reach + 1));
  cv::Mat solid;
  cv::morphologyEx(band.field, solid, cv::MORPH_OPEN, block);
  cv::dilate(solid, solid, block);
  cv::Mat weight(solid.size(), CV_8U, cv::Scalar(kFullWeight));
  weight.setTo(kRimWeight, solid);
  return weight;
}

EdgeMap edge_map(const PlanBand& band) {
  const GradientField g = gradients(band);
  EdgeMap map{cv::Mat(g.x.size(), CV_32F, cv::Scalar(NAN)), cv::Mat(g.x.size(), CV_8U, cv::Scalar(0)),
              rim_weights(band)};
  for (int j = 1; j + 1 < g.x.rows; ++j) {
    const short* gx = g.x.ptr<short>(j);
    const short* gy = g.y.ptr<short>(j);
    for (int i = 1; i + 1 < g.x.cols; ++i) {
      const int ax = std::abs(gx[i]);
      const int ay = std::abs(gy[i]);
      const bool crest_x = ax >= std::abs(gx[i - 1]) && ax > std::abs(gx[i + 1]);
      if (ax > g.floor && ax * kMostLean >= ay && crest_x) {
        map.transverse.at<float>(j, i) = -static_cast<float>(gy[i]) / static_cast<float>(gx[i]);
      }
      const bool crest_y = ay >= std::abs(g.y.at<short>(j - 1, i)) && ay > std::abs(g.y.at<short>(j + 1, i));
      if (ay > g.floor && ay * 2 * kMostSkew >= ax && crest_y)
        map.lengthwise.at<uchar>(j, i) = map.weight.at<uchar>(j, i);
    }
  }
  return map;
}

/// A line across the chain: x = at + slope (y - rows / 2).
struct CrossLine {
  double at = 0;
  double slope = 0;
  double votes = 0;

  [[nodiscard]] double x(double y, int rows) const { return at + slope * (y - rows / 2.0); }
};

constexpr double kSlopeStep = 0.03;

/// Votes of the transverse edges for lines of slope `first` to `last` (dx/dy).
std::vector<CrossLine> voted_lines(const EdgeMap& map, double first, double last, double peaks, double least_votes) {
  const int slopes = static_cast<int>((last - first) / kSlopeStep) + 1;
  const int rows = map.transverse.rows;
  const int cols = map.transverse.cols;
  const int shift = static_cast<int>(std::max(std::abs(first), std::abs(last)) * rows / 2) + 2;
  cv::Mat votes(slopes, cols + 2 * shift, CV_32F, cv::Scalar(0));
  for (int j = 0; j < rows; ++j) {
    const float* row = map.transverse.ptr<float>(j);
    for (int i = 0; i < cols; ++i) {
      if (!(row[i] > first - 0.2 && row[i] < last + 0.2)) continue;
      const int from = std::max(0, static_cast<int>((row[i] - 0.2 - first) / kSlopeStep));
      const int to = std::min(slopes - 1, static_cast<int>((row[i] + 0.2 - first) / kSlopeStep));
      for (int k = from; k <= to; ++k) {
        const double at = i - (first + k * kSlopeStep) * (j - rows / 2.0);
        votes.at<float>(k, static_cast<int>(at + shift + 0.5)) += 1;
      }
    }
  }
  cv::blur(votes, votes, cv::Size(3, 1));
  std::vector<CrossLine> out;
  while (static_cast<double>(out.size()) < peaks) {
    double most = 0;
    cv::Point where;
    cv::minMaxLoc(votes, nullptr, &most, nullptr, &where);
    // A third of the fewest edge samples that a plate's side can have: the votes are means of three.
    if (!(most > least_votes)) break;
    out.push_back({static_cast<double>(where.x - shift), first + where.y * kSlopeStep, most});
    const int reach = 5;
    const cv::Rect spot(where.x - reach, where.y - 3, 2 * reach + 1, 7);
    votes(spot & cv::Rect(0, 0, votes.cols, votes.rows)).setTo(0);
  }
  return out;
}

/// Sum over the rows up to j of the weights of edges of about the line's slope on the line; `rims` tells whether edges
/// beside the field count in full (the slip lies against the cutting edge, nothing against the rear end).
std::vector<int> support_along(const EdgeMap& map, const CrossLine& line, bool rims) {
  const int rows = map.transverse.rows;
  std::vector<int> sum(rows + 1, 0);
  for (int j = 0; j < rows; ++j) {
    const int x = static_cast<int>(line.x(j, rows) + 0.5);
    int found = 0;
    for (int i = std::max(0, x - 1); i <= std::min(map.transverse.cols - 1, x + 1); ++i) {
      const bool fits = std::abs(map.transverse.at<float>(j, i) - line.slope) < 0.3;
      if (fits) found = std::max(found, rims ? kFullWeight : static_cast<int>(map.weight.at<uchar>(j, i)));
    }
    sum[j + 1] = sum[j] + found;
  }
  return sum;
}

/// A line across the chain that may end a plate, and its support over the rows.
struct EndLine {
  CrossLine line;
  std::vector<int> sum;     ///< support_along
  std::vector<bool> sides;  ///< rows that may be a side of a plate it ends
};

/// The rows from which to another one, at least as far off as a plate is wide, a line has `share` of full support.
std::vector<bool> possible_sides(const std::vector<int>& sum, double share, double mm_per_px) {
  const int rows = static_cast<int>(sum.size());
  const int least = static_cast<int>(kLeastWidthMm / mm_per_px);
  const auto over = [&](int y) { return sum[y] - share * kFullWeight * y; };
  constexpr double kRounding = 1e-6;
  std::vector<bool> out(rows, false);
  double lowest = std::numeric_limits<double>::infinity();
  for (int y = least; y < rows; ++y) {
    lowest = std::min(lowest, over(y - least));
    if (over(y) > lowest - kRounding) out[y] = true;
  }
  double highest = -std::numeric_limits<double>::infinity();
  for (int y = rows - 1 - least; y >= 0; --y) {
    highest = std::max(highest, over(y + least));
    if (over(y) < highest + kRounding) out[y] = true;
  }
  return out;
}

EndLine end_line(const EdgeMap& map, const CrossLine& line, bool rims, double share, double mm_per_px) {
  EndLine out{line, support_along(map, line, rims), {}};
  out.sides = possible_sides(out.sum, share, mm_per_px);
  return out;
}

/// For lines along the chain, y = at + slope (x - cols / 2): how many columns up to x show an edge there.
constexpr double kSideSlopeStep = 0.02;

class SideSupport {
 public:
  explicit SideSupport(const cv::Mat& lengthwise) : rows_(lengthwise.rows), cols_(lengthwise.cols) {
    cv::Mat thick;
    cv::dilate(lengthwise, thick, cv::getStructuringElement(cv::MORPH_RECT, cv::Size(1, 3)));
    for (double slope = -kMostSkew; slope <= kMostSkew + 1e-9; slope += kSideSlopeStep) {
      slopes_.push_back(slope);
      sums_.push_back(summed(thick, slope));
    }
  }

  /// Best share over all slopes, between columns x0 and x1, of the line that has row `y` in the middle of them.
  [[nodiscard]] std::pair<double, double> best(double y, double x0, double x1) const {
    std::pair<double, double> out{0, 0};
    const int from = std::clamp(static_cast<int>(x0), 0, cols_);
    const int to = std::clamp(static_cast<int>(x1), 0, cols_);
    for (std::size_t k = 0; k < slopes_.size(); ++k) {
      const int at = static_cast<int>(y - slopes_[k] * ((x0 + x1) / 2 - cols_ / 2.0) + 0.5);
      if (at < 0 || at >= rows_ || to <= from) continue;
      const int* row = sums_[k].ptr<int>(at);
      const double share = (row[to] - row[from]) / (kFullWeight * (x1 - x0));
      if (share > out.first) out = {share, slopes_[k]};
    }
    return out;
  }

 private:
  /// Columns that a slope moves alike.
  struct Run {
    int first = 0;
    int last = 0;  ///< behind it
    int shift = 0;
  };

  [[nodiscard]] std::vector<Run> runs(double slope) const {
    std::vector<Run> out;
    for (int i = 0; i < cols_; ++i) {
      const int shift = static_cast<int>(std::lround(slope * (i - cols_ / 2.0)));
      if (out.empty() || out.back().shift != shift) out.push_back({i, i, shift});
      out.back().last = i + 1;
    }
    return out;
  }

  [[nodiscard]] cv::Mat summed(const cv::Mat& thick, double slope) const {
    cv::Mat sum(rows_, cols_ + 1, CV_32S);
    const std::vector<Run> alike = runs(slope);
    for (int j = 0; j < rows_; ++j) {
      int* out = sum.ptr<int>(j);
      int so_far = 0;
      *out++ = so_far;
      for (const Run& run : alike) {
        const int y = j + run.shift;
        if (y < 0 || y >= rows_) {
          out = std::fill_n(out, run.last - run.first, so_far);
          continue;
        }
        const uchar* in = thick.ptr<uchar>(y);
        for (int i = run.first; i < run.last; ++i) *out++ = so_far += in[i];
      }
    }
    return sum;
  }

  int rows_;
  int cols_;
  std::vector<double> slopes_;
  std::vector<cv::Mat> sums_;
};

struct Side {
  double y = 0;
  double slope = 0;
  double share = 0;
  double length = 0;
};

/// The pieces a plate is put together from.
struct Pieces {
  const PlanBand& band;
  const EdgeMap& map;
  SideSupport sides;
};

/// Candidate sides between a rear line and a front line: crests of the support over the rows that both lines allow.
std::vector<Side> sides_between(const Pieces& pieces, const EndLine& rear_end, const EndLine& front_end) {
  const CrossLine& rear = rear_end.line;
  const CrossLine& front = front_end.line;
  const int rows = pieces.map.transverse.rows;
  const auto allowed = [&](int y) { return rear_end.sides[y] && front_end.sides[y]; };
  std::vector<Side> all(rows);
  for (int y = 0; y < rows; ++y) {
    // A row's neighbours tell whether it is a crest.
    if (!allowed(y) && !(y > 0 && allowed(y - 1)) && !(y + 1 < rows && allowed(y + 1))) continue;
    const double x0 = std::min(rear.x(y, rows), front.x(y, rows));
    const double x1 = std::max(rear.x(y, rows), front.x(y, rows));
    const bool ahead = (front.x(y, rows) - rear.x(y, rows)) * (front.at - rear.at) > 0;
    if (!ahead || x1 - x0 < 0.4 * kLeastLengthMm / pieces.band.frame.mm_per_px) continue;
    const auto [share, slope] = pieces.sides.best(y, x0, x1);
    all[y] = {static_cast<double>(y), slope, share, x1 - x0};
  }
  std::vector<Side> out;
  for (int y = 1; y + 1 < rows; ++y) {
    const bool crest = all[y].share >= all[y - 1].share && all[y].share > all[y + 1].share;
    if (allowed(y) && crest && all[y].share > kLeastSideSupport) out.push_back(all[y]);
  }
  return out;
}

/// True where the rear line's edges go on beyond both sides: the slot's end, or a part that is wider than the plate.
bool runs_on(const std::vector<int>& rear_sum, int up, int low, double mm_per_px) {
  const int way = static_cast<int>(0.8 / mm_per_px);
  const int gap = static_cast<int>(0.15 / mm_per_px);
  const int last = static_cast<int>(rear_sum.size()) - 1;
  const auto share = [&](int from, int to) {
    const int a = std::clamp(from, 0, last);
    const int b = std::clamp(to, 0, last);
    return static_cast<double>(rear_sum[b] - rear_sum[a]) / way;
  };
  const double any = 0.6 * kRimWeight;
  const bool above = share(up - gap - way, up - gap) > any;
  const bool below = share(low + gap, low + gap + way) > any;
  const bool rim = rear_sum[low] - rear_sum[up] < 1.2 * kRimWeight * (low - up);
  return (above && below) || (rim && (above || below));
}

/// Where a line across meets a side between `rear` and `front`.
Point2 met(const CrossLine& line, const Side& side, const CrossLine& rear, const CrossLine& front, int rows) {
  const double middle = (rear.x(side.y, rows) + front.x(side.y, rows)) / 2;
  double y = side.y;
  for (int round = 0; round < 3; ++round) y = side.y + side.slope * (line.x(y, rows) - middle);
  return {line.x(y, rows), y};
}

/// Best pair of sides for a rear and a front; score 0 where none holds.
PlateCandidate best_plate(const Pieces& pieces, const EndLine& rear_end, const EndLine& front_end) {
  const CrossLine& rear = rear_end.line;
  const CrossLine& front = front_end.line;
  const std::vector<int>& rear_sum = rear_end.sum;
  const std::vector<int>& front_sum = front_end.sum;
  const int rows = pieces.map.transverse.rows;
  const double mm = pieces.band.frame.mm_per_px;
  PlateCandidate best;
  const std::vector<Side> sides = sides_between(pieces, rear_end, front_end);
  for (const Side& up : sides) {
    for (const Side& low : sides) {
      const double width = low.y - up.y;
      if (width * mm < kLeastWidthMm || width * mm > kMostWidthMm) continue;
      const double longest = std::max(up.length, low.length) * mm;
      if (longest < kLeastLengthMm || longest > kMostLengthMm) continue;
      const int a = static_cast<int>(up.y);
      const int b = static_cast<int>(low.y);
      const double rear_share = (rear_sum[b] - rear_sum[a]) / (kFullWeight * width);
      const double front_share = (front_sum[b] - front_sum[a]) / (kFullWeight * width);
      if (rear_share < kLeastSupport || front_share < kLeastFrontSupport) continue;
      // All rim: the slot's corner, not a plate that reaches over the field.
      if (rear_share < 0.6 && std::min(up.share, low.share) < 0.6) continue;
      if (runs_on(rear_sum, a, b, mm)) continue;
      const double front_length = width * std::hypot(1, front.slope);
      const double score = mm * ((2 * rear_share - 1) * width + (2 * front_share - 1) * front_length +
                                 (2 * up.share - 1) * up.length + (2 * low.share - 1) * low.length);
      if (score <= best.score) continue;
      best.score = score;
      best.rear = {met(rear, up, rear, front, rows), met(rear, low, rear, front, rows)};
      best.front = {met(front, up, rear, front, rows), met(front, low, rear, front, rows)};
    }
  }
  return best;
}

/// True where most of the line's neighbourhood on both sides is of the field's colour: an edge of the slip or a shadow.
bool within_field(const PlanBand& band, const CrossLine& line) {
  const int rows = band.field.rows;
  const int off = std::max(3, static_cast<int>(0.25 / band.frame.mm_per_px));
  int both = 0;
  for (int j = 0; j < rows; ++j) {
    const int x = static_cast<int>(std::lround(line.x(j, rows)));
    if (x < off || x + off >= band.field.cols) continue;
    both += band.field.at<uchar>(j, x - off) && band.field.at<uchar>(j, x + off) ? 1 : 0;
  }
  return both > 0.8 * rows;
}

/// What a candidate's shape leaves of its score. Cutters are filed at 25 to 35 degrees (TRADE.md: felling handbooks),
/// rarely at 10 or 45, and new ones are 9 to 11 mm long (TRADE.md); across the chain, though, links end in many lines
/// that are a few degrees askew, and a drive link with the straps beside it is longer than a plate.
double usual_shape_share(const PlateCandidate& p, double mm_per_px) {
  constexpr double kLeast = 15 * M_PI / 180;
  constexpr double kMost = 45 * M_PI / 180;
  constexpr double kLongestMm = 11.4;  // a print is true to 1 %, a height over the card unknown to 1 mm adds as much
  constexpr double kUnusual = 0.5;
  const auto lean = [](const std::array<Point2, 2>& end) {
    return std::atan2(end[1].x() - end[0].x(), end[1].y() - end[0].y());
  };
  const double angle = std::abs(lean(p.front) - lean(p.rear));
  const double length =
      mm_per_px * std::max(std::abs(p.front[0].x() - p.rear[0].x()), std::abs(p.front[1].x() - p.rear[1].x()));
  return angle < kLeast || angle > kMost || length > kLongestMm ? kUnusual : 1;
}

/// Length of a candidate's outline.
double outline_mm(const PlateCandidate& p, double mm_per_px) {
  const double ends = (p.rear[1] - p.rear[0]).norm() + (p.front[1] - p.front[0]).norm();
  return mm_per_px * (ends + (p.front[0] - p.rear[0]).norm() + (p.front[1] - p.rear[1]).norm());
}

/// True where ends lie apart by more than the search's own spread (tracing looks 0.25 mm to either side).
bool apart(const std::array<Point2, 2>& p, const std::array<Point2, 2>& q, double mm_per_px) {
  constexpr double kSpreadMm = 0.4;
  return std::abs(p[0].x() + p[1].x() - q[0].x() - q[1].x()) / 2 * mm_per_px > kSpreadMm;
}

/// True where both of the longer one's sides go on beyond the shorter one's rear end. That is then the end of an image
/// that the plate mirrors: what lies behind a plate, links and their rivets, has no sides in line with both of its own.
bool sides_go_on(const Pieces& pieces, const PlateCandidate& longer, const PlateCandidate& shorter) {
  // A rear end's own corners are rounded: over half a millimetre no side goes on all the way.
  constexpr double kLeastShare = 0.5;
  constexpr double kLeastMean = 0.65;
  double sum = 0;
  for (const int k : {0, 1}) {
    const auto [x0, x1] = std::minmax(longer.rear[k].x(), shorter.rear[k].x());
    const double share = pieces.sides.best((longer.rear[k].y() + shorter.rear[k].y()) / 2, x0, x1).first;
    if (share < kLeastShare) return false;
    sum += share;
  }
  return sum / 2 > kLeastMean;
}

/// What `found`, of a score `as_good` times the plate's, casts doubt on where both outlines cannot be right: the edge,
/// or the rear end alone. Of two rear ends with the same sides the farther one is the plate's.
void doubt(PlateCandidate& plate, const PlateCandidate& found, double as_good, const Pieces& pieces) {
  constexpr double kAsGood = 0.9;  // a farther one that scores less casts no doubt, but is not taken
  const double mm_per_px = pieces.band.frame.mm_per_px;
  if (plate.runs_forward() != found.runs_forward() || apart(plate.front, found.front, mm_per_px)) {
    plate.rival = std::max(plate.rival, as_good * plate.score);
  } else if (apart(plate.rear, found.rear, mm_per_px)) {
    const bool farther = outline_mm(found, mm_per_px) > outline_mm(plate, mm_per_px);
    if (!sides_go_on(pieces, farther ? found : plate, farther ? plate : found)) {
      plate.rear_rival = std::max(plate.rear_rival, as_good * plate.score);
    } else if (farther && as_good > kAsGood) {
      plate.rear = found.rear;
    }
  }
}

/// True where both can be cutters of one chain, `a` the better one: all edges face its running direction, and cutters
/// follow each other by four pitches (common practice, no source; 25 mm for the smallest pitch of TRADE.md), on a chain
/// with a cutter on every link by two; less a tenth for what is found roughly. So what lies nearer than four is
/// believed only where it looks nearly as much like a plate.
bool of_one_chain(const PlateCandidate& a, const PlateCandidate& b, double mm_per_px) {
  constexpr double kLeastApartMm = 11.4;
  constexpr double kUsuallyApartMm = 22.9;
  constexpr double kNearlyAsGood = 0.6;
  const double apart = std::abs(a.middle() - b.middle()) * mm_per_px;
  const bool far = apart > kUsuallyApartMm || (apart > kLeastApartMm && b.score > kNearlyAsGood * a.score);
  return a.runs_forward() == b.runs_forward() && far;
}

/// Edges along the chain, away from plates and rims.
std::vector<cv::Point> edges_beside(const EdgeMap& map, const std::vector<PlateCandidate>& plates, double mm_per_px) {
  const double margin = 0.3 / mm_per_px;
  std::vector<bool> beside(map.lengthwise.cols, true);
  for (const PlateCandidate& p : plates) {
    const auto [low, high] = p.columns();
    for (int i = 0; i < map.lengthwise.cols; ++i) {
      if (i > low - margin && i < high + margin) beside[i] = false;
    }
  }
  std::vector<cv::Point> edges;
  for (int j = 0; j < map.lengthwise.rows; ++j) {
    const uchar* row = map.lengthwise.ptr<uchar>(j);
    for (int i = 0; i < map.lengthwise.cols; ++i) {
      if (beside[i] && row[i] == kFullWeight) edges.emplace_back(i, j);
    }
  }
  return edges;
}

/// Line along the links beside the plates, by the slope whose lines gather most edges; none where another does as well:
/// a block's or a slot's edges need not run along the chain.
std::vector<Point2> links_beside(const EdgeMap& map, const std::vector<PlateCandidate>& plates, double mm_per_px) {
  constexpr double kStep = 0.0025;    // 0.14 degrees
  constexpr double kLeastPeak = 1.3;  // over the usual slope: less is scattered texture
  constexpr double kRival = 0.92;     // of a peak's height over the usual (by experiment: others keep under 0.9)
  constexpr int kOwnSteps = 4;        // of the peak itself
  const std::vector<cv::Point> edges = edges_beside(map, plates, mm_per_px);
  const double middle = map.lengthwise.cols / 2.0;
  const int shift = static_cast<int>(kMostSkew * middle) + 2;
  std::vector<double> scores;
  for (double slope = -kMostSkew; slope <= kMostSkew; slope += kStep) {
    std::vector<int> counts(map.lengthwise.rows + 2 * shift, 0);
    for (const cv::Point& e : edges) ++counts[static_cast<int>(e.y - slope * (e.x - middle) + shift + 0.5)];
    double sum = 0;
    for (const int c : counts) sum += static_cast<double>(c) * c;
    scores.push_back(sum);
  }
  const auto best = std::max_element(scores.begin() + 1, scores.end() - 1);
  std::vector<double> sorted = scores;
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2), sorted.end());
  const double usual = sorted[sorted.size() / 2];
  if (!(*best > kLeastPeak * usual)) return {};
  for (auto rival = scores.begin(); rival != scores.end(); ++rival) {
    if (std::abs(rival - best) > kOwnSteps && *rival - usual > kRival * (*best - usual)) return {};
  }
  const double shift_steps = apex(*(best - 1), *best, *(best + 1));
  const double slope = -kMostSkew + (static_cast<double>(best - scores.begin()) + shift_steps) * kStep;
  const double y = map.lengthwise.rows / 2.0;
  return {Point2(0, y - slope * middle), Point2(2 * middle, y + slope * middle)};
}

/// The line through two points that lie on different rows.
CrossLine through(const std::array<Point2, 2>& ends, int rows) {
  const Point2 d = ends[1] - ends[0];
  const double slope = d.x() / d.y();
  return {ends[0].x() + slope * (rows / 2.0 - ends[0].y()), slope, 0};
}

/// Share of the rows between two, both counted, on which an edge crosses within [from, to] columns of the line.
double crossed_share(const EdgeMap& map, const CrossLine& line, int y0, int y1, int from, int to) {
  int crossed = 0;
  for (int y = y0; y <= y1; ++y) {
    const int x = static_cast<int>(line.x(y, map.transverse.rows));
    const auto* row = map.transverse.ptr<float>(y);
    const float* first = row + std::clamp(x + from, 0, map.transverse.cols);
    const float* last = row + std::clamp(x + to + 1, 0, map.transverse.cols);
    crossed += std::any_of(first, last, [](float slope) { return std::isfinite(slope); }) ? 1 : 0;
  }
  return y1 < y0 ? 0 : static_cast<double>(crossed) / (y1 - y0 + 1);
}

/// A plate's outer side bends down into the side plate, by up to 2 mm of radius at a rounded corner (TRADE.md), and
/// light can part flat and bend more clearly than bend and what lies below. The outline is then the furthest line along
/// the plate up to which the rear end goes on: that may bend forwards there, but it is still an end. Beside a true side
/// lie block, slot and shadows, which run on past the rear end.
PlateCandidate with_bend(const Pieces& pieces, const PlateCandidate& plate) {
  constexpr double kFromMm = 0.25;  // tracing looks so far by itself
  constexpr double kToMm = 2;
  constexpr double kForwardMm = 1;  // the rear end's bend
  constexpr double kRimMm = 0.4;  // the rear end may have been taken inside its rounded rim, where a lamp's image ends
  constexpr double kLeastSide = 0.8;
  constexpr double kLeastRear = 0.7;  // of what a block's grain leaves
  constexpr double kEndOfRear = 0.5;
  constexpr int kMargin = 2;  // rows beside the sides
  const double mm = pieces.band.frame.mm_per_px;
  const int rows = pieces.map.transverse.rows;
  const bool forward = plate.runs_forward();
  const int outer = (plate.front[0].x() > plate.front[1].x()) == forward ? 0 : 1;
  const int way = outer == 0 ? -1 : 1;
  const CrossLine rear = through(plate.rear, rows);
  const CrossLine front = through(plate.front, rows);
  const int own = static_cast<int>((plate.rear[outer].y() + plate.front[outer].y()) / 2);
  const int to_front = static_cast<int>(kForwardMm / mm);
  const int to_back = kMargin + static_cast<int>(kRimMm / mm);
  PlateCandidate out = plate;
  double most = 0;
  for (int k = static_cast<int>(kFromMm / mm); k * mm < kToMm; ++k) {
    const int y = own + way * k;
    if (y < kMargin || y + kMargin >= rows) break;
    const double x0 = std::min(rear.x(y, rows), front.x(y, rows));
    const double x1 = std::max(rear.x(y, rows), front.x(y, rows));
    const auto [share, slope] = pieces.sides.best(y, x0, x1);
    const auto [first, last] = std::minmax({own + way * kMargin, y - way * kMargin});
    const int from = forward ? -to_back : -to_front;
    const int to = forward ? to_front : to_back;
    const double end = crossed_share(pieces.map, rear, first, last, from, to);
    if (end < kEndOfRear) break;
    // A block's grain crosses such a window on many rows, but the one behind it as well.
    const int behind = forward ? from - to - 1 : to - from + 1;
    const double grain = crossed_share(pieces.map, rear, first, last, from + behind, to + behind);
    if (share < kLeastSide || end - grain < kLeastRear * (1 - grain)) {
      most = 0;
      continue;
    }
    if (share < most) continue;
    most = share;
    const Side side{static_cast<double>(y), slope, share, x1 - x0};
    out.rear[outer] = met(rear, side, rear, front, rows);
    out.front[outer] = met(front, side, rear, front, rows);
  }
  return out;
}

}  // namespace

FoundPlates find_plates(const PlanBand& band) {
  const EdgeMap map = edge_map(band);
  const Pieces pieces{band, map, SideSupport(map.lengthwise)};
  const double lengths = std::max(1.0, band.bgr.cols * band.frame.mm_per_px / 20);
  const double least = kLeastFrontSupport * kLeastWidthMm / band.frame.mm_per_px / 3;
  std::vector<CrossLine> rears = voted_lines(map, -kMostSkew, kMostSkew, kRearPeaks * lengths, least);
  std::vector<CrossLine> fronts = voted_lines(map, kLeastLean, kMostLean, kFrontPeaks * lengths, least);
  const std::vector<CrossLine> other = voted_lines(map, -kMostLean, -kLeastLean, kFrontPeaks * lengths, least);
  fronts.insert(fronts.end(), other.begin(), other.end());
  std::erase_if(rears, [&](const CrossLine& l) { return within_field(band, l); });
  std::erase_if(fronts, [&](const CrossLine& l) { return within_field(band, l); });
  const auto ends = [&](const std::vector<CrossLine>& lines, bool rims, double share) {
    std::vector<EndLine> out;
    for (const CrossLine& line : lines) {
      EndLine end = end_line(map, line, rims, share, band.frame.mm_per_px);
      if (std::ranges::find(end.sides, true) != end.sides.end()) out.push_back(std::move(end));
    }
    return out;
  };
  const std::vector<EndLine> front_ends = ends(fronts, true, kLeastFrontSupport);
  std::vector<PlateCandidate> found;
  for (const EndLine& rear : ends(rears, false, kLeastSupport)) {
    for (const EndLine& front : front_ends) {
      const double length = std::abs(front.line.at - rear.line.at) * band.frame.mm_per_px;
      if (length < kLeastLengthMm || length > kMostLengthMm) continue;
      const PlateCandidate p = best_plate(pieces, rear, front);
      if (p.score > kLeastScoreMm) found.push_back(p);
    }
  }
  for (PlateCandidate& p : found) {
    p.score *= usual_shape_share(p, band.frame.mm_per_px) * one_surface_share(band, p);
  }
  std::erase_if(found, [](const PlateCandidate& p) { return p.score < kLeastScoreMm; });
  for (PlateCandidate& p : found) p.score *= parting_share(band, p) / std::sqrt(outline_mm(p, band.frame.mm_per_px));
  std::sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.score > b.score; });
  FoundPlates out;
  for (const PlateCandidate& p : found) {
    // To be right it would have to beat all that it contradicts; the best of them comes first.
    double best = 0;
    for (PlateCandidate& q : out.plates) {
      if (of_one_chain(q, p, band.frame.mm_per_px)) continue;
      best = std::max(best, q.score);
      doubt(q, p, p.score / best, pieces);
    }
    if (best == 0) out.plates.push_back(p);
  }
  out.links = links_beside(map, out.plates, band.frame.mm_per_px);
  for (PlateCandidate& p : out.plates) p = with_bend(pieces, p);
  return out;
}

}  // namespace glintline
