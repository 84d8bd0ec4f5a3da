#include "read/setup_file.h"

#include "read/camera_file.h"
#include "read/chain_sheet_file.h"
#include "read/toml.h"

namespace glintline {

namespace {

/// What the set-up's own text says, the files it names still unread.
struct Entries {
  std::optional<std::string> camera;
  std::optional<std::string> chain;
  std::optional<double> pitch_mm;
};

void read_print(TomlTable& table, Setup& setup) {
  Point2 nominal(kNominalBarMm, kNominalBarMm);
  if (const auto text = table.loose("printed_of_mm")) {
    nominal = table.keep("printed_of_mm", parse_nominal_bars(*text)).value_or(nominal);
  }
  if (const auto text = table.text("printed_mm")) {
    setup.print = table.keep("printed_mm", parse_printed(*text, nominal)).value_or(setup.print);
  }
}

Entries read_entries(TomlTable& table, Setup& setup) {
  Entries entries;
  entries.camera = table.text("camera");
  entries.chain = table.text("chain");
  entries.pitch_mm = table.length("pitch_mm", kPitchRange);
  setup.stand_off = table.known_length("standoff_mm", kStandOffRange, kStandOffU95Mm);
  setup.card_square_mm = table.length("card_square_mm", kSquareRange);
  setup.view = table.choice<ViewKind>("view", {{"profile", ViewKind::kProfile}, {"plan", ViewKind::kPlan}});
  read_print(table, setup);
  return entries;
}

}  // namespace

Result<BenchSetup> read_setup_file(const std::filesystem::path& path) {
  Result<TomlTable> opened = TomlTable::read(path);
  if (!opened) return opened.error();
  TomlTable table = std::move(opened).value();
  BenchSetup bench;
  const Entries entries = read_entries(table, bench.setup);
  if (const Result<Done> done = table.finish(); !done) return done.error();

  if (entries.camera) {
    const Result<CameraFile> file = read_camera_file(path.parent_path() / *entries.camera);
    if (!file) return file.error();
    bench.setup.camera = file->camera;
    bench.setup.camera_width = file->width;
    bench.setup.camera_height = file->height;
  }
  if (entries.chain) {
    Result<ChainSheet> sheet = read_chain_sheet(path.parent_path() / *entries.chain);
    if (!sheet) return sheet.error();
    bench.sheet = std::move(sheet).value();
    bench.setup.chain = bench.sheet->geometry;
  }
  if (entries.pitch_mm) {
    bench.setup.chain.pitch_mm = entries.pitch_mm;
    if (bench.sheet) bench.sheet->geometry.pitch_mm = entries.pitch_mm;
  }
  return bench;
}

}  // namespace glintline
