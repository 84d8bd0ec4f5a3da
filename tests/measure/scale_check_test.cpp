// What rivets say of the scale, on rivets placed exactly: no photograph, and no formula of the check.
#include "measure/scale_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/known_cutter.h"

namespace glintline {
namespace {

using testing::KnownScene;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// Six rivets `spans_mm` apart in turn, at `height_mm` over the card.
ProfileOutlines row_of(const std::vector<double>& spans_mm, double height_mm = 4.9) {
  const KnownScene scene;
  ProfileOutlines outlines;
  double x = -10;
  for (int k = 0; k < 6; ++k) {
    RivetOutline head;
    head.centre_px = scene.pixel(scene.view(), x, 0, height_mm);
    outlines.rivets.push_back(head);
    x += spans_mm[static_cast<std::size_t>(k) % spans_mm.size()];
  }
  return outlines;
}

/// The scene's pose with a print of this uncertainty: a view a little nearer or farther.
CardPose pose_with_print(double u_rel) {
  CardPose pose = testing::pose_of(KnownScene());
  ViewVariation print{Source::kPrint, pose.view};
  print.view.camera_from_board.translation *= 1 + u_rel;
  pose.variations.push_back(print);
  return pose;
}

std::vector<std::string> warnings_for(const ProfileOutlines& outlines, const CardPose& pose,
                                      const glintline::Setup& setup) {
  const auto pitch = measured_pitch(outlines, pose, setup);
  return pitch ? scale_warnings(*pitch, outlines, pose, setup) : std::vector<std::string>{"no pitch"};
}

glintline::Setup sheet(double pitch_mm) {
  glintline::Setup setup;
  setup.chain.pitch_mm = pitch_mm;
  setup.chain.chain_width = KnownLength{5.7, 0.05};
  return setup;
}

TEST(ScaleCheck, SaysNothingWhereThePitchAgreesOrNoSheetTellsIt) {
  const CardPose pose = pose_with_print(0.005);
  EXPECT_THAT(warnings_for(row_of({9.32}), pose, sheet(9.32)), IsEmpty());
  EXPECT_THAT(warnings_for(row_of({9.32}), pose, glintline::Setup{}), IsEmpty());
  // Links and the gaps between them need not be alike: the pitch is over three rivets.
  EXPECT_THAT(warnings_for(row_of({9.5, 9.14}), pose, sheet(9.32)), IsEmpty());
}

TEST(ScaleCheck, NamesThePrintNobodyMeasured) {
  const auto warnings = warnings_for(row_of({9.32 * 1.012}), pose_with_print(0.005), sheet(9.32));
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_THAT(warnings[0], HasSubstr("the print, which nobody measured, is likely 1.2 % shorter than drawn"));
}

TEST(ScaleCheck, NamesTheStandOffWhereThePrintWasMeasured) {
  glintline::Setup setup = sheet(10.26);
  setup.chain.chain_width.reset();  // so that the heads may lie 4.2 to 6 mm over the card
  setup.print = {1, 1, 0.001, true};
  const auto warnings = warnings_for(row_of({10.26 * 1.009}, 5.1), pose_with_print(0.001), setup);
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_THAT(warnings[0], HasSubstr("nearer to the camera than assumed"));
  EXPECT_THAT(warnings[0], HasSubstr("measure the check bars again"));
}

TEST(ScaleCheck, NamesBarsMisreadWhereTheChainCannotLieSoHigh) {
  glintline::Setup setup = sheet(10.26);
  setup.print = {1, 1, 0.001, true};
  const auto warnings = warnings_for(row_of({10.26 * 1.012}), pose_with_print(0.001), setup);
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_THAT(warnings[0], HasSubstr("check bars were likely misread by 1.2 %"));
}

TEST(ScaleCheck, ProposesTheNearestRealPitchAndDoesNotForceIt) {
  const ProfileOutlines outlines = row_of({9.32});
  const CardPose pose = pose_with_print(0.003);
  const glintline::Setup setup = sheet(9.525);
  const auto warnings = warnings_for(outlines, pose, setup);
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_THAT(warnings[0], HasSubstr("the nearest real pitch is 9.320 mm"));
  const auto pitch = measured_pitch(outlines, pose, setup);
  EXPECT_NEAR(pitch->value, 9.32, 0.02);
}

TEST(ScaleCheck, NamesASlackChain) {
  glintline::Setup setup = sheet(9.32);
  const auto warnings = warnings_for(row_of({9.32, 9.9, 9.5, 9.32, 9.75}), pose_with_print(0.003), setup);
  ASSERT_EQ(warnings.size(), 1U);
  EXPECT_THAT(warnings[0], HasSubstr("pull it taut"));
}

TEST(ScaleCheck, IsSurerWithTheChainsWidthOnTheSheet) {
  const ProfileOutlines outlines = row_of({9.32});
  const CardPose pose = pose_with_print(0.001);
  glintline::Setup without = sheet(9.32);
  without.chain.chain_width.reset();
  EXPECT_LT(measured_pitch(outlines, pose, sheet(9.32))->u(), measured_pitch(outlines, pose, without)->u());
}

}  // namespace
}  // namespace glintline
