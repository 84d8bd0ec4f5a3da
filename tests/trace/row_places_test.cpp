#include "trace/row_places.h"

#include <gtest/gtest.h>

namespace glintline {
namespace {

using Heads = std::vector<std::optional<Point2>>;

const Point2 kStep(9.3, 0.6);

/// A row whose spacings alternate, with `sagitta` mm of bow over its length.
Heads row_of(int heads, double uneven_mm, double sagitta = 0) {
  Heads row;
  for (int k = 0; k < heads; ++k) {
    const double t = 2.0 * k / (heads - 1) - 1;
    row.emplace_back(Point2(20, 40) + k * kStep + (k % 2 ? uneven_mm : 0) * kStep.normalized() +
                     Point2(0, sagitta * (1 - t * t)));
  }
  return row;
}

/// The farthest that any place is from the head there; a place that is not told is far.
double farthest(const Heads& places, const Heads& heads) {
  double most = 0;
  for (std::size_t k = 0; k < heads.size(); ++k) {
    most = std::max(most, places[k] ? (*places[k] - *heads[k]).norm() : 1e9);
  }
  return most;
}

TEST(RowPlaces, AreTheHeadsOwnWhereSpacingsAlternate) {
  for (const double uneven : {0.0, 0.25, -0.25}) {
    const Heads row = row_of(9, uneven);
    EXPECT_LT(farthest(places_in_row(row), row), 1e-9) << uneven;
  }
}

TEST(RowPlaces, StayWhereAHeadWasMistaken) {
  const Heads row = row_of(6, 0.1);
  for (std::size_t k = 0; k < row.size(); ++k) {
    Heads seen = row;
    *seen[k] += Point2(-0.9, 0.3);
    EXPECT_LT(farthest(places_in_row(seen), row), 1e-9) << k;
  }
}

TEST(RowPlaces, StayWhereTwoOfNineHeadsWereMistaken) {
  const Heads row = row_of(9, -0.2);
  Heads seen = row;
  *seen[2] += Point2(0.8, 0.5);
  *seen[4] += Point2(0.8, -0.6);
  EXPECT_LT(farthest(places_in_row(seen), row), 1e-9);
}

TEST(RowPlaces, AreToldWhereAHeadIsMissing) {
  const Heads row = row_of(7, 0.2);
  Heads seen = row;
  seen[3].reset();
  EXPECT_LT(farthest(places_in_row(seen), row), 1e-9);
}

TEST(RowPlaces, FollowABow) {
  const Heads row = row_of(13, 0.15, 0.5);
  EXPECT_LT(farthest(places_in_row(row), row), 0.3);
}

TEST(RowPlaces, AreNotToldByThreeHeads) {
  for (const auto& place : places_in_row(row_of(4, 0))) EXPECT_FALSE(place);
}

TEST(RowPlaces, AreNotToldWhereHeadsDoNotAgree) {
  Heads seen = row_of(6, 0);
  const std::vector<Point2> off = {{0.9, 0}, {-0.8, 0.7}, {0, 1.2}, {1.1, -0.9}, {-0.6, -0.8}, {0.4, 0.9}};
  for (std::size_t k = 0; k < seen.size(); ++k) *seen[k] += off[k];
  for (const auto& place : places_in_row(seen)) EXPECT_FALSE(place);
}

}  // namespace
}  // namespace glintline
