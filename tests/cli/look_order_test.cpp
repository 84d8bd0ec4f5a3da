#include "cli/look_order.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/scratch_folder.h"

namespace glintline {
namespace {

using ::testing::HasSubstr;
using testing::ScratchFolder;

constexpr double kExact = 1e-12;

TEST(LookOrder, NothingGivenIsAValidOrder) {
  const Result<Order> order = order_of({});
  ASSERT_TRUE(order.ok());
  EXPECT_FALSE(order->setup.camera);
  EXPECT_FALSE(order->setup.view);
  EXPECT_FALSE(order->setup.stand_off);
  EXPECT_GT(order->limits.gauge_setting_mm.value, 0);
}

TEST(LookOrder, SingleOptionsOverrideTheSetUpFile) {
  const ScratchFolder folder;
  LookOptions options;
  options.setup =
      folder.file("bench.toml", "standoff_mm = \"5.5+-0.4\"\nprinted_mm = \"99.4x99.7\"\nview = \"profile\"\n")
          .string();
  const Result<Order> file = order_of(options);
  ASSERT_TRUE(file.ok()) << file.error().where << ": " << file.error().what;
  EXPECT_NEAR(file->setup.stand_off->value_mm, 5.5, kExact);
  EXPECT_NEAR(file->setup.stand_off->u_mm, 0.2, kExact);
  EXPECT_NEAR(file->setup.print.x, 0.994, kExact);
  EXPECT_EQ(file->setup.view, ViewKind::kProfile);

  options.stand_off = "2";
  options.view = "plan";
  const Result<Order> both = order_of(options);
  ASSERT_TRUE(both.ok());
  EXPECT_NEAR(both->setup.stand_off->value_mm, 2, kExact);
  EXPECT_EQ(both->setup.view, ViewKind::kPlan);
  EXPECT_NEAR(both->setup.print.y, 0.997, kExact) << "what was not given again stays";
}

TEST(LookOrder, ThePitchIsMeasuredAndJudgedBy) {
  LookOptions options;
  // Gauge settings: .404 in 0.80 mm, 1/4 in 0.65 mm (Bayerische Waldbauernschule, page on saw chain).
  options.pitch = "10.26";
  const Result<Order> order = order_of(options);
  ASSERT_TRUE(order.ok());
  EXPECT_NEAR(*order->setup.chain.pitch_mm, 10.26, kExact);
  EXPECT_NEAR(order->limits.gauge_setting_mm.value, 0.80, kExact);
  options.pitch = "6.35";
  EXPECT_NEAR(order_of(options)->limits.gauge_setting_mm.value, 0.65, kExact);
}

TEST(LookOrder, ComplaintsNameTheOption) {
  LookOptions options;
  options.stand_off = "high";
  Result<Order> order = order_of(options);
  ASSERT_FALSE(order.ok());
  EXPECT_THAT(order.error().where, HasSubstr("--standoff"));
  options = {};
  options.printed = "99";
  order = order_of(options);
  ASSERT_FALSE(order.ok());
  EXPECT_THAT(order.error().where, HasSubstr("--printed"));
  options = {};
  options.pitch = "0.375";
  order = order_of(options);
  ASSERT_FALSE(order.ok());
  EXPECT_THAT(order.error().where, HasSubstr("--pitch"));
}

TEST(LookOrder, MissingFilesAreNamed) {
  for (std::string LookOptions::*option : {&LookOptions::setup, &LookOptions::chain, &LookOptions::camera}) {
    LookOptions options;
    options.*option = "/no/such/file";
    const Result<Order> order = order_of(options);
    ASSERT_FALSE(order.ok());
    EXPECT_EQ(order.error().fault, Fault::kFileMissing);
    EXPECT_THAT(order.error().where, HasSubstr("/no/such/file"));
  }
}

}  // namespace
}  // namespace glintline
