#include "cli/report_command.h"

#include <spdlog/spdlog.h>

#include <filesystem>

#include "base/text.h"
#include "cli/complaint.h"
#include "cli/record_place.h"
#include "cli/terminal.h"
#include "judge/chain_life.h"
#include "judge/compare_chains.h"
#include "read/photo_file.h"
#include "report/close_up_picture.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

std::string caption_of(const Inspection& photo) {
  return fs::path(photo.photo_path).filename().string() +
         (photo.view == ViewKind::kPlan ? ", from above" : ", from the side");
}

/// Pictures of every joined cutter that this photograph shows.
void add_pictures(const ChainInspection& inspection, std::size_t index, const Photo& photo,
                  std::vector<ReportPicture>& pictures) {
  for (const JoinedCutter& cutter : inspection.cutters) {
    for (const CutterSighting& sighting : cutter.sightings) {
      if (sighting.photo != index) continue;
      const Result<std::string> jpeg = close_up_jpeg(photo, inspection.photos[index], sighting.cutter);
      if (!jpeg.ok() || jpeg->empty()) continue;
      pictures.push_back(
          {cutter.number, *jpeg, kCloseUpWidth_px, kCloseUpHeight_px, caption_of(inspection.photos[index])});
    }
  }
}

using Recorded = std::vector<RecordedInspection>;

/// The latest inspection that fits what the user said.
Result<RecordedInspection> inspection_meant(const Recorded& all, const ReportOptions& options) {
  for (auto recorded = all.rbegin(); recorded != all.rend(); ++recorded) {
    if (recorded->at.starts_with(options.at) && (options.stage.empty() || recorded->stage == options.stage)) {
      return *recorded;
    }
  }
  return Error{Fault::kBadOption, "no inspection like that is recorded; glintline record list shows them",
               all.empty() ? "" : all.front().chain};
}

/// The latest inspection of the stage or time that --since names, before `meant`.
Result<RecordedInspection> earlier_meant(const Recorded& all, const RecordedInspection& meant,
                                         const ReportOptions& options) {
  for (auto before = all.rbegin(); before != all.rend(); ++before) {
    const bool named = before->stage == options.since || before->at.starts_with(options.since);
    if (named && before->id != meant.id && before->at <= meant.at) return *before;
  }
  return Error{Fault::kBadOption, "no earlier inspection of that stage or day is recorded",
               std::string("--since ").append(options.since)};
}

/// What was known of the chain on the day of `meant`.
ChainRecord known_then(const Recorded& inspections, const std::vector<ChainEvent>& events,
                       const RecordedInspection& meant) {
  ChainRecord known{meant.chain, {}, {}};
  for (const RecordedInspection& recorded : inspections) {
    if (recorded.at <= meant.at) known.inspections.push_back(recorded);
  }
  for (const ChainEvent& event : events) {
    if (event.at <= meant.at || meant.at.starts_with(event.at)) known.events.push_back(event);
  }
  return known;
}

/// What is shown, and the earlier day it is compared with.
struct ReportDays {
  ReportContent content;
  std::optional<RecordedInspection> before;
};

Result<ReportDays> days_of(const ReportOptions& options) {
  const Result<Record> record = open_record(options.record, RecordOpening::kExisting);
  if (!record.ok()) return record.error();
  const Result<std::string> chain = chain_meant(*record, options.chain);
  if (!chain.ok()) return chain.error();
  const Result<Recorded> inspections = record->inspections(*chain);
  if (!inspections.ok()) return inspections.error();
  const Result<std::vector<ChainEvent>> events = record->events(*chain);
  if (!events.ok()) return events.error();
  const Result<RecordedInspection> meant = inspection_meant(*inspections, options);
  if (!meant.ok()) return meant.error();
  ReportDays days;
  days.content.recorded = *meant;
  const ChainRecord known = known_then(*inspections, *events, *meant);
  if (known.inspections.size() + known.events.size() > 1) days.content.history = life_of(known);
  if (options.since.empty()) return days;
  const Result<RecordedInspection> before = earlier_meant(*inspections, *meant, options);
  if (!before.ok()) return before.error();
  days.before = *before;
  days.content.comparison = compare_chains({before->inspection, meant->inspection, options.same_card, {}});
  return days;
}

/// Close-ups of the day, and behind them those of the day before.
std::vector<ReportPicture> pictures_of(const ReportDays& days) {
  std::vector<std::string> left_out;
  std::vector<ReportPicture> pictures = report_pictures(days.content.recorded.inspection, left_out);
  if (days.before) {
    for (ReportPicture& picture : report_pictures(days.before->inspection, left_out)) {
      picture.caption = "before: " + picture.caption;
      pictures.push_back(std::move(picture));
    }
  }
  for (const std::string& line : left_out) spdlog::warn("no close-up: {}", printable(line));
  return pictures;
}

std::string default_name(const RecordedInspection& recorded) {
  std::string name = recorded.chain + " " + recorded.at;
  for (char& c : name) {
    const bool plain = std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-';
    if (!plain) c = '-';
  }
  return name + ".html";
}

}  // namespace

std::vector<ReportPicture> report_pictures(const ChainInspection& inspection, std::vector<std::string>& left_out) {
  std::vector<ReportPicture> pictures;
  for (std::size_t i = 0; i < inspection.photos.size(); ++i) {
    const Inspection& known = inspection.photos[i];
    if (known.refusal) continue;
    const Result<Photo> photo = read_photo(known.photo_path);
    if (!photo.ok()) {
      left_out.push_back(known.photo_path + ": " + photo.error().what);
    } else if (photo->sha256 != known.photo_sha256) {
      left_out.push_back(known.photo_path + ": is no longer the photograph that was inspected");
    } else {
      add_pictures(inspection, i, *photo, pictures);
    }
  }
  return pictures;
}

ExitCode write_report(const ReportOptions& options) {
  Result<ReportDays> found = days_of(options);
  if (!found.ok()) return complained(found.error());
  ReportDays days = std::move(found).value();
  if (!options.no_pictures) days.content.pictures = pictures_of(days);
  const ReportContent& content = days.content;
  const std::string output = options.output.empty() ? default_name(content.recorded) : options.output;
  const std::string page = html_report(content);
  if (output == "-") {
    const Result<Done> printed = print(page);
    return printed.ok() ? ExitCode::kDone : complained(printed.error());
  }
  const Result<Done> written = write_file(output, page);
  if (!written.ok()) return complained(written.error());
  const std::string words = three_words(content.recorded.inspection);
  const Result<Done> told =
      print(words + "\nReport with " + counted(static_cast<int>(content.pictures.size()), "close-up") + ": " +
            printable(output) + "\n");
  return told.ok() ? ExitCode::kDone : complained(told.error());
}

}  // namespace glintline
