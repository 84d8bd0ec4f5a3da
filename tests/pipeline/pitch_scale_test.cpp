// Photographs without a card: the supplied ones cut down to what lies over the plain field.
#include "pipeline/pitch_scale.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "pipeline/inspect.h"
#include "read/photo_file.h"
#include "report/json.h"
#include "report/table.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;

fs::path photo_path(const std::string& name) { return fs::path(GLINTLINE_SOURCE_DIR) / "samples/photos" / name; }

nlohmann::json truth_of(const std::string& name) {
  std::ifstream file(photo_path(name + ".json"));
  return nlohmann::json::parse(file);
}

/// The middle of a photograph, where no square of the card reaches, as if a longer lens had taken it.
Result<Photo> without_card(const std::string& name, double share) {
  Result<Photo> whole = read_photo(photo_path(name + ".jpg"));
  if (!whole.ok()) return whole;
  Photo photo = std::move(whole).value();
  const int width = static_cast<int>(share * photo.bgr.cols);
  const int height = static_cast<int>(share * photo.bgr.rows);
  photo.bgr = photo.bgr(cv::Rect((photo.bgr.cols - width) / 2, (photo.bgr.rows - height) / 2, width, height)).clone();
  if (photo.exif.focal_35mm) *photo.exif.focal_35mm /= share;
  return photo;
}

constexpr double kFieldShare = 0.48;

TEST(PitchScale, MeasuresWithoutACardAndIsLessSure) {
  const std::string name = "profile-wide-1";
  const auto photo = without_card(name, kFieldShare);
  ASSERT_TRUE(photo.ok());
  const nlohmann::json truth = truth_of(name);
  glintline::Setup setup;
  setup.chain.pitch_mm = truth["cutters"][0]["pitch_mm"].get<double>();
  const auto scaled = measure_by_pitch(*photo, setup);
  ASSERT_TRUE(scaled.ok()) << scaled.error().what;
  EXPECT_FALSE(scaled->measurements.pitch_mm);
  EXPECT_EQ(scaled->pose.saddles, 0);
  ASSERT_FALSE(scaled->pose.warnings.empty());
  EXPECT_THAT(scaled->pose.warnings[0], HasSubstr("no card: the scale rests on the pitch"));

  const Order order{setup, {}};
  const Inspection with_card = inspect_photo(photo_path(name + ".jpg"), order);
  ASSERT_FALSE(with_card.cutters.empty());
  int compared = 0;
  for (const CutterMeasurement& m : scaled->measurements.cutters) {
    if (!m.length_mm) continue;
    const Point2 in_whole = m.corner_px + Point2((1 - kFieldShare) / 2 * 4000, (1 - kFieldShare) / 2 * 3000);
    for (const auto& cutter : truth["cutters"]) {
      const auto& px = cutter["points"]["corner"]["px"];
      if ((Point2(px[0], px[1]) - in_whole).norm() > 60) continue;
      ++compared;
      EXPECT_NEAR(m.length_mm->value, cutter["length_mm"].get<double>(), 2 * m.length_mm->u());
      EXPECT_GT(m.length_mm->u(), with_card.cutters[0].measured.length_mm->u());
      if (m.gauge_drop_mm) {
        EXPECT_NEAR(m.gauge_drop_mm->value, cutter["gauge_drop_mm"].get<double>(), 2 * m.gauge_drop_mm->u());
      }
      std::printf("no card: length %.3f +- %.3f, truth %.3f\n", m.length_mm->value, 2 * m.length_mm->u(),
                  cutter["length_mm"].get<double>());
    }
  }
  EXPECT_GE(compared, 1);
}

TEST(PitchScale, IsToldInEveryOutput) {
  Stages stages = own_stages();
  stages.read = [](const fs::path&) { return without_card("profile-wide-1", kFieldShare); };
  Order order;
  order.setup.chain.pitch_mm = truth_of("profile-wide-1")["cutters"][0]["pitch_mm"].get<double>();
  const Inspection refused = inspect_photo("bare.jpg", order, {}, stages);
  ASSERT_TRUE(refused.refusal) << "measured without a card although nobody asked for it";
  order.scale_from_pitch = true;
  const Inspection done = inspect_photo("bare.jpg", order, {}, stages);
  ASSERT_FALSE(done.refusal) << done.refusal->what;
  const auto json = nlohmann::json::parse(json_text({done}));
  EXPECT_EQ(json[0]["scale"]["from"], "pitch");
  EXPECT_TRUE(json[0]["scale"]["card"].is_null());
  EXPECT_TRUE(json[0]["scale"]["pitch_mm"].is_null());
  const std::string table = table_text({done}, TableStyle{});
  EXPECT_THAT(table, HasSubstr("no card, scale from the pitch"));
  EXPECT_THAT(table, HasSubstr("no card: the scale rests on the pitch"));
}

TEST(PitchScale, NeedsAPitchAndARowOfRivets) {
  const auto photo = without_card("profile-wide-1", kFieldShare);
  ASSERT_TRUE(photo.ok());
  EXPECT_EQ(measure_by_pitch(*photo, {}).error().fault, Fault::kBadOption);
  Photo empty = *photo;
  empty.bgr = cv::Mat(600, 800, CV_8UC3, cv::Scalar(190, 70, 20));
  glintline::Setup setup;
  setup.chain.pitch_mm = 9.525;
  EXPECT_EQ(measure_by_pitch(empty, setup).error().fault, Fault::kNoCutter);
}

}  // namespace
}  // namespace glintline
