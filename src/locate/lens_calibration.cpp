#include "locate/lens_calibration.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "base/text.h"
#include "locate/find_saddles.h"
#include "locate/locate_card.h"
#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kDegree = M_PI / 180;
// A photograph misses unusually: its card lay otherwise, or the camera focused or zoomed otherwise.
constexpr double kUnusualTimes = 3;
constexpr double kUnusualFloorPx = 0.3;
// A focal length known no better than this is no better than the one a photograph's EXIF tells (camera_prior.cpp).
constexpr double kUselessFocalU = 0.05;
// Autofocus moves it by about as much from one picture to the next (camera_prior.cpp): better is not needed.
constexpr double kGoodFocalU = 0.005;
constexpr double kGoodTiltRad = 15 * kDegree;
constexpr double kGoodCoverage = 0.6;
// Beyond the outermost crossing the distortion is a guess.
constexpr double kGoodReach = 0.75;  // of the half diagonal, in each quarter of the picture
constexpr double kNotableStretch = 0.002;

double rms_of(const std::vector<LensMiss>& misses) {
  double squares = 0;
  int kept = 0;
  for (const LensMiss& m : misses) {
    if (m.weight <= 0) continue;
    squares += m.miss_px.squaredNorm();
    ++kept;
  }
  return std::sqrt(squares / std::max(1, 2 * kept));
}

/// Also of the crossings thrown out: a picture off as a whole must not pass by throwing out most of itself.
double typical_miss(const std::vector<Point2>& residuals) {
  constexpr double kMedianLength = 1.17741;  // median of |r| / s of a two-dimensional normal residual: sqrt(2 ln 2)
  std::vector<double> lengths;
  for (const Point2& r : residuals) lengths.push_back(r.norm());
  return median(lengths) / kMedianLength;
}

LensPhoto photo_of(const LensSight& sight, const LensFit& fit, std::size_t i) {
  LensPhoto photo;
  photo.path = sight.path;
  photo.tilt_rad = std::acos(std::clamp(std::abs(fit.camera_from_board[i].rotation(2, 2)), 0.0, 1.0));
  for (std::size_t k = 0; k < sight.seen.size(); ++k) {
    photo.misses.push_back({sight.seen[k].px, fit.residuals_px[i][k], fit.weights[i][k]});
  }
  photo.rms_px = rms_of(photo.misses);
  return photo;
}

struct Chosen {
  std::vector<LensSight> sights;
  std::vector<LensPhoto> left_out;
  LensFit fit;
};

/// Fits, and leaves out the photograph that misses most unusually, until none does.
Chosen chosen(std::vector<LensSight> sights, const cv::Size& stored, const SheetPrior& sheet) {
  Chosen result;
  while (true) {
    std::vector<BoardSight> seen;
    for (const LensSight& s : sights) seen.push_back(s.seen);
    result.fit = fit_lens(seen, stored, sheet);
    std::vector<double> misses;
    for (const auto& residuals : result.fit.residuals_px) misses.push_back(typical_miss(residuals));
    const auto worst = std::max_element(misses.begin(), misses.end());
    const double usual = median(misses);
    const bool unusual = *worst > std::max(kUnusualTimes * usual, kUnusualFloorPx);
    if (!unusual || sights.size() <= static_cast<std::size_t>(kNeededLensPhotos)) break;
    const auto i = static_cast<std::size_t>(worst - misses.begin());
    LensPhoto out = photo_of(sights[i], result.fit, i);
    out.left_out = "its crossings miss by " + fixed(*worst, 2) + " px where the others miss by " + fixed(usual, 2) +
                   ": other focus or zoom, or the card bent";
    result.left_out.push_back(std::move(out));
    sights.erase(sights.begin() + static_cast<std::ptrdiff_t>(i));
  }
  result.sights = std::move(sights);
  return result;
}

double covered_share(const LensCalibration& lens) {
  std::set<std::pair<int, int>> cells;
  for (const LensPhoto& photo : lens.photos) {
    if (photo.left_out) continue;
    for (const LensMiss& m : photo.misses) {
      cells.insert({static_cast<int>(kCoverageColumns * (m.px.x() + 0.5) / lens.width),
                    static_cast<int>(kCoverageRows * (m.px.y() + 0.5) / lens.height)});
    }
  }
  return static_cast<double>(cells.size()) / (kCoverageColumns * kCoverageRows);
}

/// How far out crossings lie in each quarter (top left, top right, bottom left, bottom right), over the half diagonal.
std::array<double, 4> reach_of(const LensCalibration& lens) {
  const Point2 middle((lens.width - 1) / 2.0, (lens.height - 1) / 2.0);
  std::array<double, 4> reach{};
  for (const LensPhoto& photo : lens.photos) {
    if (photo.left_out) continue;
    for (const LensMiss& m : photo.misses) {
      const Point2 off = m.px - middle;
      double& quarter = reach[(off.x() > 0 ? 1 : 0) + (off.y() > 0 ? 2 : 0)];
      quarter = std::max(quarter, off.norm() / middle.norm());
    }
  }
  return reach;
}

void warn_of_tilt(LensCalibration& lens) {
  double steepest = 0;
  for (const LensPhoto& photo : lens.photos) {
    if (!photo.left_out) steepest = std::max(steepest, photo.tilt_rad);
  }
  const double u = lens.camera.u_focal_rel;
  if (u <= kGoodFocalU && steepest >= kGoodTiltRad) return;
  lens.warnings.push_back("the focal length is known to +-" + fixed(100 * kCoverage * u, 1) +
                          " %, the steepest tilt is " + fixed(steepest / kDegree, 0) +
                          " degrees: add photographs tilted by 20 to 30 degrees towards each side");
}

void warn_of_coverage(LensCalibration& lens) {
  constexpr std::array<const char*, 4> kQuarters{"top left", "top right", "bottom left", "bottom right"};
  const std::array<double, 4> reach = reach_of(lens);
  std::string bare;
  for (std::size_t i = 0; i < reach.size(); ++i) {
    if (reach[i] < kGoodReach) bare += (bare.empty() ? "" : ", ") + std::string(kQuarters[i]);
  }
  if (!bare.empty()) {
    lens.warnings.push_back("no crossing near the corner " + bare +
                            ": the distortion there is a guess; move the card into the corners");
  } else if (lens.covered < kGoodCoverage) {
    lens.warnings.push_back("crossings in " + fixed(100 * lens.covered, 0) +
                            " % of the picture only: move the card about, or go nearer");
  }
}

void warn_of_sheet(LensCalibration& lens, const SheetPrior& sheet) {
  if (std::abs(lens.print_unlike) > std::max(kNotableStretch, 2 * sheet.u_unlike)) {
    lens.warnings.push_back("the print is " + fixed(100 * std::abs(lens.print_unlike), 1) + " % longer along its " +
                            (lens.print_unlike > 0 ? "width than along its height" : "height than along its width") +
                            " than told: measure its two check bars");
  }
  const double bow = std::max(std::abs(lens.bow_x_mm), std::abs(lens.bow_y_mm));
  if (bow > 0.4 * sheet.u_bow_mm) {
    lens.warnings.push_back("the card was bowed by " + fixed(bow, 2) + " mm: glue it to something flat and try again");
  }
}

std::optional<Error> too_few(std::size_t count) {
  if (count >= static_cast<std::size_t>(kNeededLensPhotos)) return std::nullopt;
  return Error{Fault::kNotMeasurable,
               counted(static_cast<int>(count), "photograph") + " of the card can be used, " +
                   std::to_string(kNeededLensPhotos) + " needed: take more, the card tilted towards different sides",
               ""};
}

}  // namespace

Result<CardSight> lens_sight(const Photo& photo, const Setup& setup) {
  const Result<CardSaddles> card = find_saddles(photo, setup);
  if (!card) return card.error();
  if (static_cast<int>(card->saddles.size()) < kNeededSaddles) {
    return Error{Fault::kCardHidden,
                 counted(static_cast<int>(card->saddles.size()), "crossing") + " of the card's squares clear, " +
                     std::to_string(kNeededSaddles) + " needed: focus, uncover the card or go nearer",
                 photo.path};
  }
  const cv::Size stored = photo.stored_size();
  CardSight result{{photo.path, {}}, card->layout};
  for (const SeenSaddle& s : card->saddles) {
    const Point2 true_mm(s.printed.at_mm.x() * setup.print.x, s.printed.at_mm.y() * setup.print.y);
    result.sight.seen.push_back(
        {true_mm, stored_pixel(s.px, stored.width, stored.height, photo.exif.orientation), s.u_px});
  }
  return result;
}

SheetPrior sheet_prior(const CardLayout& layout, const PrintScale& print) {
  SheetPrior sheet;
  sheet.size_mm = Point2(layout.width_mm() * print.x, layout.height_mm() * print.y);
  // Two bars are read independently; a print nobody measured is stretched unlike by about as much (card_fit.cpp).
  sheet.u_unlike = print.measured ? print.u_rel * std::sqrt(2.0) : print.u_rel;
  sheet.u_bow_mm = 0.3 * layout.width_mm() / 105;
  return sheet;
}

LensCalibration calibrate_lens(const std::vector<LensSight>& sights, const cv::Size& stored, const SheetPrior& sheet) {
  LensCalibration lens;
  lens.width = stored.width;
  lens.height = stored.height;
  if (auto error = too_few(sights.size())) {
    for (const LensSight& s : sights) lens.photos.push_back({s.path, std::nullopt, 0, 0, {}});
    lens.refusal = std::move(error);
    return lens;
  }
  const Chosen found = chosen(sights, stored, sheet);
  lens.camera = found.fit.camera;
  lens.covariance = found.fit.covariance;
  lens.print_unlike = found.fit.unlike;
  lens.bow_x_mm = found.fit.bow_x_mm;
  lens.bow_y_mm = found.fit.bow_y_mm;
  lens.scatter = found.fit.scatter;
  std::vector<LensMiss> all;
  for (std::size_t i = 0; i < found.sights.size(); ++i) {
    lens.photos.push_back(photo_of(found.sights[i], found.fit, i));
    all.insert(all.end(), lens.photos.back().misses.begin(), lens.photos.back().misses.end());
  }
  lens.photos.insert(lens.photos.end(), found.left_out.begin(), found.left_out.end());
  lens.rms_px = rms_of(all);
  lens.covered = covered_share(lens);
  if (!(lens.camera.u_focal_rel <= kUselessFocalU)) {
    lens.refusal = Error{Fault::kNotMeasurable,
                         "the focal length stays unknown by " + fixed(100 * kCoverage * lens.camera.u_focal_rel, 0) +
                             " %: add photographs with the card tilted by 20 to 30 degrees towards each side",
                         ""};
    return lens;
  }
  warn_of_tilt(lens);
  warn_of_coverage(lens);
  warn_of_sheet(lens, sheet);
  return lens;
}

}  // namespace glintline
