#include "cli/lens_command.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <filesystem>

#include "base/text.h"
#include "cli/photo_list.h"
#include "cli/terminal.h"
#include "pipeline/learn_lens.h"
#include "read/option_text.h"
#include "report/lens_report.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

void complain(const Error& error) {
  spdlog::error("{}", printable(error.where.empty() ? error.what : error.where + ": " + error.what));
}

Result<Setup> setup_of(const LensOptions& options) {
  Setup setup;
  if (!options.printed.empty()) {
    const Result<PrintScale> print = parse_printed(options.printed);
    if (!print.ok()) return Error{print.error().fault, print.error().what, std::string("--printed ") + options.printed};
    setup.print = *print;
  }
  if (!options.square.empty()) {
    const Result<double> square = parse_square(options.square);
    if (!square.ok())
      return Error{square.error().fault, square.error().what, std::string("--square ") + options.square};
    setup.card_square_mm = *square;
  }
  return setup;
}

fs::path picture_beside(const fs::path& camera_file) {
  return camera_file.parent_path() / (camera_file.stem().string() + "-lens.jpg");
}

/// calib/NAME.yml, or the first of calib/NAME-2.yml, ... that is not there yet: an earlier camera is never lost.
fs::path free_place(const std::string& stem) {
  fs::path place = fs::path("calib") / (stem + ".yml");
  std::error_code ignored;
  for (int i = 2; fs::exists(place, ignored) || fs::exists(picture_beside(place), ignored); ++i) {
    place = fs::path("calib") / (stem + "-" + std::to_string(i) + ".yml");
  }
  return place;
}

Result<Done> write_outputs(const LensCalibration& lens, const fs::path& place) {
  if (place.has_parent_path()) {
    const Result<Done> made = make_folder(place.parent_path());
    if (!made.ok()) return made;
  }
  const Result<std::string> picture = lens_picture(lens);
  if (!picture.ok()) return picture.error();
  const Result<Done> drawn = write_file(picture_beside(place), *picture);
  return drawn.ok() ? write_file(place, camera_yaml(lens)) : drawn;
}

ExitCode told(const LensCalibration& lens, const std::string& more) {
  const Result<Done> printed = print(lens_text(lens) + more);
  if (!printed.ok()) {
    complain(printed.error());
    return ExitCode::kCannotWrite;
  }
  if (lens.refusal) return ExitCode::kAllRefused;
  const bool some = std::any_of(lens.photos.begin(), lens.photos.end(),
                                [](const LensPhoto& photo) { return photo.left_out.has_value(); });
  return some ? ExitCode::kSomeRefused : ExitCode::kDone;
}

}  // namespace

ExitCode learn_camera(const LensOptions& options) {
  const Result<Setup> setup = setup_of(options);
  if (!setup.ok()) {
    complain(setup.error());
    return ExitCode::kUsage;
  }
  const Result<std::vector<fs::path>> photos = photo_list(options.photos);
  if (!photos.ok()) {
    complain(photos.error());
    return ExitCode::kUsage;
  }
  const LensCalibration lens = learn_lens(*photos, *setup, [](const fs::path& path, const Result<int>& crossings) {
    spdlog::info("{}: {}", printable(path.string()),
                 printable(crossings.ok() ? counted(*crossings, "crossing") : crossings.error().what));
  });
  if (lens.refusal) return told(lens, "");
  const fs::path place = options.output.empty() ? free_place(camera_file_stem(lens)) : fs::path(options.output);
  const Result<Done> written = write_outputs(lens, place);
  if (!written.ok()) {
    complain(written.error());
    return ExitCode::kCannotWrite;
  }
  return told(lens, "\nCamera file: " + printable(place.string()) +
                        "\nPicture:     " + printable(picture_beside(place).string()) +
                        "\nUse it:      glintline look --camera " + printable(place.string()) + " PHOTO...\n");
}

}  // namespace glintline
