#include "math/blurred_step.h"

#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>
#include <limits>

namespace glintline {
namespace {

// Reference: Boost.Math's normal distribution.
TEST(BlurredStep, IsTheNormalDistributionsIntegral) {
  const boost::math::normal reference;
  for (double t = -7; t <= 7; t += 0.00371) EXPECT_NEAR(blurred_step(t), boost::math::cdf(reference, t), 2e-6) << t;
}

TEST(BlurredStep, EndsAtItsLevels) {
  constexpr double kFar = std::numeric_limits<double>::infinity();
  EXPECT_EQ(blurred_step(-kFar), 0);
  EXPECT_EQ(blurred_step(kFar), 1);
  EXPECT_EQ(blurred_step(6), 1);
}

}  // namespace
}  // namespace glintline
