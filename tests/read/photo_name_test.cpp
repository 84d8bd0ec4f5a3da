#include "read/photo_name.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace glintline {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

TEST(PhotoName, NamesNumberViewAndHand) {
  EXPECT_THAT(claim_of_name("folder 12/c07-plan.jpg").numbers, ElementsAre(7));
  EXPECT_EQ(claim_of_name("c07-plan.jpg").view, ViewKind::kPlan);
  EXPECT_THAT(claim_of_name("ridge-stone-profile-3.jpg").numbers, ElementsAre(3));
  EXPECT_EQ(claim_of_name("ridge-stone-profile-3.jpg").view, ViewKind::kProfile);
  EXPECT_THAT(claim_of_name("7 Side left.JPG").numbers, ElementsAre(7));
  EXPECT_EQ(claim_of_name("7 Side left.JPG").hand, Hand::kLeft);
  EXPECT_THAT(claim_of_name("Cutter 31.png").numbers, ElementsAre(31));
  EXPECT_THAT(claim_of_name("08.jpg").numbers, ElementsAre(8));
  EXPECT_THAT(claim_of_name("c07-c08 profile.jpg").numbers, ElementsAre(7, 8));
  EXPECT_THAT(claim_of_name("2026-11-02-plan-7.jpg").numbers, ElementsAre(7));
  EXPECT_THAT(claim_of_name("c7_2.jpg").numbers, ElementsAre(7));
}

TEST(PhotoName, ClaimsNothingForACamerasOwnNames) {
  for (const char* name : {"IMG_2034.jpg", "DSC00012.JPG", "20260501_101112.jpg", "PXL_20260501_07.jpg", "photo.jpg",
                           "IMG_034.jpg", "", ".jpg", "c0-x.jpg", "12345.jpg"}) {
    EXPECT_THAT(claim_of_name(name).numbers, IsEmpty()) << name;
    EXPECT_FALSE(claim_of_name(name).view) << name;
  }
}

}  // namespace
}  // namespace glintline
