#include "record/record_json.h"

#include <algorithm>

#include "record/chain_fields.h"
#include "record/document.h"

namespace glintline {
namespace {

constexpr DocumentForm kInspectionForm{"glintline chain inspection", 1};
constexpr DocumentForm kEventForm{"glintline event", 1};

/// One optional field a kind; the one that is there tells the kind.
struct EventFields {
  std::optional<Job> job;
  std::optional<FilingDone> filing;
  std::optional<Purchase> purchase;
  std::optional<TimedCut> timed_cut;
};

EventFields fields_of(const ChainEvent& event) {
  EventFields fields;
  if (const auto* job = std::get_if<Job>(&event.what)) fields.job = *job;
  if (const auto* filing = std::get_if<FilingDone>(&event.what)) fields.filing = *filing;
  if (const auto* purchase = std::get_if<Purchase>(&event.what)) fields.purchase = *purchase;
  if (const auto* cut = std::get_if<TimedCut>(&event.what)) fields.timed_cut = *cut;
  return fields;
}

}  // namespace

void each_field(auto&& field, like<ChainEvent> auto& event) {
  auto& [id, chain, at, what, note] = event;
  field("id", id, "chain", chain, "at", at, "note", note);
}

void each_field(auto&& field, like<EventFields> auto& fields) {
  auto& [job, filing, purchase, timed_cut] = fields;
  field("job", job, "filing", filing, "purchase", purchase, "timed_cut", timed_cut);
}

std::string to_json(const RecordedInspection& recorded) { return document_of(kInspectionForm, recorded); }

std::string to_json(const ChainEvent& event) {
  RecordJson json = RecordJson::parse(document_of(kEventForm, event));
  const EventFields fields = fields_of(event);
  each_field(FieldWriter{json}, fields);
  return json.dump();
}

namespace {

/// Every sighting must lead to a cutter of a photograph, because whoever draws a report follows them.
bool sightings_lead_somewhere(const ChainInspection& inspection) {
  const auto leads = [&](const CutterSighting& sighting) {
    return sighting.photo < inspection.photos.size() &&
           sighting.cutter < inspection.photos[sighting.photo].cutters.size();
  };
  return std::all_of(inspection.cutters.begin(), inspection.cutters.end(), [&](const JoinedCutter& cutter) {
    return std::all_of(cutter.sightings.begin(), cutter.sightings.end(), leads);
  });
}

}  // namespace

Result<RecordedInspection> recorded_inspection_from_json(std::string_view text) {
  Result<RecordedInspection> recorded = value_in<RecordedInspection>(kInspectionForm, text);
  if (!recorded.ok()) return recorded;
  if (recorded->id.empty()) return Error{Fault::kBadOption, "the recorded inspection has no id", ""};
  if (!sightings_lead_somewhere(recorded->inspection)) {
    return Error{Fault::kBadOption, "a cutter of the recorded inspection names a photograph that is not in it", ""};
  }
  return recorded;
}

Result<ChainEvent> event_from_json(std::string_view text) {
  Result<ChainEvent> event = value_in<ChainEvent>(kEventForm, text);
  if (!event.ok()) return event;
  const Result<EventFields> fields = value_in<EventFields>(kEventForm, text);
  if (!fields.ok()) return fields.error();
  ChainEvent whole = std::move(event).value();
  const int kinds = fields->job.has_value() + fields->filing.has_value() + fields->purchase.has_value() +
                    fields->timed_cut.has_value();
  if (kinds != 1 || whole.id.empty()) {
    return Error{Fault::kBadOption, "an event has an id and one of job, filing, purchase or timed_cut", ""};
  }
  if (fields->job) whole.what = *fields->job;
  if (fields->filing) whole.what = *fields->filing;
  if (fields->purchase) whole.what = *fields->purchase;
  if (fields->timed_cut) whole.what = *fields->timed_cut;
  return whole;
}

Result<RecordEntry> entry_from_json(std::string_view text) {
  const RecordJson json = RecordJson::parse(text, nullptr, false);
  if (json.is_object() && json.contains("form") && json["form"] == kEventForm.name) {
    Result<ChainEvent> event = event_from_json(text);
    return event.ok() ? Result<RecordEntry>(std::move(event).value()) : Result<RecordEntry>(event.error());
  }
  Result<RecordedInspection> inspection = recorded_inspection_from_json(text);
  return inspection.ok() ? Result<RecordEntry>(std::move(inspection).value()) : Result<RecordEntry>(inspection.error());
}

}  // namespace glintline
