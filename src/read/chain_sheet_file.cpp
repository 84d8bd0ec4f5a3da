#include "read/chain_sheet_file.h"

#include <numbers>
#include <string>

#include "read/toml.h"

namespace glintline {

namespace {

constexpr double kDeg = std::numbers::pi / 180;
/// u95 of a part's size given without one: what a calliper and wear leave open (proposed, no source).
constexpr double kPartU95Mm = 0.1;

std::optional<double> angle(TomlTable& table, const std::string& key, double least_deg, double most_deg) {
  const std::optional<double> deg = table.number(key, {least_deg, most_deg, "degrees"});
  return deg ? std::optional<double>(*deg * kDeg) : std::nullopt;
}

void read_parts(TomlTable& table, ChainGeometry& geometry) {
  std::optional<TomlTable> parts = table.table("parts");
  if (!parts) return;
  geometry.top_plate_width = parts->known_length("top_plate_width_mm", {2, 12}, kPartU95Mm);
  geometry.side_plate = parts->known_length("side_plate_mm", {0.5, 4}, kPartU95Mm);
  geometry.gauge_set_in = parts->known_length("gauge_set_in_mm", {-2, 4}, kPartU95Mm);
  geometry.chain_width = parts->known_length("chain_width_mm", {3, 20}, kPartU95Mm);
  parts->close();
}

std::optional<GrowingSetting> read_growing(TomlTable& limits) {
  std::optional<TomlTable> table = limits.table("growing_setting");
  if (!table) return std::nullopt;
  GrowingSetting growing;
  growing.new_mm = table->length("new_mm", {0.2, 1.2}).value_or(growing.new_mm);
  growing.worn_mm = table->length("worn_mm", {0.2, 1.2}).value_or(growing.worn_mm);
  growing.new_length_mm = table->length("new_length_mm", {5, 20}).value_or(growing.new_length_mm);
  growing.worn_length_mm = table->length("worn_length_mm", {1, 15}).value_or(growing.worn_length_mm);
  if (!(growing.worn_length_mm < growing.new_length_mm)) {
    table->complain("worn_length_mm", "must be less than new_length_mm: a cutter gets shorter");
  }
  if (!(growing.new_mm <= growing.worn_mm)) {
    table->complain("worn_mm", "must not be less than new_mm: the setting grows as the cutter shortens");
  }
  table->close();
  return growing;
}

/// Complains at `upper` where both are given and the wrong way round.
void in_order(TomlTable& table, const std::optional<double>& low, const std::string& lower,
              const std::optional<double>& high, const std::string& upper) {
  if (low && high && !(*low <= *high)) table.complain(upper, "must not be less than " + lower);
}

void read_drop_limits(TomlTable& table, LimitOverrides& own) {
  own.gauge_setting_mm = table.length("gauge_setting_mm", {0.2, 1.2});
  own.gauge_tolerance_mm = table.length("gauge_tolerance_mm", {0.02, 0.5});
  own.most_drop_mm = table.length("most_drop_mm", {0.2, 1.2});
  own.growing_setting = read_growing(table);
  in_order(table, own.gauge_setting_mm, "gauge_setting_mm", own.most_drop_mm, "most_drop_mm");
  if (own.gauge_setting_mm && own.growing_setting) {
    table.complain("gauge_setting_mm", "and growing_setting exclude one another: keep one");
  }
}

void read_wear_limits(TomlTable& table, LimitOverrides& own) {
  own.sharp_radius_um = table.number("sharp_radius_um", {1, 200, "um"});
  own.dull_radius_um = table.number("dull_radius_um", {2, 400, "um"});
  own.chip_depth_mm = table.length("chip_depth_mm", {0.02, 2});
  own.retired_length_mm = table.length("retired_length_mm", {1, 10});
  own.length_spread_warn_mm = table.length("length_spread_warn_mm", {0.02, 5});
  own.length_spread_act_mm = table.length("length_spread_act_mm", {0.02, 5});
  in_order(table, own.sharp_radius_um, "sharp_radius_um", own.dull_radius_um, "dull_radius_um");
  in_order(table, own.length_spread_warn_mm, "length_spread_warn_mm", own.length_spread_act_mm, "length_spread_act_mm");
}

void read_angle_limits(TomlTable& table, LimitOverrides& own) {
  own.least_edge_angle_rad = angle(table, "least_edge_angle_deg", 0, 60);
  own.most_edge_angle_rad = angle(table, "most_edge_angle_deg", 0, 60);
  own.least_hook_rad = angle(table, "least_hook_deg", 20, 160);
  own.most_hook_rad = angle(table, "most_hook_deg", 20, 160);
  own.left_right_warn_rad = angle(table, "left_right_warn_deg", 0.2, 30);
  own.left_right_act_rad = angle(table, "left_right_act_deg", 0.2, 30);
  in_order(table, own.least_edge_angle_rad, "least_edge_angle_deg", own.most_edge_angle_rad, "most_edge_angle_deg");
  in_order(table, own.least_hook_rad, "least_hook_deg", own.most_hook_rad, "most_hook_deg");
  in_order(table, own.left_right_warn_rad, "left_right_warn_deg", own.left_right_act_rad, "left_right_act_deg");
}

void read_limits(TomlTable& table, LimitOverrides& own) {
  std::optional<TomlTable> limits = table.table("limits");
  if (!limits) return;
  read_drop_limits(*limits, own);
  read_wear_limits(*limits, own);
  read_angle_limits(*limits, own);
  limits->close();
}

/// Half a loop's step or a join beyond its end is a slip of the pen.
void check_loop(TomlTable& table, const ChainSheet& sheet) {
  if (!sheet.drive_links || !sheet.alike_after) return;
  const double step = sheet.sequence == Sequence::kFull ? 2 : sheet.sequence == Sequence::kSemiSkip ? 2.5 : 3;
  const int cutters = static_cast<int>(*sheet.drive_links / step);
  if (*sheet.alike_after >= cutters) {
    table.complain("alike_after", "must be less than the count of cutters, " + std::to_string(cutters) +
                                      " by drive_links: between the last and the first it needs no telling");
  }
}

Result<ChainSheet> sheet_in(Result<TomlTable> opened, const std::filesystem::path& path) {
  if (!opened) return opened.error();
  TomlTable table = std::move(opened).value();
  ChainSheet sheet;
  sheet.source = path.filename().string();
  sheet.name = table.text("name").value_or(path.stem().string());
  sheet.geometry.pitch_mm = table.length("pitch_mm", kPitchRange);
  sheet.low_profile = table.flag("low_profile").value_or(false);
  sheet.drive_link_gauge_mm = table.length("drive_link_gauge_mm", {0.8, 3});
  sheet.drive_links = table.count("drive_links", 10, 400);
  sheet.sequence = table
                       .choice<Sequence>("sequence", {{"full", Sequence::kFull},
                                                      {"semi-skip", Sequence::kSemiSkip},
                                                      {"full-skip", Sequence::kFullSkip}})
                       .value_or(Sequence::kFull);
  sheet.first_cutter = table.choice<Hand>("first_cutter", {{"left", Hand::kLeft}, {"right", Hand::kRight}});
  sheet.counting = table.choice<Counting>("counting", {{"behind", Counting::kBehind}, {"ahead", Counting::kAhead}});
  sheet.alike_after = table.count("alike_after", 1, 400);
  check_loop(table, sheet);
  sheet.geometry.chisel = table.choice<bool>("corner", {{"chisel", true}, {"semi-chisel", false}});
  sheet.file_diameter_mm = table.length("file_diameter_mm", {2, 10});
  sheet.filing_angle_rad = angle(table, "filing_angle_deg", 0, 45);
  sheet.wood =
      table.choice<Wood>("wood", {{"hard-or-frozen", Wood::kHardOrFrozen}, {"soft-unfrozen", Wood::kSoftUnfrozen}})
          .value_or(Wood::kHardOrFrozen);
  read_parts(table, sheet.geometry);
  read_limits(table, sheet.limits);
  if (const Result<Done> done = table.finish(); !done) return done.error();
  return sheet;
}

}  // namespace

Result<ChainSheet> read_chain_sheet(const std::filesystem::path& path) { return sheet_in(TomlTable::read(path), path); }

Result<ChainSheet> parse_chain_sheet(const std::string& text, const std::filesystem::path& path) {
  return sheet_in(TomlTable::parse(text, path), path);
}

}  // namespace glintline
