// The program's own stages on a supplied photograph in which a part is spoiled.
#include "pipeline/stages.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>

#include "pipeline/inspect.h"
#include "read/photo_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;

const fs::path kTwoCutters = fs::path(GLINTLINE_SOURCE_DIR) / "samples/photos/profile-wide-3.jpg";

/// Where a cutter stands out of the links in the photograph of two, with some field around it.
cv::Rect around(int number) {
  std::ifstream file(fs::path(kTwoCutters).replace_extension(".json"));
  const nlohmann::json truth = nlohmann::json::parse(file);
  std::vector<cv::Point> seen;
  for (const auto& cutter : truth["cutters"]) {
    if (cutter["number"] != number) continue;
    for (const char* point : {"corner", "rear_outer", "top_high", "gauge_outer"}) {
      const auto& px = cutter["points"][point]["px"];
      seen.emplace_back(px[0].get<int>(), px[1].get<int>());
    }
  }
  constexpr int kAroundPx = 40;
  const cv::Rect tight = cv::boundingRect(seen);
  return {tight.x - kAroundPx, tight.y - kAroundPx, tight.width + 2 * kAroundPx, tight.height + 2 * kAroundPx};
}

// What can't be measured over the field is still there: a table with one cutter less would be read as a chain without.
TEST(Stages, NameACutterThatCannotBeTracedBesideOneThatIsMeasured) {
  Stages stages = own_stages();
  stages.read = [](const fs::path& path) {
    auto photo = read_photo(path);
    if (photo.ok()) {
      const cv::Mat part = photo->bgr(around(2) & cv::Rect({}, photo->bgr.size()));
      cv::GaussianBlur(part, part, {}, 9);
    }
    return photo;
  };
  const Inspection whole = inspect_photo(kTwoCutters, {});
  const Inspection spoiled = inspect_photo(kTwoCutters, {}, {}, stages);
  ASSERT_EQ(whole.cutters.size(), 2U);
  ASSERT_EQ(spoiled.cutters.size(), 2U);
  std::vector<const CutterMeasurement*> named;
  for (const InspectedCutter& cutter : spoiled.cutters) {
    if (!cutter.measured.measured()) named.push_back(&cutter.measured);
  }
  ASSERT_EQ(named.size(), 1U);
  EXPECT_TRUE(named[0]->over_field);
  ASSERT_FALSE(named[0]->missing.empty());
  EXPECT_THAT(named[0]->missing[0], HasSubstr("out of focus"));
  const cv::Rect place = around(2);
  EXPECT_TRUE(place.contains({cvRound(named[0]->corner_px.x()), cvRound(named[0]->corner_px.y())}));
}

}  // namespace
}  // namespace glintline
