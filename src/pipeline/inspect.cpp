#include "pipeline/inspect.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <mutex>
#include <opencv2/core/utility.hpp>
#include <thread>

#include "judge/common_practice.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

/// Every room turns its libraries' exceptions into Errors. What slips through all the same, or memory running out,
/// must cost one photograph and not the batch.
Error unforeseen(const std::exception& failure) {
  return {Fault::kUnforeseen,
          std::string("something unforeseen stopped it (") + failure.what() +
              "): please report it together with the photograph",
          ""};
}

/// True where a cutter's own quantities were measured, not only its place.
bool measures_a_cutter(const Result<Measurements>& measurements) {
  if (!measurements.ok()) return false;
  return std::any_of(measurements->cutters.begin(), measurements->cutters.end(),
                     [](const CutterMeasurement& c) { return c.measured(); });
}

/// True where every edge measured has an angle that cutters are filed to (25 to 35 degrees, TRADE.md) and that is known
/// well: what of a chain seen from the side passes for a top plate has neither.
bool plainly_from_above(const Result<Measurements>& plan) {
  constexpr double kLeastRad = 20 * M_PI / 180;
  constexpr double kMostRad = 40 * M_PI / 180;
  constexpr double kMostURad = 0.5 * M_PI / 180;
  if (!measures_a_cutter(plan)) return false;
  return std::all_of(plan->cutters.begin(), plan->cutters.end(), [](const CutterMeasurement& c) {
    if (!c.measured()) return true;
    const auto& angle = c.edge_angle_rad;
    return angle && angle->value > kLeastRad && angle->value < kMostRad && angle->u() < kMostURad;
  });
}

Result<Measurements> measured(const Photo& photo, const CardPose& card, const Setup& setup, const Stages& stages) {
  if (setup.view == ViewKind::kPlan) return stages.measure_plan(photo, card, setup);
  Result<Measurements> profile = stages.measure_profile(photo, card, setup);
  if (setup.view || measures_a_cutter(profile)) return profile;
  // From above, four round things in a row are seen now and then; more, or the outline of a cutter of which only the
  // top plate is not told, hardly ever (by experiment: the study's plans).
  constexpr int kRowOfHeads = 5;
  const bool from_the_side =
      profile.ok() ? profile->rivet_heads >= kRowOfHeads : profile.error().fault == Fault::kNotMeasurable;
  if (!profile.ok() && !from_the_side && profile.error().fault != Fault::kNoCutter) return profile;
  Result<Measurements> plan = stages.measure_plan(photo, card, setup);
  if (from_the_side) return plainly_from_above(plan) ? plan : profile;
  // From above, rivet heads and a top plate's outline can pass for a cutter seen from the side, but measure nothing.
  if (profile.ok()) return measures_a_cutter(plan) ? plan : profile;
  if (plan.ok() || plan.error().fault != Fault::kNoCutter) return plan;
  return profile;
}

void take_in(Inspection& inspection, const Measurements& measurements, const Order& order, const Stages& stages) {
  const Limits limits = order.sheet ? limits_of(*order.sheet, measurements.pitch_mm) : order.limits;
  inspection.view = measurements.view;
  inspection.mm_per_px = measurements.mm_per_px;
  inspection.pitch_mm = measurements.pitch_mm;
  inspection.notes.insert(inspection.notes.end(), measurements.notes.begin(), measurements.notes.end());
  for (const CutterMeasurement& cutter : measurements.cutters) {
    inspection.cutters.push_back({cutter, stages.judge(cutter, limits, measurements.view)});
  }
}

bool lacks_card(const Error& error) { return error.fault == Fault::kNoCard || error.fault == Fault::kCardHidden; }

/// Under 50 edges begin to suffer (by experiment: the supplied and the demo photographs stored again; at 35 two of 31
/// drops and of 30 lengths lay outside u95, at 50 none).
void warn_of_coarseness(Inspection& inspection, const Photo& photo) {
  constexpr int kGoodEnough = 50;
  if (photo.jpeg_quality >= kGoodEnough) return;
  inspection.notes.push_back("the picture is strongly compressed (JPEG quality about " +
                             std::to_string(photo.jpeg_quality) +
                             "), values may be further off than they say: use the camera's own file");
}

void inspect_without_card(Inspection& inspection, const Photo& photo, const Order& order, const Stages& stages) {
  const Result<PitchScaled> scaled = stages.measure_by_pitch(photo, order.setup);
  if (!scaled.ok()) {
    inspection.refusal = scaled.error();
    return;
  }
  inspection.card = scaled->pose;
  inspection.notes = scaled->pose.warnings;
  warn_of_coarseness(inspection, photo);
  take_in(inspection, scaled->measurements, order, stages);
}

void inspect_pixels(Inspection& inspection, const Photo& photo, const Order& order, const Stages& stages) {
  const Result<CardPose> card = stages.locate(photo, order.setup);
  if (!card.ok()) {
    if (order.scale_from_pitch && lacks_card(card.error()) && order.setup.view != ViewKind::kPlan) {
      inspect_without_card(inspection, photo, order, stages);
    } else {
      inspection.refusal = card.error();
    }
    return;
  }
  inspection.card = *card;
  inspection.view = order.setup.view.value_or(ViewKind::kProfile);
  inspection.notes = card->warnings;
  warn_of_coarseness(inspection, photo);
  const Result<Measurements> measurements = measured(photo, *card, order.setup, stages);
  if (!measurements.ok()) {
    inspection.refusal = measurements.error();
    return;
  }
  take_in(inspection, *measurements, order, stages);
}

void name_place(Inspection& inspection) {
  if (inspection.refusal && inspection.refusal->where.empty()) inspection.refusal->where = inspection.photo_path;
}

/// OpenCV's own threads get in each other's way when every core works on a photograph of its own.
class OneThreadEach {
 public:
  explicit OneThreadEach(bool wanted) : before_(cv::getNumThreads()) {
    if (wanted) cv::setNumThreads(1);
  }
  ~OneThreadEach() { cv::setNumThreads(before_); }
  OneThreadEach(const OneThreadEach&) = delete;
  OneThreadEach& operator=(const OneThreadEach&) = delete;

 private:
  int before_;
};

unsigned workers_for(std::size_t photographs, unsigned wanted) {
  const unsigned cores = wanted > 0 ? wanted : std::max(1U, std::thread::hardware_concurrency());
  return static_cast<unsigned>(std::clamp<std::size_t>(photographs, 1, cores));
}

}  // namespace

Inspection inspect_photo(const fs::path& path, const Order& order, const PhotoWitness& witness, const Stages& stages) {
  Inspection inspection;
  inspection.photo_path = path.string();
  inspection.program_version = program_version();
  try {
    const Result<Photo> photo = stages.read(path);
    if (!photo.ok()) {
      inspection.refusal = photo.error();
      name_place(inspection);
      return inspection;
    }
    inspection.photo_sha256 = photo->sha256;
    try {
      inspect_pixels(inspection, *photo, order, stages);
    } catch (const std::exception& failure) {
      inspection.cutters.clear();
      inspection.refusal = unforeseen(failure);
    }
    name_place(inspection);
    if (witness) witness(*photo, inspection);
  } catch (const std::exception& failure) {
    inspection.refusal = unforeseen(failure);
    name_place(inspection);
  }
  return inspection;
}

std::vector<Inspection> inspect_photos(const std::vector<fs::path>& paths, const Order& order, const Batch& batch,
                                       const Stages& stages) {
  std::vector<Inspection> inspections(paths.size());
  std::atomic<std::size_t> next{0};
  std::mutex one_at_a_time;
  const auto work = [&] {
    for (std::size_t i = next++; i < paths.size(); i = next++) {
      PhotoWitness witness;
      if (batch.witness) {
        witness = [&batch, i](const Photo& photo, const Inspection& done) { batch.witness(i, photo, done); };
      }
      std::optional<Inspection> known = batch.known ? batch.known(i) : std::nullopt;
      inspections[i] = known ? std::move(*known) : inspect_photo(paths[i], order, witness, stages);
      const std::lock_guard<std::mutex> guard(one_at_a_time);
      if (batch.finished) batch.finished(i, inspections[i]);
    }
  };

  const unsigned workers = workers_for(paths.size(), batch.workers);
  const OneThreadEach quiet(workers > 1);
  std::vector<std::jthread> helpers;
  for (unsigned i = 1; i < workers; ++i) helpers.emplace_back(work);
  work();
  helpers.clear();  // waits for them
  return inspections;
}

const char* program_version() { return GLINTLINE_VERSION; }

}  // namespace glintline
