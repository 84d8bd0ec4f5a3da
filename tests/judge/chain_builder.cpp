#include "judge/chain_builder.h"

#include <cmath>

#include "judge/common_practice.h"
#include "judge/stroke_stock.h"

namespace glintline::testing {

namespace {

constexpr double kDeg = M_PI / 180;
constexpr double kMmPerPx = 0.02;
constexpr double kApartMm = 37.3;

Quantity with_u(double value, double u) { return {value, {{Source::kEdge, u}}}; }

CardPose any_card() {
  CardPose card;
  card.view.camera.fx = card.view.camera.fy = 2000;
  card.view.camera_from_board.translation = Point3(-50, -37, 100);
  return card;
}

Inspection photo_of(const std::string& path, ViewKind view) {
  Inspection photo;
  photo.photo_path = path;
  photo.photo_sha256 = std::string("hash of ").append(path);
  photo.view = view;
  photo.mm_per_px = kMmPerPx;
  photo.card = any_card();
  return photo;
}

CutterMeasurement placed(const CutterFacts& facts, std::size_t place) {
  CutterMeasurement m;
  m.hand = facts.hand;
  m.corner_px = Point2(1000 + static_cast<double>(place) * kApartMm / kMmPerPx, 1000);
  m.length_mm = with_u(facts.length_mm, facts.u_length_mm);
  m.marks.push_back({MarkRole::kLength, {m.corner_px - Point2(facts.length_mm / kMmPerPx, 0), m.corner_px}, "", {}});
  return m;
}

}  // namespace

CutterFacts cutter_facts(int number, double length_mm) {
  CutterFacts facts;
  facts.number = number;
  facts.hand = number % 2 == 1 ? Hand::kLeft : Hand::kRight;
  facts.length_mm = length_mm;
  return facts;
}

std::vector<CutterFacts> cutters_alike(int count, double length_mm, double radius_um) {
  std::vector<CutterFacts> facts;
  for (int n = 1; n <= count; ++n) {
    facts.push_back(cutter_facts(n, length_mm));
    facts.back().radius_um = radius_um;
  }
  return facts;
}

std::vector<CutterFacts> cutters_of(const std::vector<double>& lengths_mm) {
  std::vector<CutterFacts> facts;
  for (const double length : lengths_mm) facts.push_back(cutter_facts(static_cast<int>(facts.size()) + 1, length));
  return facts;
}

ChainSheet loop(int drive_links, std::optional<Hand> first) {
  ChainSheet sheet;
  sheet.drive_links = drive_links;
  sheet.first_cutter = first;
  sheet.geometry.pitch_mm = 9.32;
  return sheet;
}

Inspection profile_of(const std::string& path, const std::vector<CutterFacts>& cutters, bool tag) {
  Inspection photo = photo_of(path, ViewKind::kProfile);
  photo.pitch_mm = with_u(kApartMm / 4, 0.05);
  for (const CutterFacts& facts : cutters) {
    CutterMeasurement m = placed(facts, photo.cutters.size());
    if (tag && photo.cutters.empty()) m.number = facts.number;
    m.gauge_drop_mm = with_u(facts.drop_mm, facts.u_drop_mm);
    m.top_slope_rad = with_u(facts.slope_deg * kDeg, 0.2 * kDeg);
    photo.cutters.push_back({m, {}});
  }
  return photo;
}

Inspection plan_of(const std::string& path, const CutterFacts& facts, bool tag) {
  Inspection photo = photo_of(path, ViewKind::kPlan);
  CutterMeasurement m = placed(facts, 0);
  if (tag) m.number = facts.number;
  m.whole_length_mm = with_u(facts.length_mm + facts.corner_wear_mm, facts.u_length_mm);
  m.edge_angle_rad = with_u(facts.angle_deg * kDeg, 0.2 * kDeg);
  if (!facts.radius_limit_um) m.edge_radius_um = with_u(facts.radius_um, 0.05 * facts.radius_um);
  m.edge_radius_limit_um = facts.radius_limit_um;
  m.chips_searched = true;
  for (const double depth : facts.chip_depths_mm) {
    m.chips.push_back({1.0 + static_cast<double>(m.chips.size()), with_u(depth, 0.01), with_u(0.5, 0.02), {}});
  }
  photo.cutters.push_back({m, {}});
  return photo;
}

Inspection refused(const std::string& path, const std::string& why) {
  Inspection photo;
  photo.photo_path = path;
  photo.photo_sha256 = std::string("hash of ").append(path);
  photo.refusal = Error{Fault::kBlurred, why, path};
  return photo;
}

std::vector<Inspection> both_views(const std::vector<CutterFacts>& cutters) {
  std::vector<Inspection> photos;
  for (const CutterFacts& facts : cutters) {
    const std::string name = std::string("c").append(std::to_string(facts.number));
    photos.push_back(profile_of(name + "-profile.jpg", {facts}));
    photos.push_back(plan_of(name + "-plan.jpg", facts));
  }
  return photos;
}

ChainInspection inspection_of(const BuiltChain& chain) {
  ChainInspection inspection;
  inspection.sheet = chain.sheet;
  inspection.limits = chain.limits;
  inspection.photos = chain.photos;
  inspection.cutters = chain.cutters;
  inspection.plan = chain.plan;
  return inspection;
}

BuiltChain built(std::vector<Inspection> photos, const ChainSheet& sheet, std::vector<PhotoClaims> claims,
                 const StrokeStock* stock) {
  BuiltChain chain;
  chain.photos = std::move(photos);
  chain.sheet = sheet;
  chain.limits = limits_of(sheet);
  claims.resize(chain.photos.size());
  chain.numbering = number_cutters({chain.photos, claims, sheet, {}});
  chain.cutters = join_views(chain.photos, chain.numbering, chain.limits);
  chain.plan = plan_filing({chain.chain(), chain.cutters, chain.sheet, chain.limits, stock ? *stock : assumed_stock()});
  return chain;
}

}  // namespace glintline::testing
