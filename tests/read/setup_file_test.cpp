#include "read/setup_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "read/written_file.h"

namespace glintline {
namespace {

using ::testing::EndsWith;
using ::testing::HasSubstr;
using testing::WrittenFile;

constexpr double kExact = 1e-12;

Result<BenchSetup> setup_of(const std::string& text) {
  const WrittenFile file("bench.toml", text);
  return read_setup_file(file.path());
}

TEST(SetupFile, MayBeEmpty) {
  const auto bench = setup_of("");
  ASSERT_TRUE(bench);
  EXPECT_FALSE(bench->sheet);
  EXPECT_FALSE(bench->setup.camera);
  EXPECT_FALSE(bench->setup.print.measured);
}

TEST(SetupFile, OfTheExampleFindsItsCameraAndChain) {
  const auto bench = read_setup_file(std::filesystem::path(GLINTLINE_SOURCE_DIR) / "calib/example-setup.toml");
  ASSERT_TRUE(bench) << bench.error().what;
  EXPECT_EQ(bench->setup.camera_width, 4000);
  ASSERT_TRUE(bench->setup.camera);
  EXPECT_EQ(bench->setup.camera->fx, 3120);
  ASSERT_TRUE(bench->sheet);
  EXPECT_EQ(bench->setup.chain.pitch_mm, 9.525);
  EXPECT_EQ(bench->setup.chain.top_plate_width->value_mm, 5.4);
  EXPECT_NEAR(bench->setup.print.x, 0.994, kExact);
  EXPECT_EQ(bench->setup.stand_off->value_mm, 5.5);
  EXPECT_EQ(bench->setup.view, ViewKind::kProfile);
}

TEST(SetupFile, TakesTheStandOffAsNumberOrText) {
  EXPECT_NEAR(setup_of("standoff_mm = 5.5")->setup.stand_off->value_mm, 5.5, kExact);
  EXPECT_NEAR(setup_of("standoff_mm = 6")->setup.stand_off->value_mm, 6, kExact);
  EXPECT_NEAR(setup_of("standoff_mm = \"5.5+-0.2\"")->setup.stand_off->u_mm, 0.1, kExact);
}

TEST(SetupFile, MeasuresThePrintAgainstOtherBarsWhereToldSo) {
  const auto bench = setup_of("printed_mm = \"49.8x74.7\"\nprinted_of_mm = \"50x75\"");
  ASSERT_TRUE(bench);
  EXPECT_NEAR(bench->setup.print.x, 0.996, kExact);
  EXPECT_NEAR(bench->setup.print.y, 0.996, kExact);
}

TEST(SetupFile, PutsItsOwnPitchBeforeTheSheets) {
  const WrittenFile file("bench.toml", "chain = \"loop.toml\"\npitch_mm = 9.32");
  file.beside("loop.toml", "pitch_mm = 9.525");
  const auto bench = read_setup_file(file.path());
  ASSERT_TRUE(bench);
  EXPECT_EQ(bench->setup.chain.pitch_mm, 9.32);
  EXPECT_EQ(bench->sheet->geometry.pitch_mm, 9.32);
}

TEST(SetupFile, NamesTheFileAtFault) {
  const WrittenFile file("bench.toml", "chain = \"loop.toml\"");
  file.beside("loop.toml", "\n\npitch_mm = 0.375");
  const auto wrong_chain = read_setup_file(file.path());
  ASSERT_FALSE(wrong_chain);
  EXPECT_THAT(wrong_chain.error().where, EndsWith("loop.toml:3"));
  const auto no_camera = setup_of("camera = \"none.yml\"");
  ASSERT_FALSE(no_camera);
  EXPECT_EQ(no_camera.error().fault, Fault::kFileMissing);
  EXPECT_THAT(no_camera.error().where, EndsWith("none.yml"));
}

TEST(SetupFile, RefusesWhatMakesNoSenseWithItsLine) {
  const struct {
    const char* text;
    const char* what;
  } wrongs[] = {{"\nstandoff_mm = 5500", "5500 um is 5.5 mm"},
                {"\nstandoff_mm = \"5,5\"", "point, not a comma"},
                {"\nstandoff_mm = true", "number or a text"},
                {"\npitch_mm = 0.375", "0.375 in is 9.525 mm"},
                {"\nprinted_mm = \"9.94x9.97\"", "millimetres"},
                {"\nprinted_mm = 99.4", "text in quotation marks"},
                {"\nview = \"above\"", "profile, plan"},
                {"\ncard_square_mm = 0.2", "0.2 in is 5.08 mm"},
                {"\nstandof_mm = 5", "standof_mm is not known here"}};
  for (const auto& wrong : wrongs) {
    const auto bench = setup_of(wrong.text);
    ASSERT_FALSE(bench) << wrong.text;
    EXPECT_EQ(bench.error().fault, Fault::kBadOption);
    EXPECT_THAT(bench.error().what, HasSubstr(wrong.what));
    EXPECT_THAT(bench.error().where, EndsWith("bench.toml:2"));
  }
}

}  // namespace
}  // namespace glintline
