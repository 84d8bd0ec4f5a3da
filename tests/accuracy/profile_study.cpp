#include "accuracy/profile_study.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "accuracy/table_row.h"
#include "locate/locate_card.h"
#include "math/statistics.h"
#include "measure/profile_measure.h"
#include "support/truth.h"
#include "trace/profile_trace.h"

namespace glintline::testing {

namespace {

constexpr double kDegrees = 180 / std::numbers::pi;
/// Up to this sight angle about the chain the rims' unknown heights cost little of a drop.
constexpr double kNearSquareDeg = 4;
const char* const kQuantities[] = {"drop mm", "drop<4deg", "length mm", "slope deg", "hook deg", "pitch %"};

Point2 pixel_of(const nlohmann::json& cutter, const char* point) {
  const auto& px = cutter["points"][point]["px"];
  return Point2(px[0].get<double>(), px[1].get<double>());
}

std::optional<Quantity> scaled(const std::optional<Quantity>& q, double factor) {
  if (!q) return std::nullopt;
  Quantity out{q->value * factor, q->budget};
  for (BudgetLine& line : out.budget) line.u *= factor;
  return out;
}

std::string name_of(const nlohmann::json& cutter) {
  return cutter["number"].is_null() ? "-" : std::to_string(cutter["number"].get<int>());
}

/// The measured cutter whose corner, or failing that any of it, lies within a length of the true one.
const CutterMeasurement* partner(const Measurements& m, const nlohmann::json& truth) {
  const double reach = truth["length_mm"].get<double>() / truth["mm_per_px"].get<double>();
  const CutterMeasurement* best = nullptr;
  double nearest = 0.7 * reach;
  for (const CutterMeasurement& c : m.cutters) {
    if (!c.over_field) continue;
    const double d = (c.corner_px - pixel_of(truth, "corner")).norm();
    if (d < nearest) {
      nearest = d;
      best = &c;
    }
  }
  return best;
}

Eigen::Vector3d board_point(const nlohmann::json& cutter, const char* point) {
  const auto& mm = cutter["points"][point]["board_mm"];
  return Eigen::Vector3d(mm[0], mm[1], -mm[2].get<double>());
}

/// Angle about the chain, degrees, between the true sight line to the cutter's corner and the card's normal.
double sight_about_chain_deg(const nlohmann::json& truth, const nlohmann::json& cutter) {
  const Eigen::Vector3d along = board_point(cutter, "rivet_front") - board_point(cutter, "rivet_rear");
  const Eigen::Vector3d sight = exact_card_pose(truth).view.eye() - board_point(cutter, "corner");
  const Eigen::Vector2d across = Eigen::Vector2d(-along.y(), along.x()).normalized();
  return std::atan2(std::abs(across.dot(sight.head<2>())), std::abs(sight.z())) * kDegrees;
}

void compare(ProfileStudy& study, const std::string& photo, const nlohmann::json& truth, bool near_square,
             const CutterMeasurement* c) {
  const auto add = [&](const char* quantity, double value, const std::optional<Quantity>& measured) {
    study.values.push_back({photo, name_of(truth), quantity, value, measured});
  };
  add("drop mm", truth["gauge_drop_mm"], c ? c->gauge_drop_mm : std::nullopt);
  if (near_square) add("drop<4deg", truth["gauge_drop_mm"], c ? c->gauge_drop_mm : std::nullopt);
  add("length mm", truth["length_mm"], c ? c->length_mm : std::nullopt);
  add("slope deg", truth["top_slope_deg"], c ? scaled(c->top_slope_rad, kDegrees) : std::nullopt);
  // The hook is only promised from the outer side.
  if (truth["outer_face"] == "up") {
    add("hook deg", truth["hook_chord_deg"], c ? scaled(c->hook_angle_rad, kDegrees) : std::nullopt);
  }
}

/// Nothing is told, but for a chain on the bar the distance that everyone must measure there: to 0.3 mm.
Setup setup_for(const nlohmann::json& truth, std::size_t index) {
  Setup setup;
  if (truth.value("mounting", "bench") != "bar") return setup;
  constexpr double kWrong[] = {0.2, -0.1, 0.0, 0.1, -0.2};
  setup.stand_off = KnownLength{truth["stand_off_mm"].get<double>() + kWrong[index % 5], 0.15};
  return setup;
}

/// As the program traces: at the height the set-up tells of a chain on the bar.
Result<ProfileOutlines> traced(const Photo& photo, const CardPose& pose, const Setup& setup) {
  return setup.stand_off ? trace_profile(photo, pose, setup.stand_off->value_mm) : trace_profile(photo, pose);
}

void study_photo(ProfileStudy& study, const std::filesystem::path& path, const Rework& rework) {
  const auto truth = truth_of(path);
  const Setup setup = setup_for(truth, study.photos.size());
  FoundCutters found;
  found.photo = path.stem().string();
  Measurements m;
  const auto photo = read_reworked(path, rework);
  const auto pose = photo.ok() ? locate_card(*photo, setup) : Result<CardPose>(photo.error());
  const auto outlines = pose.ok() ? traced(*photo, *pose, setup) : Result<ProfileOutlines>(pose.error());
  if (outlines.ok()) {
    m = measure_profile(*outlines, *pose, setup);
  } else {
    found.refused = outlines.error().what;
  }
  std::vector<const CutterMeasurement*> partners;
  for (const auto& cutter : truth["cutters"]) {
    const CutterMeasurement* c = partner(m, cutter);
    if (c) partners.push_back(c);
    if (!lies_over_field(truth, cutter, {"corner", "gauge_outer", "rear_outer", "rivet_rear", "rivet_front"})) continue;
    ++found.over_field;
    found.found += c ? 1 : 0;
    if (c && c->hand) found.hands_wrong += (*c->hand == Hand::kLeft) != (cutter["hand"] == "left") ? 1 : 0;
    compare(study, found.photo, cutter, sight_about_chain_deg(truth, cutter) <= kNearSquareDeg, c);
  }
  for (const CutterMeasurement& c : m.cutters) {
    if (c.over_field && std::find(partners.begin(), partners.end(), &c) == partners.end()) ++found.invented;
  }
  if (!truth["cutters"].empty()) {
    const double pitch = truth["cutters"][0]["pitch_mm"];
    study.values.push_back({found.photo, "-", "pitch %", 100, scaled(m.pitch_mm, 100 / pitch)});
  }
  study.photos.push_back(found);
}

}  // namespace

ProfileStudy study_profiles(const std::filesystem::path& folder, const Rework& rework) {
  const auto paths = photographs_of(folder, "profile");
  ProfileStudy study;
  for (const auto& path : paths) study_photo(study, path, rework);
  return study;
}

Summary summary_of(const ProfileStudy& study, const std::string& quantity) {
  Summary s;
  std::vector<double> errors, sizes, u95;
  int covered = 0;
  for (const Compared& c : study.values) {
    if (c.quantity != quantity) continue;
    ++s.wanted;
    if (!c.measured) continue;
    ++s.answered;
    const double error = c.measured->value - c.truth;
    errors.push_back(error);
    sizes.push_back(std::abs(error));
    u95.push_back(kCoverage * c.measured->u());
    covered += std::abs(error) <= u95.back() ? 1 : 0;
  }
  if (errors.empty()) return s;
  s.bias = mean(errors);
  s.sd = errors.size() > 1 ? standard_deviation(errors) : 0;
  s.median_error = median(sizes);
  s.p95 = percentile(sizes, 0.95);
  s.coverage = static_cast<double>(covered) / s.answered;
  s.median_u95 = median(u95);
  return s;
}

std::string summary_table(const ProfileStudy& study, std::span<const char* const> quantities) {
  std::string text =
      row("%-10s %8s %9s %8s %8s %8s %8s %9s %8s\n", "quantity", "answered", "of", "bias", "sd", "median", "p95",
          "coverage", "med u95");
  for (const char* quantity : quantities) {
    const Summary s = summary_of(study, quantity);
    text += row("%-10s %8d %9d %+8.3f %8.3f %8.3f %8.3f %8.0f%% %8.3f\n", quantity, s.answered, s.wanted, s.bias, s.sd,
                s.median_error, s.p95, 100 * s.coverage, s.median_u95);
  }
  return text;
}

std::string table_of(const ProfileStudy& study, const std::string& title) {
  std::string text = title + "\n";
  for (const FoundCutters& f : study.photos) {
    text += row("%-18s %d over the field, %d found, %d invented, %d hands wrong%s%s\n", f.photo.c_str(), f.over_field,
                f.found, f.invented, f.hands_wrong, f.refused ? ", refused: " : "",
                f.refused ? f.refused->c_str() : "");
  }
  for (const Compared& c : study.values) {
    if (c.quantity != "drop mm" && c.quantity != "length mm") continue;
    if (!c.measured) {
      text += row("%-18s %3s %-10s truth %7.3f  not answered\n", c.photo.c_str(), c.cutter.c_str(), c.quantity.c_str(),
                  c.truth);
      continue;
    }
    text += row("%-18s %3s %-10s truth %7.3f  error %+7.3f  u95 %6.3f\n", c.photo.c_str(), c.cutter.c_str(),
                c.quantity.c_str(), c.truth, c.measured->value - c.truth, kCoverage * c.measured->u());
  }
  return text + summary_table(study, kQuantities);
}

}  // namespace glintline::testing
