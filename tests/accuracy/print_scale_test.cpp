// Whether a print that is 1 % off its told size is noticed in profile pictures: rivets against the sheet's pitch.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "locate/locate_card.h"
#include "measure/profile_measure.h"
#include "read/photo_file.h"
#include "support/truth.h"
#include "trace/profile_trace.h"

namespace glintline::testing {
namespace {

namespace fs = std::filesystem;

/// What a calliper over both rivet heads would read; the sheet's pitch.
ChainGeometry sheet_of(const nlohmann::json& truth) {
  ChainGeometry chain;
  chain.pitch_mm = truth["cutters"][0]["pitch_mm"].get<double>();
  double width_mm = 0;
  for (const auto& cutter : truth["cutters"]) {
    for (const char* rivet : {"rivet_rear", "rivet_front"}) {
      if (!cutter["points"].contains(rivet)) continue;
      width_mm = std::max(width_mm, cutter["points"][rivet]["board_mm"][2].get<double>());
    }
  }
  chain.chain_width = KnownLength{width_mm, 0.05};
  return chain;
}

struct Tally {
  int asked = 0;
  int warned = 0;
};

/// Nothing where the photograph is refused.
void ask(const Photo& photo, const glintline::Setup& setup, Tally& tally) {
  const auto pose = locate_card(photo, setup);
  if (!pose.ok()) return;
  const auto outlines = trace_profile(photo, *pose);
  if (!outlines.ok()) return;
  ++tally.asked;
  for (const std::string& note : measure_profile(*outlines, *pose, setup).notes) {
    if (note.find("sheet says") != std::string::npos) ++tally.warned;
  }
}

TEST(PrintScaleCheck, NoticesAPrintOnePercentOff) {
  Tally right, wrong;
  for (const char* folder : {"samples/photos", "samples/demo"}) {
    for (const fs::directory_entry& entry : fs::directory_iterator(fs::path(GLINTLINE_SOURCE_DIR) / folder)) {
      if (entry.path().extension() != ".jpg") continue;
      const nlohmann::json truth = truth_of(entry.path());
      if (truth["view"] != "profile" || truth["cutters"].empty()) continue;
      const Result<Photo> photo = read_photo(entry.path());
      ASSERT_TRUE(photo.ok()) << photo.error().what;
      glintline::Setup setup;
      setup.chain = sheet_of(truth);
      for (const double told : {1.0, 1.01, 0.99}) {
        setup.print = {told, told, 0.001, true};
        ask(*photo, setup, told == 1.0 ? right : wrong);
      }
    }
  }
  std::printf("print told right: %d of %d warned; told 1 %% wrong: %d of %d warned\n", right.warned, right.asked,
              wrong.warned, wrong.asked);
  ASSERT_GE(right.asked, 8);
  EXPECT_GE(wrong.warned, 0.9 * wrong.asked);
  EXPECT_LE(right.warned, 0.1 * right.asked);
}

}  // namespace
}  // namespace glintline::testing
