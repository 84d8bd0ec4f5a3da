#include "card/draw.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <functional>
#include <map>
#include <set>

#include "sheet_probe.h"

namespace glintline {
namespace {

using testing::april_tags;
using testing::FoundTag;
using testing::Raster;
using testing::Region;
using testing::Word;

/// What the card promises: every edge where the layout says.
constexpr double kGeometryMm = 0.005;
/// pdfinfo prints 0.001 pt (0.00035 mm), the PDF itself a little more.
constexpr double kPageMm = 0.0005;
/// The AprilTag library fits a marker's corners to whole-pixel edge points: by experiment (this test) they scatter by
/// 0.2 px, up to 0.5 px, on clean pictures. A module is 5 px here, so these bounds still prove the right place, and the
/// mean over all markers, whose scatter is 0.02 px, proves that nothing is shifted by half a pixel.
constexpr double kTagCornerPx = 0.7;
constexpr double kTagMeanPx = 0.15;

/// A folder of its own for every test case, removed afterwards.
class Sheets : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    std::string name = std::string(info->test_suite_name()) + "-" + info->name() + "-" + std::to_string(getpid());
    std::replace(name.begin(), name.end(), '/', '-');
    folder_ = std::filesystem::path(::testing::TempDir()) / name;
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  [[nodiscard]] SheetFile pdf(Paper paper = Paper::kA4) const { return {folder_ / "sheet.pdf", paper}; }
  [[nodiscard]] SheetFile png(double dpi) const { return {folder_ / "sheet.png", Paper::kA4, SheetFormat::kPng, dpi}; }

  std::filesystem::path folder_;
};

struct CardCase {
  const char* name;
  CardKind kind;
  double square_mm;
  Paper paper;
};

std::ostream& operator<<(std::ostream& out, const CardCase& c) { return out << c.name; }

class CardSheets : public Sheets, public ::testing::WithParamInterface<CardCase> {
 protected:
  void SetUp() override {
    Sheets::SetUp();
    file_ = pdf(GetParam().paper);
    const auto drawn = draw_card(card_, {}, file_);
    ASSERT_TRUE(drawn) << drawn.error().what;
    sheet_ = *drawn;
  }

  [[nodiscard]] Region piece() const {
    const double q = card_.quiet_margin_mm();
    return {sheet_.board_origin_mm.x() - q, sheet_.board_origin_mm.y() - q, card_.width_mm() + 2 * q,
            card_.height_mm() + 2 * q};
  }

  const CardLayout card_ = CardLayout::sized(GetParam().kind, GetParam().square_mm).value();
  SheetFile file_;
  CardSheet sheet_;
};

bool has_box(const std::vector<Region>& boxes, const Region& wanted) {
  return std::any_of(boxes.begin(), boxes.end(), [&](const Region& b) {
    return std::abs(b.x - wanted.x) <= kGeometryMm && std::abs(b.y - wanted.y) <= kGeometryMm &&
           std::abs(b.x + b.width - wanted.x - wanted.width) <= kGeometryMm &&
           std::abs(b.y + b.height - wanted.y - wanted.height) <= kGeometryMm;
  });
}

TEST_P(CardSheets, HavePagesOfExactSize) {
  // ISO 216: A4 is 210 x 297 mm; US Letter is 8.5 x 11 in.
  const Point2 wanted = GetParam().paper == Paper::kA4 ? Point2(210, 297) : Point2(215.9, 279.4);
  const Point2 page = testing::page_size_mm(file_.path);
  EXPECT_NEAR(page.x(), wanted.x(), kPageMm);
  EXPECT_NEAR(page.y(), wanted.y(), kPageMm);
}

TEST_P(CardSheets, HaveEverySquareAndMarkerInPlace) {
  const auto boxes = testing::black_boxes(file_.path);
  const double q = card_.square_mm();
  for (int row = 0; row < kCardRows; ++row) {
    for (int column = 0; column < kCardColumns; ++column) {
      if (CardLayout::square(column, row) != SquareKind::kBlack) continue;
      const Point2 at = sheet_.board_origin_mm + card_.grid_point(column, row);
      EXPECT_TRUE(has_box(boxes, {at.x(), at.y(), q, q})) << column << ", " << row;
    }
  }
  const double module = card_.marker_mm() / kMarkerModules;
  for (const CardMarker& marker : card_.markers()) {
    const Point2 first = sheet_.board_origin_mm + marker.corners_mm[0];
    const Point2 last = sheet_.board_origin_mm + marker.corners_mm[2];
    EXPECT_TRUE(has_box(boxes, {first.x(), first.y(), card_.marker_mm(), module})) << marker.id;
    EXPECT_TRUE(has_box(boxes, {first.x(), last.y() - module, card_.marker_mm(), module})) << marker.id;
  }
}

TEST_P(CardSheets, HaveCheckBarsOfExactLength) {
  const auto boxes = testing::black_boxes(file_.path);
  // Ticks are 0.15 mm thick and reach 3 mm to both sides of the bar.
  for (const double along : {0.0, kCheckBarMm}) {
    const Point2 x = sheet_.x_bar_mm + Point2(along, 0);
    EXPECT_TRUE(has_box(boxes, {x.x() - 0.075, x.y() - 3, 0.15, 6}));
    const Point2 y = sheet_.y_bar_mm + Point2(0, along);
    EXPECT_TRUE(has_box(boxes, {y.x() - 3, y.y() - 0.075, 6, 0.15}));
  }
}

/// Where the grey crosses half along a row (or column) of pixels, corner-based px.
std::vector<double> edges_along(const cv::Mat& line) {
  std::vector<double> edges;
  for (int i = 1; i < static_cast<int>(line.total()); ++i) {
    const double before = line.at<uchar>(i - 1);
    const double after = line.at<uchar>(i);
    if ((before < 127.5) == (after < 127.5)) continue;
    edges.push_back(i - 0.5 + (127.5 - before) / (after - before));
  }
  return edges;
}

// A second road, without cairo on either side of the reading: Poppler's Splash, so fine that a pixel is 0.0053 mm.
TEST_P(CardSheets, MeasureTheSameWhenRasterised) {
  constexpr double kDpi = 4800;
  constexpr double kPixelMm = 25.4 / kDpi;
  const double q = card_.square_mm();
  const Point2 origin = sheet_.board_origin_mm;
  const double inside = 0.06 * q;  // the first row's squares, above their markers
  const Raster across = testing::rasterised(file_.path, kDpi, {piece().x + q / 2, origin.y() + inside, 22 * q, 0.05});
  const auto x_edges = edges_along(across.grey.row(across.grey.rows / 2));
  ASSERT_EQ(x_edges.size(), static_cast<size_t>(kCardColumns + 1));
  for (int i = 0; i <= kCardColumns; ++i) {
    EXPECT_NEAR(across.mm({x_edges[i], 0}).x(), origin.x() + i * q, kGeometryMm + kPixelMm / 2) << i;
  }
  const Raster down = testing::rasterised(file_.path, kDpi, {origin.x() + inside, piece().y + q / 2, 0.05, 16 * q});
  const auto y_edges = edges_along(down.grey.col(down.grey.cols / 2).clone());
  ASSERT_EQ(y_edges.size(), static_cast<size_t>(kCardRows + 1));
  for (int i = 0; i <= kCardRows; ++i) {
    EXPECT_NEAR(down.mm({0, y_edges[i]}).y(), origin.y() + i * q, kGeometryMm + kPixelMm / 2) << i;
  }
}

/// The library's corner that lies nearest a wanted one, px.
double nearest_corner_px(const FoundTag& tag, const Point2& wanted_mm, double px_per_mm) {
  double best = 1e9;
  for (const Point2& corner : tag.corners_mm) best = std::min(best, (corner - wanted_mm).norm() * px_per_mm);
  return best;
}

/// Every marker is found once, whole and in place, and nothing else is.
void expect_markers_in_place(const std::map<int, std::array<Point2, 4>>& wanted, const Raster& raster) {
  const auto found = april_tags(raster);
  EXPECT_EQ(found.size(), wanted.size());
  std::set<int> seen;
  Point2 sum_px = Point2::Zero();
  for (const FoundTag& tag : found) {
    ASSERT_TRUE(wanted.count(tag.id)) << tag.id;
    EXPECT_TRUE(seen.insert(tag.id).second) << tag.id << " seen twice";
    EXPECT_EQ(tag.wrong_bits, 0);
    for (const Point2& corner : wanted.at(tag.id)) {
      EXPECT_LT(nearest_corner_px(tag, corner, raster.px_per_mm), kTagCornerPx) << tag.id;
      sum_px -= corner * raster.px_per_mm / 4;
    }
    for (const Point2& corner : tag.corners_mm) sum_px += corner * raster.px_per_mm / 4;
  }
  const Point2 mean_px = sum_px / static_cast<double>(wanted.size());
  EXPECT_NEAR(mean_px.x(), 0, kTagMeanPx);
  EXPECT_NEAR(mean_px.y(), 0, kTagMeanPx);
}

std::map<int, std::array<Point2, 4>> markers_on_sheet(const CardLayout& card, const Point2& origin_mm) {
  std::map<int, std::array<Point2, 4>> places;
  for (const CardMarker& marker : card.markers()) {
    for (size_t c = 0; c < 4; ++c) places[marker.id][c] = origin_mm + marker.corners_mm[c];
  }
  return places;
}

// General-purpose reference: the AprilTag library, which shares no code or code table with OpenCV.
TEST_P(CardSheets, AreReadByTheAprilTagLibrary) {
  const double dpi = 1500 / card_.square_mm();  // a marker is 44 px wide
  expect_markers_in_place(markers_on_sheet(card_, sheet_.board_origin_mm),
                          testing::rasterised(file_.path, dpi, piece()));
}

TEST_P(CardSheets, LeaveTheQuietMarginWhiteNextToTheSquares) {
  const Raster raster = testing::rasterised(file_.path, 600, piece());
  const double q = card_.square_mm();
  cv::Mat white = raster.grey.clone();
  const auto box = [&](double out) {
    const Point2 a = raster.px(sheet_.board_origin_mm - Point2(out, out));
    const Point2 b = raster.px(sheet_.board_origin_mm + Point2(card_.width_mm() + out, card_.height_mm() + out));
    return cv::Rect(cv::Point(static_cast<int>(std::floor(a.x())), static_cast<int>(std::floor(a.y()))),
                    cv::Point(static_cast<int>(std::ceil(b.x())), static_cast<int>(std::ceil(b.y()))));
  };
  white(box(0)).setTo(255);
  double darkest = 0;
  cv::minMaxLoc(white(box(q / 2 - 0.08)), &darkest);
  EXPECT_EQ(darkest, 255);
}

INSTANTIATE_TEST_SUITE_P(Card, CardSheets,
                         ::testing::Values(CardCase{"wide", CardKind::kWide, 5, Paper::kA4},
                                           CardCase{"wide_letter", CardKind::kWide, 5, Paper::kLetter},
                                           CardCase{"close", CardKind::kClose, 2, Paper::kA4},
                                           CardCase{"close_3mm", CardKind::kClose, 3, Paper::kLetter},
                                           CardCase{"wide_7.3mm", CardKind::kWide, 7.3, Paper::kA4}),
                         [](const auto& info) {
                           std::string name = info.param.name;
                           std::replace(name.begin(), name.end(), '.', '_');
                           return name;
                         });

TEST_F(Sheets, ShowTheFieldInItsBlueOrLeaveItOpen) {
  const CardLayout wide(CardKind::kWide);
  const auto brightness = [&](FieldPrint field) {
    const auto sheet = draw_card(wide, {.field = field}, png(100)).value();
    const Raster raster = testing::read_png(png(100).path).raster;
    const Point2 at = raster.px(sheet.board_origin_mm + wide.field_top_left_mm() + Point2(10, 5));
    return static_cast<int>(raster.grey.at<uchar>(static_cast<int>(at.y()), static_cast<int>(at.x())));
  };
  EXPECT_EQ(brightness(FieldPrint::kBlue), 70);  // the green of sRGB (20, 70, 190)
  EXPECT_EQ(brightness(FieldPrint::kCutOut), 255);
}

TEST_F(Sheets, AsPngCarryTheirResolutionAndAreReadByTheAprilTagLibrary) {
  const CardLayout close(CardKind::kClose);
  const SheetFile file = png(600);
  const auto sheet = draw_card(close, {}, file);
  ASSERT_TRUE(sheet);
  const auto picture = testing::read_png(file.path);
  EXPECT_EQ(picture.px_per_metre, 23622U);    // 600 dpi
  EXPECT_EQ(picture.raster.grey.cols, 4961);  // 210 mm at 600 dpi, rounded
  EXPECT_EQ(picture.raster.grey.rows, 7016);  // 297 mm
  Raster cut = picture.raster;
  cut.px_per_mm = 600 / 25.4;
  const cv::Point first(1900, 1900);
  const cv::Rect window(first, cv::Size(1200, 900));
  cut.grey = picture.raster.grey(window).clone();
  cut.offset_px = Point2(first.x, first.y);
  expect_markers_in_place(markers_on_sheet(close, sheet->board_origin_mm), cut);
}

class TagSheets : public Sheets, public ::testing::WithParamInterface<CardKind> {};

TEST_P(TagSheets, AreReadByTheAprilTagLibraryAsTheirNumbers) {
  const CardLayout card(GetParam());
  const auto sheet = draw_number_tags(card, 1, 72, pdf());
  ASSERT_TRUE(sheet) << sheet.error().what;
  ASSERT_EQ(sheet->tags.size(), 72U);
  EXPECT_NEAR(sheet->marker_mm, GetParam() == CardKind::kWide ? 6 : 3, kGeometryMm);
  const double dpi = GetParam() == CardKind::kWide ? 200 : 400;
  const Raster raster = testing::rasterised(pdf().path, dpi, {0, 30, 210, GetParam() == CardKind::kWide ? 100. : 60.});
  std::map<int, std::array<Point2, 4>> places;
  for (const TagPlace& place : sheet->tags) {
    const double side = sheet->marker_mm;
    const Point2& at = place.marker_mm;
    places[400 + place.number] = {at, at + Point2(side, 0), at + Point2(side, side), at + Point2(0, side)};
  }
  expect_markers_in_place(places, raster);
}

INSTANTIATE_TEST_SUITE_P(Card, TagSheets, ::testing::Values(CardKind::kWide, CardKind::kClose));

TEST_F(Sheets, HoldAllNumberTagsOfTheFamily) {
  EXPECT_TRUE(draw_number_tags(CardLayout(CardKind::kWide), 1, kLastTagNumber, pdf(Paper::kLetter)));
  EXPECT_TRUE(draw_number_tags(CardLayout(CardKind::kClose), 1, kLastTagNumber, pdf()));
}

/// Words stay on the part of the sheet that printers reach, and off one another.
void expect_legible(const std::filesystem::path& path) {
  constexpr double kUnprintableMm = 6;  // common practice, no source
  const Point2 page = testing::page_size_mm(path);
  std::vector<Word> found = testing::words(path);
  ASSERT_GT(found.size(), 20U);
  for (Word& word : found) {
    EXPECT_GT(word.box.x, kUnprintableMm) << word.text;
    EXPECT_GT(word.box.y, kUnprintableMm) << word.text;
    EXPECT_LT(word.box.x + word.box.width, page.x() - kUnprintableMm) << word.text;
    EXPECT_LT(word.box.y + word.box.height, page.y() - kUnprintableMm) << word.text;
    // Boxes span the font's full ascent and descent, which hardly any word fills.
    word.box.y += 0.2 * word.box.height;
    word.box.height *= 0.6;
  }
  for (size_t i = 0; i < found.size(); ++i) {
    for (size_t j = i + 1; j < found.size(); ++j) {
      const Region& a = found[i].box;
      const Region& b = found[j].box;
      const bool apart = a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y;
      EXPECT_TRUE(apart) << found[i].text << " on " << found[j].text;
    }
  }
}

TEST_F(Sheets, KeepTheirWordsApartAndOnThePaper) {
  for (const Paper paper : {Paper::kA4, Paper::kLetter}) {
    for (const double square : {1.0, 2.0, 5.0, 7.3}) {
      SCOPED_TRACE(square);
      const CardLayout card = CardLayout::sized(CardKind::kWide, square).value();
      ASSERT_TRUE(draw_card(card, {.field = FieldPrint::kCutOut}, pdf(paper)));
      expect_legible(pdf(paper).path);
      ASSERT_TRUE(draw_plan_block(card, {.chain_height_mm = 10 + square, .slot_mm = 5}, pdf(paper)));
      expect_legible(pdf(paper).path);
    }
    ASSERT_TRUE(draw_number_tags(CardLayout(CardKind::kClose), 100, 160, pdf(paper)));
    expect_legible(pdf(paper).path);
  }
}

TEST_F(Sheets, CarryTheSafetyAdvice) {
  const auto says = [&](const std::string& wanted) {
    const auto found = testing::words(pdf().path);
    return std::any_of(found.begin(), found.end(), [&](const Word& w) { return w.text.find(wanted) == 0; });
  };
  const CardLayout wide(CardKind::kWide);
  const std::vector<std::function<bool()>> sheets = {
      [&] { return draw_card(wide, {}, pdf()).ok(); },
      [&] { return draw_number_tags(wide, 1, 10, pdf()).ok(); },
      [&] { return draw_plan_block(wide, {}, pdf()).ok(); },
  };
  for (const auto& draw : sheets) {
    ASSERT_TRUE(draw());
    for (const char* word : {"engine", "battery", "gloves", "cold", "advice", "maker", "qualified"}) {
      EXPECT_TRUE(says(word)) << word;
    }
  }
}

// The stated purpose: top plates 1.5 to 3.5 mm over the card.
TEST_F(Sheets, OfTheBlockFollowTheChainsHeight) {
  const auto labelled = [&](const std::string& label) {
    const auto found = testing::words(pdf().path);
    return std::any_of(found.begin(), found.end(), [&](const Word& w) { return w.text == label; });
  };
  for (const double height : {9.7, 12.0, 14.3}) {
    const PlanBlock block{.chain_height_mm = height};
    EXPECT_GT(height - block.rail_mm(), 1.5);
    EXPECT_LT(height - block.rail_mm(), 3.5);
    ASSERT_TRUE(draw_plan_block(CardLayout(CardKind::kWide), block, pdf()));
    std::array<char, 16> rail{};
    std::snprintf(rail.data(), rail.size(), "%.1f", height - 2.5);
    EXPECT_TRUE(labelled(rail.data())) << rail.data();
  }
}

template <typename T>
void expect_refused(const Result<T>& result, Fault fault, const std::string& advice) {
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().fault, fault);
  EXPECT_NE(result.error().what.find(advice), std::string::npos) << result.error().what;
  EXPECT_EQ(result.error().what.find('\n'), std::string::npos);
}

TEST_F(Sheets, AreRefusedWhereTheyMakeNoSense) {
  const CardLayout wide(CardKind::kWide);
  const CardLayout large = CardLayout::sized(CardKind::kWide, 8).value();
  expect_refused(draw_card(large, {}, pdf()), Fault::kBadOption, "choose 1 to 7.3 mm");
  expect_refused(draw_card(large, {}, pdf(Paper::kLetter)), Fault::kBadOption, "US Letter");
  expect_refused(draw_card(wide, {.slot_mm = std::nan("")}, pdf()), Fault::kBadOption, "slot");
  expect_refused(draw_card(wide, {}, png(99)), Fault::kBadOption, "between 100 and 1200");
  expect_refused(draw_card(wide, {}, png(1e6)), Fault::kBadOption, "between 100 and 1200");
  expect_refused(draw_number_tags(wide, 0, 5, pdf()), Fault::kBadOption, "1 to 186");
  expect_refused(draw_number_tags(wide, 5, 4, pdf()), Fault::kBadOption, "1 to 186");
  expect_refused(draw_number_tags(wide, 1, 187, pdf()), Fault::kBadOption, "1 to 186");
  expect_refused(draw_number_tags(large, 1, 186, pdf()), Fault::kBadOption, "second sheet");
  expect_refused(draw_plan_block(wide, {.chain_height_mm = 2}, pdf()), Fault::kBadOption, "6 to 30 mm");
  expect_refused(draw_plan_block(wide, {.slot_mm = 40}, pdf()), Fault::kBadOption, "less than 35.0");
  EXPECT_FALSE(std::filesystem::exists(pdf().path));
}

TEST_F(Sheets, ThatAreRefusedLeaveAnOlderFileAlone) {
  std::ofstream(pdf().path) << "older";
  EXPECT_FALSE(draw_card(CardLayout::sized(CardKind::kWide, 8).value(), {}, pdf()));
  std::string kept;
  std::ifstream(pdf().path) >> kept;
  EXPECT_EQ(kept, "older");
}

TEST_F(Sheets, SayWhereTheyCannotBeWritten) {
  const CardLayout wide(CardKind::kWide);
  const SheetFile nowhere{folder_ / "missing" / "card.pdf"};
  expect_refused(draw_card(wide, {}, nowhere), Fault::kCannotWrite, "choose another place");
  EXPECT_EQ(draw_card(wide, {}, nowhere).error().where, nowhere.path.string());
  expect_refused(draw_plan_block(wide, {}, nowhere), Fault::kCannotWrite, "choose another place");
  expect_refused(draw_number_tags(wide, 1, 2, SheetFile{"/dev/full"}), Fault::kCannotWrite, "No space left");
}

}  // namespace
}  // namespace glintline
