#include <numbers>

#include "base/text.h"
#include "judge/remedy.h"
#include "judge/ruling.h"
#include "judge/standing.h"
#include "judge/wording.h"

namespace glintline {

namespace {

struct AngleLimits {
  std::optional<Limit> least;
  std::optional<Limit> most;
  std::string cure;
};

Ruling rule_angle(const char* name, const Quantity& angle, const AngleLimits& limits, ViewKind view) {
  const Standing low = limits.least ? against_least(angle, limits.least->value) : Standing::kWithin;
  const Standing high = limits.most ? against_most(angle, limits.most->value) : Standing::kWithin;
  Ruling ruling;
  ruling.finding = {name, Standing::kWithin, std::string(name) + " " + degrees_text(angle)};
  std::string& text = ruling.finding.text;
  if (low == Standing::kBeyond || high == Standing::kBeyond) {
    const bool under = low == Standing::kBeyond;
    const Limit& limit = under ? *limits.least : *limits.most;
    ruling.finding.standing = Standing::kBeyond;
    ruling.calls_for = Action::kFile;
    text +=
        (under ? ": under " : ": over ") + degrees_text(limit.value) + " " + source_text(limit) + ": " + limits.cure;
  } else if (low == Standing::kUndecided || high == Standing::kUndecided) {
    const Limit& limit = low == Standing::kUndecided ? *limits.least : *limits.most;
    ruling.finding.standing = Standing::kUndecided;
    text += ": too close to " + degrees_text(limit.value) + " " + source_text(limit) + " to call";
    ruling.would_decide = remedies(angle, "check the angle with a filing guide or an angle template", view);
  } else {
    text += ": right";
    if (limits.least && limits.most) {
      text += ", " + fixed(limits.least->value * 180 / std::numbers::pi, 0) + " to " +
              degrees_text(limits.most->value) + " " + source_text(*limits.most);
    }
  }
  return ruling;
}

}  // namespace

std::vector<Ruling> rule_angles(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  std::vector<Ruling> rulings;
  if (cutter.edge_angle_rad) {
    const std::string file_to = limits.filing_angle_rad ? "file it at " + degrees_text(limits.filing_angle_rad->value)
                                                        : "file it at the maker's angle";
    rulings.push_back(rule_angle("edge angle", *cutter.edge_angle_rad,
                                 {limits.least_edge_angle_rad, limits.most_edge_angle_rad, file_to}, view));
  }
  if (cutter.hook_angle_rad && (limits.least_hook_rad || limits.most_hook_rad)) {
    rulings.push_back(rule_angle("hook angle", *cutter.hook_angle_rad,
                                 {limits.least_hook_rad, limits.most_hook_rad,
                                  "file it with the right file, a fifth of its diameter above the top plate"},
                                 view));
  }
  return rulings;
}

}  // namespace glintline
