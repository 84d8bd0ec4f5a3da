#include "pipeline/kept_inspections.h"

#include <fstream>
#include <iterator>

#include "read/file_bytes.h"
#include "record/chain_fields.h"
#include "record/document.h"
#include "record/inspection_json.h"
#include "report/written_file.h"

namespace glintline {

/// Bound so that a field more does not compile until it is named here: what the measuring depends on must not be
/// forgotten in the key.
void each_field(auto&& field, like<Setup> auto& setup) {
  auto& [camera, camera_width, camera_height, print, card_square_mm, stand_off, view, chain] = setup;
  field("camera", camera, "camera_width", camera_width, "camera_height", camera_height, "print", print,
        "card_square_mm", card_square_mm, "stand_off", stand_off, "view", view, "chain", chain);
}

namespace {

namespace fs = std::filesystem;

std::string hashed(const std::string& text) {
  return sha256_hex({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

bool worth_keeping(const Inspection& inspection) {
  if (inspection.photo_sha256.empty()) return false;
  if (!inspection.refusal) return true;
  switch (inspection.refusal->fault) {
    case Fault::kNotAPicture:
    case Fault::kDamagedPicture:
    case Fault::kTooSmall:
    case Fault::kTooCoarse:
    case Fault::kNoCard:
    case Fault::kWrongCard:
    case Fault::kCardHidden:
    case Fault::kTilted:
    case Fault::kBlurred:
    case Fault::kNoCutter:
    case Fault::kNotMeasurable:
      return true;
    default:
      return false;
  }
}

}  // namespace

KeptInspections::KeptInspections(fs::path folder, const Order& order, const std::string& build)
    : folder_(build.empty() ? fs::path() : std::move(folder)) {
  // All of the order, as with Setup above.
  const auto& [setup, limits, sheet, scale_from_pitch] = order;
  settings_ = document_of({"set-up", 1}, setup) + document_of({"limits", 1}, limits) +
              document_of({"sheet", 1}, sheet.value_or(ChainSheet{})) + (scale_from_pitch ? "by pitch" : "by card") +
              program_version() + build;
}

fs::path KeptInspections::place(const std::string& photo_sha256) const {
  return folder_ / (hashed(photo_sha256 + settings_) + ".json");
}

std::optional<Inspection> KeptInspections::find(const fs::path& photo) const {
  std::error_code ignored;
  if (folder_.empty() || !fs::is_directory(folder_, ignored)) return std::nullopt;
  const Result<std::vector<std::uint8_t>> bytes = read_bytes(photo);
  if (!bytes.ok()) return std::nullopt;
  std::ifstream file(place(sha256_hex(*bytes)), std::ios::binary);
  if (!file) return std::nullopt;
  const std::string text((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
  Result<Inspection> kept = inspection_from_json(text);
  if (!kept.ok()) return std::nullopt;
  Inspection inspection = std::move(kept).value();
  if (inspection.refusal && inspection.refusal->where == inspection.photo_path) {
    inspection.refusal->where = photo.string();
  }
  inspection.photo_path = photo.string();
  return inspection;
}

Result<Done> KeptInspections::keep(const Inspection& inspection) const {
  if (folder_.empty() || !worth_keeping(inspection)) return Done{};
  return write_file(place(inspection.photo_sha256), to_json(inspection));
}

}  // namespace glintline
