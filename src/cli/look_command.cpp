#include "cli/look_command.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <atomic>

#include "base/text.h"
#include "cli/output.h"
#include "cli/photo_list.h"
#include "cli/terminal.h"
#include "report/csv.h"
#include "report/drawing.h"
#include "report/json.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

/// Two results in one place would destroy one of them.
bool outputs_collide(const LookOptions& options) { return !options.json.empty() && options.json == options.csv; }

Result<Done> prepare_outputs(const LookOptions& options) {
  for (const std::string& file : {options.json, options.csv}) {
    const Result<Done> possible = has_folder(file);
    if (!possible.ok()) return possible;
  }
  return options.draw.empty() ? Result<Done>(Done{}) : make_folder(options.draw);
}

/// Draws photographs while the workers hold them.
class Drawer {
 public:
  Drawer(const LookOptions& options, const std::vector<fs::path>& photos)
      : folder_(options.draw), names_(drawing_names(photos)) {}

  void draw(std::size_t index, const Photo& photo, const Inspection& inspection) {
    if (folder_.empty()) return;
    const Result<std::string> picture = drawing_jpeg(photo, inspection);
    const Result<Done> written =
        picture.ok() ? write_file(folder_ / names_[index], *picture) : Result<Done>(picture.error());
    if (written.ok()) {
      ++drawn_;
    } else {
      ++failed_;
      complain(written.error());
    }
  }

  [[nodiscard]] bool failed() const { return failed_ > 0; }
  [[nodiscard]] std::string summary() const {
    if (folder_.empty()) return "";
    return counted(drawn_, "annotated picture") + " in " + printable(folder_.string()) + "\n";
  }

 private:
  fs::path folder_;
  std::vector<std::string> names_;
  std::atomic<int> drawn_{0};
  std::atomic<int> failed_{0};
};

std::vector<Inspection> inspect_all(const std::vector<fs::path>& photos, const Order& order, Drawer& drawer) {
  std::size_t done = 0;
  Batch batch;
  batch.witness = [&](std::size_t index, const Photo& photo, const Inspection& inspection) {
    drawer.draw(index, photo, inspection);
  };
  batch.finished = [&](std::size_t, const Inspection& inspection) {
    ++done;
    const std::string outcome = inspection.refusal ? "not measured: " + inspection.refusal->what
                                                   : counted(static_cast<int>(inspection.cutters.size()), "cutter");
    spdlog::info("{} of {}: {}: {}", done, photos.size(), printable(inspection.photo_path), printable(outcome));
  };
  return inspect_photos(photos, order, batch);
}

ExitCode put_results(const LookOptions& options, const std::vector<Inspection>& inspections, const Drawer& drawer) {
  ExitCode code = put(options.json, options.json.empty() ? "" : json_text(inspections));
  code = worse(code, put(options.csv, options.csv.empty() ? "" : csv_text(inspections)));
  if (options.json == kStandardOutput || options.csv == kStandardOutput) {
    // The table is not shown, so what went wrong is told here.
    for (const Inspection& inspection : inspections) {
      if (inspection.refusal) complain({inspection.refusal->fault, inspection.refusal->what, inspection.photo_path});
    }
    return code;
  }
  TableStyle style = terminal_style();
  style.all_reasons = options.verbose;
  return worse(code, put(kStandardOutput, table_text(inspections, style).append(drawer.summary())));
}

}  // namespace

ExitCode look(const LookOptions& options) {
  if (outputs_collide(options)) {
    spdlog::error("--json and --csv both go to {}: give each its own place", printable(options.json));
    return ExitCode::kUsage;
  }
  const Result<Order> order = order_of(options);
  if (!order.ok()) {
    complain(order.error());
    return ExitCode::kUsage;
  }
  const Result<std::vector<fs::path>> photos = photo_list(options.photos);
  if (!photos.ok()) {
    complain(photos.error());
    return ExitCode::kUsage;
  }
  const Result<Done> prepared = prepare_outputs(options);
  if (!prepared.ok()) {
    complain(prepared.error());
    return ExitCode::kCannotWrite;
  }
  Drawer drawer(options, *photos);
  const std::vector<Inspection> inspections = inspect_all(*photos, *order, drawer);
  const ExitCode code = worse(code_of(inspections), put_results(options, inspections, drawer));
  return drawer.failed() ? worse(code, ExitCode::kCannotWrite) : code;
}

}  // namespace glintline
