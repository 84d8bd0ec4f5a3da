#include "card/layout.h"

#include <gtest/gtest.h>

#include <opencv2/aruco/charuco.hpp>
#include <opencv2/imgproc.hpp>
#include <set>

namespace glintline {
namespace {

constexpr double kExact = 1e-9;            // plain algebra on numbers of up to 105 mm
constexpr double kSinglePrecision = 1e-5;  // OpenCV's board holds floats of up to 105

cv::Ptr<cv::aruco::CharucoBoard> opencv_board(const CardLayout& card) {
  return cv::aruco::CharucoBoard::create(kCardColumns, kCardRows, static_cast<float>(card.square_mm()),
                                         static_cast<float>(card.marker_mm()),
                                         cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11));
}

class BothCards : public ::testing::TestWithParam<CardKind> {
 protected:
  const CardLayout card_{GetParam()};
};

// General-purpose reference: OpenCV's own ChArUco board, whose corners run clockwise from the top left.
TEST_P(BothCards, NumberTheirMarkersAsOpenCvDoes) {
  const auto board = opencv_board(card_);
  ASSERT_EQ(board->ids.size(), static_cast<size_t>(kCardIds));
  size_t next = 0;
  for (int row = 0; row < kCardRows; ++row) {
    for (int column = 0; column < kCardColumns; ++column) {
      const auto id = card_.marker_id(column, row);
      if (!id) continue;
      ASSERT_LT(next, board->ids.size());
      EXPECT_EQ(*id - card_.first_id(), board->ids[next]);
      const auto corners = card_.marker_corners(column, row);
      for (int c = 0; c < 4; ++c) {
        EXPECT_NEAR(corners[c].x(), board->objPoints[next][c].x, kSinglePrecision);
        EXPECT_NEAR(corners[c].y(), board->objPoints[next][c].y, kSinglePrecision);
      }
      ++next;
    }
  }
  EXPECT_EQ(next, board->ids.size());
}

// The same reference, looked at as a picture: colour of every square's corner, modules of the first card's markers.
TEST_P(BothCards, ShowThePatternThatOpenCvDraws) {
  const auto board = opencv_board(card_);
  constexpr int kSquarePx = 32;  // a module is 3 px
  cv::Mat picture;
  board->draw(cv::Size(kCardColumns * kSquarePx, kCardRows * kSquarePx), picture, 0, 1);
  for (int row = 0; row < kCardRows; ++row) {
    for (int column = 0; column < kCardColumns; ++column) {
      if (CardLayout::square(column, row) == SquareKind::kField) continue;
      const bool black = picture.at<uchar>(row * kSquarePx + 1, column * kSquarePx + 1) < 128;
      EXPECT_EQ(black, CardLayout::square(column, row) == SquareKind::kBlack) << column << ", " << row;
    }
  }
  for (const CardMarker& marker : card_.markers()) {
    const MarkerModules modules = marker_modules(marker.id - card_.first_id());
    for (int y = 0; y < kMarkerModules; ++y) {
      for (int x = 0; x < kMarkerModules; ++x) {
        const cv::Point at(marker.column * kSquarePx + 4 + 3 * x + 1, marker.row * kSquarePx + 4 + 3 * y + 1);
        EXPECT_EQ(modules[y][x], picture.at<uchar>(at) > 127) << marker.id;
      }
    }
  }
}

TEST_P(BothCards, PrintEveryMarkerOutsideTheField) {
  const auto markers = card_.markers();
  EXPECT_EQ(markers.size(), 157U - 59U);  // the field begins and ends with a white place: 59 of its 117
  std::set<int> seen;
  for (const CardMarker& marker : markers) {
    EXPECT_TRUE(seen.insert(marker.id).second);
    EXPECT_EQ(card_of_id(marker.id), card_.kind());
    EXPECT_EQ(card_.square_of(marker.id), std::make_pair(marker.column, marker.row));
    const Point2 centre = (marker.corners_mm[0] + marker.corners_mm[2]) / 2;
    const bool inside = (centre.array() > card_.field_top_left_mm().array()).all() &&
                        (centre.array() < card_.field_bottom_right_mm().array()).all();
    EXPECT_FALSE(inside);
  }
}

TEST_P(BothCards, HaveSaddlesOnlyWhereFourPrintedSquaresMeet) {
  const auto saddles = card_.saddles();
  EXPECT_EQ(saddles.size(), 20U * 14U - 14U * 10U);  // all crossings, less those in the field and on its rim
  for (const CardSaddle& s : saddles) {
    const auto top_left = CardLayout::square(s.column - 1, s.row - 1);
    const auto top_right = CardLayout::square(s.column, s.row - 1);
    EXPECT_EQ(top_left == SquareKind::kBlack, s.dark_top_left);
    EXPECT_NE(top_left, top_right);
    EXPECT_EQ(top_left, CardLayout::square(s.column, s.row));
    EXPECT_EQ(top_right, CardLayout::square(s.column - 1, s.row));
    EXPECT_NE(top_left, SquareKind::kField);
    EXPECT_NE(top_right, SquareKind::kField);
    EXPECT_NEAR(s.at_mm.x(), s.column * card_.square_mm(), kExact);
    EXPECT_NEAR(s.at_mm.y(), s.row * card_.square_mm(), kExact);
  }
}

INSTANTIATE_TEST_SUITE_P(Card, BothCards, ::testing::Values(CardKind::kWide, CardKind::kClose));

TEST(CardLayout, HasItsPublishedSizes) {
  const CardLayout wide(CardKind::kWide);
  EXPECT_NEAR(wide.width_mm(), 105, kExact);
  EXPECT_NEAR(wide.height_mm(), 75, kExact);
  EXPECT_EQ(wide.first_id(), 0);
  EXPECT_NEAR(wide.number_tag().marker_mm, 6, kExact);
  EXPECT_NEAR(wide.number_tag().square_mm, 8, kExact);
  const CardLayout close(CardKind::kClose);
  EXPECT_NEAR(close.width_mm(), 42, kExact);
  EXPECT_NEAR(close.height_mm(), 30, kExact);
  EXPECT_EQ(close.first_id(), 157);
  EXPECT_NEAR(close.number_tag().marker_mm, 3, kExact);
  EXPECT_NEAR(close.number_tag().square_mm, 4, kExact);
}

TEST(CardLayout, CentresTheFieldOnTheBoard) {
  const CardLayout wide(CardKind::kWide);
  const Point2 centre = (wide.field_top_left_mm() + wide.field_bottom_right_mm()) / 2;
  EXPECT_NEAR(centre.x(), 52.5, kExact);
  EXPECT_NEAR(centre.y(), 37.5, kExact);
  EXPECT_NEAR(wide.field_bottom_right_mm().x() - wide.field_top_left_mm().x(), 65, kExact);
  EXPECT_NEAR(wide.field_bottom_right_mm().y() - wide.field_top_left_mm().y(), 45, kExact);
}

TEST(CardLayout, TellsCardsAndTagsApartByTheirIds) {
  EXPECT_EQ(card_of_id(156), CardKind::kWide);
  EXPECT_EQ(card_of_id(157), CardKind::kClose);
  EXPECT_EQ(card_of_id(313), CardKind::kClose);
  EXPECT_FALSE(card_of_id(314));
  EXPECT_FALSE(card_of_id(-1));
  EXPECT_FALSE(tag_number(400));
  EXPECT_EQ(tag_number(401), 1);
  EXPECT_EQ(tag_number(586), 186);
  EXPECT_FALSE(tag_number(587));
  EXPECT_EQ(kTagIdBase + kLastTagNumber + 1,
            cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11)->bytesList.rows);
}

TEST(CardLayout, FindsNoSquareForAnIdItDoesNotPrint) {
  const CardLayout wide(CardKind::kWide);
  EXPECT_FALSE(wide.square_of(-1));
  EXPECT_FALSE(wide.square_of(157));
  EXPECT_FALSE(wide.square_of(*wide.marker_id(10, 7)));  // in the middle of the field
}

TEST(CardLayout, TakesAnyUsefulSquareAndRefusesOthers) {
  const auto three = CardLayout::sized(CardKind::kClose, 3);
  ASSERT_TRUE(three);
  EXPECT_NEAR(three->width_mm(), 63, kExact);
  EXPECT_EQ(three->first_id(), 157);
  for (const double senseless : {0.0, -5.0, 0.99, 20.01, std::nan("")}) {
    const auto refused = CardLayout::sized(CardKind::kWide, senseless);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().fault, Fault::kBadOption);
    EXPECT_NE(refused.error().what.find("between 1 and 20 mm"), std::string::npos);
  }
}

}  // namespace
}  // namespace glintline
