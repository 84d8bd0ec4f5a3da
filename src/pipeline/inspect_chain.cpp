#include "pipeline/inspect_chain.h"

#include <algorithm>
#include <set>

#include "judge/common_practice.h"
#include "judge/join_views.h"
#include "judge/judge_chain.h"
#include "judge/plan_filing.h"
#include "judge/stroke_stock.h"
#include "pipeline/kept_inspections.h"
#include "read/photo_name.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

std::vector<PhotoClaims> claims_of(const std::vector<Inspection>& photos, const ChainOrder& order,
                                   std::vector<std::string>& notes) {
  std::vector<PhotoClaims> claims;
  std::set<std::string> names;
  for (const Inspection& photo : photos) {
    const std::string name = fs::path(photo.photo_path).filename().string();
    names.insert(name);
    PhotoClaims claim{claim_of_name(photo.photo_path), {}};
    for (const ListedPhoto& listed : order.list) {
      if (listed.photo == name) claim.by_list = listed.claim;
    }
    claims.push_back(std::move(claim));
  }
  for (const ListedPhoto& listed : order.list) {
    if (names.count(listed.photo) == 0) notes.push_back("the list names " + listed.photo + ", which is not there");
  }
  return claims;
}

const char* view_name(ViewKind view) { return view == ViewKind::kPlan ? "plan" : "profile"; }

bool asked_already(const std::vector<Retake>& retakes, int number, ViewKind view) {
  return std::any_of(retakes.begin(), retakes.end(), [&](const Retake& r) {
    return r.number == number && (!r.view || *r.view == view) && !r.photo_path.empty();
  });
}

/// Views nobody took of a cutter, though they were taken of others. Where a whole view was never taken, that is said
/// once and not cutter by cutter.
void ask_for_missing_views(ChainInspection& chain) {
  for (const ViewKind view : {ViewKind::kProfile, ViewKind::kPlan}) {
    const auto lacks = [&](const JoinedCutter& c) {
      return std::find(c.missing_views.begin(), c.missing_views.end(), view) != c.missing_views.end();
    };
    if (std::all_of(chain.cutters.begin(), chain.cutters.end(), lacks)) {
      if (chain.cutters.empty()) continue;
      chain.retakes.push_back({std::nullopt, view, "",
                               view == ViewKind::kPlan ? "not one cutter was photographed from above: edges, chips and "
                                                         "edge angles are not known"
                                                       : "not one cutter was photographed from the side: gauges are "
                                                         "not known"});
      continue;
    }
    for (const JoinedCutter& c : chain.cutters) {
      if (!lacks(c) || asked_already(chain.retakes, c.number, view)) continue;
      chain.retakes.push_back({c.number, view, "", std::string("no ") + view_name(view) + " photograph of it"});
    }
  }
}

/// Photographs that were measured, but not for what their view is there for.
void ask_for_missing_values(ChainInspection& chain) {
  for (const JoinedCutter& c : chain.cutters) {
    for (const CutterSighting& at : c.sightings) {
      const Inspection& photo = chain.photos[at.photo];
      const CutterMeasurement& m = c.measured;
      const bool profile = photo.view == ViewKind::kProfile;
      const bool lacks =
          profile ? !m.gauge_drop_mm : !m.chips_searched || (!m.edge_radius_um && !m.edge_radius_limit_um);
      if (!lacks || asked_already(chain.retakes, c.number, photo.view)) continue;
      const std::vector<std::string>& missing = photo.cutters[at.cutter].measured.missing;
      chain.retakes.push_back({c.number, photo.view, photo.photo_path,
                               missing.empty() ? std::string("its main value could not be measured") : missing[0]});
    }
  }
}

void ask_for_contradicting_ones(ChainInspection& chain) {
  for (const JoinedCutter& c : chain.cutters) {
    if (c.contradictions.empty()) continue;
    chain.retakes.push_back({c.number, std::nullopt, "", c.contradictions.front()});
  }
}

/// The pitch all photographs that give one agree on: the median by value, with its own uncertainty.
std::optional<Quantity> measured_pitch(const std::vector<Inspection>& photos) {
  std::vector<Quantity> pitches;
  for (const Inspection& photo : photos) {
    if (photo.pitch_mm) pitches.push_back(*photo.pitch_mm);
  }
  if (pitches.empty()) return std::nullopt;
  const auto middle = pitches.begin() + static_cast<std::ptrdiff_t>(pitches.size() / 2);
  std::nth_element(pitches.begin(), middle, pitches.end(),
                   [](const Quantity& a, const Quantity& b) { return a.value < b.value; });
  return *middle;
}

}  // namespace

ChainInspection assembled_chain(std::vector<Inspection> photos, const ChainOrder& order) {
  ChainInspection chain;
  chain.sheet = order.sheet;
  chain.photos = std::move(photos);
  chain.limits = order.order.sheet ? limits_of(*order.order.sheet, measured_pitch(chain.photos)) : order.order.limits;
  chain.reported = order.reported;
  const std::vector<PhotoClaims> claims = claims_of(chain.photos, order, chain.notes);
  const Numbering numbering = number_cutters({chain.photos, claims, chain.sheet, order.start});
  chain.counting = numbering.sequence.counting;
  chain.notes.insert(chain.notes.end(), numbering.notes.begin(), numbering.notes.end());
  chain.retakes = numbering.retakes;
  if (const auto count = expected_cutters(chain.sheet)) chain.expected_cutters = count->likely;
  chain.cutters = join_views(chain.photos, numbering, chain.limits);
  ask_for_missing_values(chain);
  ask_for_missing_views(chain);
  ask_for_contradicting_ones(chain);
  const ChainPhotos sightings{chain.photos, 0, 0};
  chain.plan = plan_filing({sightings, chain.cutters, chain.sheet, chain.limits, learned_stock(order.strokes)});
  chain.verdict = judge_chain({sightings, chain.cutters, chain.plan, chain.reported, chain.limits, numbering.sequence});
  return chain;
}

ChainInspection inspect_chain(const std::vector<fs::path>& photos, const ChainOrder& order, const ChainWatch& watch,
                              const Stages& stages) {
  const KeptInspections kept(order.keep, order.order);
  std::vector<char> was_kept(photos.size(), 0);
  Batch batch;
  batch.workers = watch.workers;
  batch.witness = watch.witness;
  batch.known = [&](std::size_t index) {
    // Drawing needs the pixels, so with a witness every photograph is looked at again.
    std::optional<Inspection> found = watch.witness ? std::nullopt : kept.find(photos[index]);
    was_kept[index] = found ? 1 : 0;
    return found;
  };
  batch.finished = [&](std::size_t index, const Inspection& inspection) {
    // A full disk costs the next start time, not this one its result.
    if (was_kept[index] == 0) static_cast<void>(kept.keep(inspection).ok());
    if (watch.finished) watch.finished(index, inspection, was_kept[index] != 0);
  };
  return assembled_chain(inspect_photos(photos, order.order, batch, stages), order);
}

}  // namespace glintline
