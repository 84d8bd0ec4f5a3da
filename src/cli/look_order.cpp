#include "cli/look_order.h"

#include "judge/common_practice.h"
#include "read/camera_file.h"
#include "read/chain_sheet_file.h"
#include "read/option_text.h"
#include "read/setup_file.h"

namespace glintline {
namespace {

/// The options' words read one after the other into a bench set-up; the first that fails stands.
class OptionReader {
 public:
  explicit OptionReader(const LookOptions& options) : options_(options) {}

  Result<Order> order() {
    take(options_.setup, "", read_setup_file, [this](const BenchSetup& bench) {
      setup_ = bench.setup;
      if (bench.sheet) sheet_ = *bench.sheet;
    });
    // What the set-up measures by is also what is judged by: its own pitch may stand over the sheet's.
    sheet_.geometry = setup_.chain;
    take(options_.chain, "", read_chain_sheet, [this](const ChainSheet& sheet) { sheet_ = sheet; });
    take(options_.camera, "", read_camera_file, [this](const CameraFile& file) {
      setup_.camera = file.camera;
      setup_.camera_width = file.width;
      setup_.camera_height = file.height;
    });
    take(options_.stand_off, "--standoff", parse_stand_off, [this](const KnownLength& l) { setup_.stand_off = l; });
    take(
        options_.printed, "--printed", [](const std::string& text) { return parse_printed(text); },
        [this](const PrintScale& print) { setup_.print = print; });
    take(options_.square, "--square", parse_square, [this](double square_mm) { setup_.card_square_mm = square_mm; });
    take(options_.pitch, "--pitch", parse_pitch, [this](double pitch_mm) { sheet_.geometry.pitch_mm = pitch_mm; });
    if (!options_.view.empty()) setup_.view = options_.view == "plan" ? ViewKind::kPlan : ViewKind::kProfile;
    if (failed_) return *failed_;
    setup_.chain = sheet_.geometry;
    const bool by_pitch = options_.scale_from == "pitch";
    if (by_pitch && !setup_.chain.pitch_mm) {
      return Error{Fault::kBadOption, "the chain's pitch is needed: give --pitch, or a sheet that states it",
                   "--scale-from pitch"};
    }
    return Order{setup_, limits_of(sheet_), sheet_, by_pitch};
  }

 private:
  template <typename Read, typename Use>
  void take(const std::string& text, const char* option, const Read& read, const Use& use) {
    if (text.empty() || failed_) return;
    const auto result = read(text);
    if (result.ok()) {
      use(*result);
      return;
    }
    failed_ = result.error();
    if (failed_->where.empty()) failed_->where = *option != '\0' ? std::string(option) + " " + text : text;
  }

  const LookOptions& options_;
  Setup setup_;
  ChainSheet sheet_;
  std::optional<Error> failed_;
};

}  // namespace

Result<Order> order_of(const LookOptions& options) { return OptionReader(options).order(); }

}  // namespace glintline
