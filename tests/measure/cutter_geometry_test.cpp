#include "measure/cutter_geometry.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <string>

#include "measure/known_cutter.h"

namespace glintline {
namespace {

using testing::KnownCutter;
using testing::KnownScene;

constexpr double kDegree = std::numbers::pi / 180;

// Noise-free outlines and exact heights. What is left: the gauge's crown as a polynomial, the floor of the fits, the
// slanting edge's angle, which measuring only knows to be 25 to 35 degrees.
constexpr double kDropMm = 0.008;
// The corner is the mean of three crossings 1.6 px apart: 0.04 mm under the true one here, and the front runs back.
constexpr double kLengthMm = 0.015;
constexpr double kSlopeRad = 0.1 * kDegree;
constexpr double kHookRad = 0.5 * kDegree;

struct Case {
  std::string name;
  KnownCutter cutter;
  KnownScene scene;
};

std::vector<Case> cases() {
  std::vector<Case> all;
  // Thicknesses of several chains, more than 15 % apart.
  struct Parts { double width, side, set_in, outer; };
  for (const Parts& p : {Parts{5.2, 1.35, 0.5, 5.6}, Parts{4.2, 1.1, 0.1, 5.1}, Parts{6.4, 1.6, 1.1, 5.9}}) {
    for (const bool up : {true, false}) {
      for (const double sight : {-6.0, -3.0, 0.0, 2.0, 5.0, 8.0}) {
        KnownCutter c;
        c.plate_width_mm = p.width;
        c.side_plate_mm = p.side;
        c.gauge_set_in_mm = p.set_in;
        c.outer_face_up = up;
        c.outer_height_mm = up ? p.outer : 0.6;
        KnownScene s;
        s.sight_rad = sight * kDegree;
        all.push_back({"width " + std::to_string(p.width) + (up ? " outer up" : " inner up") + " sight " +
                           std::to_string(sight), c, s});
      }
    }
  }
  return all;
}

TEST(CutterGeometry, FindsTheDropOfExactlyKnownCutters) {
  for (const Case& k : cases()) {
    const auto g = cutter_geometry(k.scene.view(), outline_of(k.cutter, k.scene), k.cutter.heights());
    ASSERT_TRUE(g) << k.name;
    EXPECT_NEAR(g->drop(), k.cutter.drop_mm, kDropMm) << k.name;
    EXPECT_NEAR(g->rivet_distance, k.cutter.pitch_mm, 1e-6) << k.name;
  }
}

TEST(CutterGeometry, FindsLengthSlopeAndHookOfExactlyKnownCutters) {
  for (const Case& k : cases()) {
    const auto g = cutter_geometry(k.scene.view(), outline_of(k.cutter, k.scene), k.cutter.heights());
    ASSERT_TRUE(g && g->corner_x && g->rear_x) << k.name;
    EXPECT_NEAR(*g->corner_x - *g->rear_x, k.cutter.length_mm, kLengthMm) << k.name;
    EXPECT_NEAR(g->slope, k.cutter.slope_rad, kSlopeRad) << k.name;
    EXPECT_EQ(g->hook.has_value(), k.cutter.outer_face_up) << k.name;
    EXPECT_NEAR(g->hook.value_or(k.cutter.hook_rad), k.cutter.hook_rad, kHookRad) << k.name;
  }
}

// The same cutter must read the same however chain and camera are turned.
TEST(CutterGeometry, DoesNotDependOnHowTheChainLies) {
  KnownCutter cutter;
  for (const bool outer_up : {true, false}) {
    cutter.outer_face_up = outer_up;
    cutter.outer_height_mm = outer_up ? 5.6 : 0.6;
    for (const double heading : {0.0, 12.0, 180.0, 205.0}) {
      for (const bool left : {true, false}) {
        for (const double roll : {0.0, 90.0, 180.0}) {
          KnownScene scene;
          scene.heading_rad = heading * kDegree;
          scene.up_is_left = left;
          scene.roll_rad = roll * kDegree;
          scene.tilt_rad = 5 * kDegree;
          scene.sight_rad = 3 * kDegree;
          const auto g = cutter_geometry(scene.view(), outline_of(cutter, scene), cutter.heights());
          ASSERT_TRUE(g && g->corner_x && g->rear_x);
          EXPECT_NEAR(g->drop(), cutter.drop_mm, kDropMm) << heading << " " << left << " " << roll;
          EXPECT_NEAR(*g->corner_x - *g->rear_x, cutter.length_mm, kLengthMm) << heading << " " << left << " " << roll;
        }
      }
    }
  }
}

TEST(CutterGeometry, TellsFromWhichSideTheChainIsSeen) {
  const KnownCutter cutter;
  for (const double heading : {0.0, 70.0, 180.0, 290.0}) {
    for (const bool left : {true, false}) {
      KnownScene scene;
      scene.heading_rad = heading * kDegree;
      scene.up_is_left = left;
      const ChainFrame frame(scene.view(), outline_of(cutter, scene), cutter.heights());
      // A chain that runs to the right of a picture with its bar below shows its right side.
      EXPECT_EQ(frame.sees_right_side(), left) << heading;
    }
  }
}

TEST(CutterGeometry, FramePlacesAndPixelsAreInverse) {
  const KnownCutter cutter;
  KnownScene scene;
  scene.heading_rad = 0.4;
  scene.tilt_rad = 0.1;
  const ChainFrame frame(scene.view(), outline_of(cutter, scene), cutter.heights());
  const Point2 place(3.1, 6.4);
  EXPECT_LT((frame.at(frame.pixel(place, 5), 5) - place).norm(), 1e-6);
  EXPECT_LT((frame.pixel(place, 5) - scene.pixel(scene.view(), place.x(), place.y(), 5)).norm(), 1e-4);
}

TEST(CutterGeometry, FollowsWorkingCornersOfFiledCutters) {
  for (const double length : {4.2, 6.0, 9.8}) {
    for (const double slope : {2.5, 5.0, 7.5}) {
      KnownCutter cutter;
      cutter.length_mm = length;
      cutter.corner_x_mm = -4.4 + length;
      cutter.slope_rad = slope * kDegree;
      cutter.plate_width_mm = 4.6;
      KnownScene scene;
      scene.sight_rad = -2 * kDegree;
      const auto g = cutter_geometry(scene.view(), outline_of(cutter, scene), cutter.heights());
      ASSERT_TRUE(g && g->corner_x && g->rear_x);
      EXPECT_NEAR(g->drop(), cutter.drop_mm, kDropMm) << length << " " << slope;
      EXPECT_NEAR(*g->corner_x - *g->rear_x, length, kLengthMm) << length << " " << slope;
      EXPECT_NEAR(g->slope, cutter.slope_rad, kSlopeRad) << length << " " << slope;
    }
  }
}

// A semi-chisel's flat top begins a shoulder's radius inside the outer face; its working corner stands that far lower.
// The shoulder is told from a nearly upright outline, so more is left than on a chisel.
TEST(CutterGeometry, FindsTheShoulderOfASemiChisel) {
  constexpr double kShoulderDropMm = 0.03;  // a quarter of the radius, at 5 to 8 degrees
  for (const double shoulder : {1.0, 1.5, 1.9}) {
    for (const double sight : {-5.0, 0.0, 5.0}) {
      KnownCutter cutter;
      cutter.shoulder_mm = shoulder;
      KnownScene scene;
      scene.sight_rad = sight * kDegree;
      const auto g = cutter_geometry(scene.view(), outline_of(cutter, scene), cutter.heights());
      ASSERT_TRUE(g && g->corner_x && g->corner_z && g->rear_x);
      EXPECT_NEAR(g->plate_high - *g->corner_z, shoulder, 0.35 * shoulder) << shoulder << " " << sight;
      EXPECT_NEAR(g->drop(), cutter.drop_mm, kShoulderDropMm) << shoulder << " " << sight;
      EXPECT_NEAR(*g->corner_x - *g->rear_x, cutter.length_mm, 0.05) << shoulder << " " << sight;
    }
  }
}

// A gauge filed out of square: its highest point stands on one rim, the camera may see the other.
TEST(CutterGeometry, ReadsTheHigherRimOfAGaugeFiledOutOfSquare) {
  for (const double fall : {-0.05, 0.05}) {
    for (const bool up : {true, false}) {
      for (const double sight : {-5.0, -1.5, 0.0, 1.5, 5.0}) {
        KnownCutter cutter;
        cutter.outer_face_up = up;
        cutter.outer_height_mm = up ? 5.6 : 0.6;
        cutter.gauge_fall_mm = fall;
        KnownScene scene;
        scene.sight_rad = sight * kDegree;
        const CutterOutline outline = outline_of(cutter, scene);
        const auto told = cutter_geometry(scene.view(), outline, cutter.heights());
        ASSERT_TRUE(told);
        EXPECT_NEAR(told->drop(), cutter.drop_mm, kDropMm) << fall << up << sight;
        // Not told, it may only be read as too low, by no more than the rims differ.
        ProfileHeights square = cutter.heights();
        square.gauge_fall = 0;
        const double read = cutter_geometry(scene.view(), outline, square)->drop();
        EXPECT_GT(read, cutter.drop_mm - kDropMm) << fall << up << sight;
        EXPECT_LT(read, cutter.drop_mm + std::abs(fall) + kDropMm) << fall << up << sight;
      }
    }
  }
}

// Seen from 5 degrees above, a gauge's top mirrors the field and only its near rim is traced.
TEST(CutterGeometry, ReadsAGaugeByItsNearRimWhereItsTopLooksLikeTheField) {
  for (const bool up : {true, false}) {
    KnownCutter cutter;
    cutter.outer_face_up = up;
    cutter.outer_height_mm = up ? 5.6 : 0.6;
    KnownScene scene;
    scene.sight_rad = 5 * kDegree;
    // Of the near rim alone: the other one stands where that does.
    KnownCutter thin = cutter;
    thin.side_plate_mm = 1e-3;
    if (!up) thin.gauge_set_in_mm = cutter.gauge_set_in_mm + cutter.side_plate_mm;
    CutterOutline outline = outline_of(cutter, scene);
    outline.gauge = outline_of(thin, scene).gauge;
    const double top_seen = cutter.side_plate_mm * std::tan(scene.sight_rad);
    const auto read = [&](double chance) {
      outline.gauge_near_rim = chance;
      return *cutter_geometry(scene.view(), outline, cutter.heights());
    };
    EXPECT_NEAR(read(1).drop(), cutter.drop_mm, kDropMm) << up;
    EXPECT_NEAR(read(0).drop(), cutter.drop_mm + top_seen, 0.02) << up;
    EXPECT_NEAR(read(0.5).drop(), cutter.drop_mm + top_seen / 2, 0.01) << up;
    EXPECT_NEAR(read(0.5).u_gauge, top_seen / 2, 0.02) << up;
  }
}

// A round file's cut bends by 24 degrees a millimetre, so that the chord's ends count from the sharp corner, not from
// the foremost point of a tip that is worn away over the first eighth of a millimetre.
TEST(CutterGeometry, TakesTheHookFromTheSharpCornerOfAWornTip) {
  constexpr double kFileMm = 2.4;
  const KnownCutter cutter;
  const KnownScene scene;
  CutterOutline outline = outline_of(cutter, scene);
  const ProfileHeights heights = cutter.heights();
  const ChainFrame frame(scene.view(), outline, heights);
  const double plate = frame.at(outline.front.front().px, heights.plate_outer).y();
  // The file's middle lies 0.6 radii under the edge and 0.8 ahead of it.
  const auto cut = [&](double down) {
    return cutter.corner_x_mm + 0.8 * kFileMm - std::sqrt(kFileMm * kFileMm - std::pow(down - 0.6 * kFileMm, 2));
  };
  for (EdgePoint& e : outline.front) {
    const double down = plate - frame.at(e.px, heights.plate_outer).y();
    const double worn = std::max(0.0, 0.12 - down);
    e.px = frame.pixel({cut(down) - worn, plate - down}, heights.plate_outer);
  }
  const auto g = cutter_geometry(scene.view(), outline, heights);
  ASSERT_TRUE(g && g->hook);
  EXPECT_NEAR(*g->hook, std::atan2(0.8, cut(0.2) - cut(1.0)), 1.5 * kDegree);
}

// A rear end leans, and the length counts just under its rim, which is rounded by up to a third of a millimetre.
TEST(CutterGeometry, MeasuresALeaningRearEndUnderItsRim) {
  constexpr double kRoundedMm = 0.3;
  for (const bool up : {true, false}) {
    for (const double lean : {-8.0, 8.0}) {
      KnownCutter cutter;
      cutter.outer_face_up = up;
      cutter.outer_height_mm = up ? 5.6 : 0.6;
      cutter.rear_lean_rad = lean * kDegree;
      const KnownScene scene;
      const auto g = cutter_geometry(scene.view(), outline_of(cutter, scene), cutter.heights());
      ASSERT_TRUE(g && g->corner_x && g->rear_x);
      const double run_back = kRoundedMm * std::tan(cutter.rear_lean_rad);
      EXPECT_NEAR(*g->corner_x - *g->rear_x, cutter.length_mm + run_back, kLengthMm) << up << " " << lean;
    }
  }
}

// A shaving that sticks to the rear end covers half a millimetre of it.
TEST(CutterGeometry, TakesTheRearEndOverAndUnderAShaving) {
  for (const bool up : {true, false}) {
    KnownCutter cutter;
    cutter.outer_face_up = up;
    cutter.outer_height_mm = up ? 5.6 : 0.6;
    const KnownScene scene;
    CutterOutline outline = outline_of(cutter, scene);
    const ProfileHeights heights = cutter.heights();
    const ChainFrame frame(scene.view(), outline, heights);
    const double rim = frame.at(outline.rear.front().px, heights.plate_outer).y();
    const double foot = frame.at(outline.rear.back().px, heights.plate_outer).y();
    const double top = std::max(rim, foot);
    for (EdgePoint& e : outline.rear) {
      const Point2 at = frame.at(e.px, heights.plate_outer);
      if (top - at.y() > 0.45 && top - at.y() < 0.95) e.px = frame.pixel(at - Point2(0.8, 0), heights.plate_outer);
    }
    const auto g = cutter_geometry(scene.view(), outline, heights);
    ASSERT_TRUE(g && g->rear_x);
    EXPECT_NEAR(*g->rear_x, cutter.corner_x_mm - cutter.length_mm, 0.03) << up;
  }
}

// Seen from behind, a rear end's face mirrors the field and bare steel begins at its near rim.
TEST(CutterGeometry, ReadsARearEndByItsNearRimWhereItsFaceLooksLikeTheField) {
  for (const double ahead : {-10.0, -14.0}) {
    const KnownCutter cutter;
    KnownScene scene;
    scene.ahead_mm = ahead;
    KnownCutter thin = cutter;
    thin.plate_width_mm = 1e-3;
    CutterOutline outline = outline_of(cutter, scene);
    outline.rear = outline_of(thin, scene).rear;
    const auto read = [&](double chance) {
      outline.rear_near_rim = chance;
      return *cutter_geometry(scene.view(), outline, cutter.heights());
    };
    const double rear = cutter.corner_x_mm - cutter.length_mm;
    EXPECT_NEAR(*read(1).rear_x, rear, kLengthMm) << ahead;
    // Taken for the far rim it stands farther ahead, by what is seen of the face.
    const double narrowed = 2 * cutter.length_mm * std::tan(cutter.taper_rad);
    const double seen = (cutter.plate_width_mm - narrowed) * (rear - ahead) / scene.distance_mm;
    EXPECT_NEAR(*read(0).rear_x - rear, seen, 0.05) << ahead;
    EXPECT_NEAR(*read(0.5).rear_x - rear, (*read(0).rear_x - rear) / 2, kLengthMm) << ahead;
    EXPECT_NEAR(read(0.5).u_rear_x, (*read(0).rear_x - rear) / 2, 0.02) << ahead;
  }
}

// Seen from above, a plate's top mirrors the field and bare steel begins at its near rim.
TEST(CutterGeometry, ReadsATopByItsNearRimWhereItLooksLikeTheField) {
  for (const double sight : {3.0, 5.0}) {
    const KnownCutter cutter;
    KnownScene scene;
    scene.sight_rad = sight * kDegree;
    KnownCutter thin = cutter;
    thin.plate_width_mm = 1e-3;
    CutterOutline outline = outline_of(cutter, scene);
    outline.top = outline.top_bare = outline_of(thin, scene).top;
    const auto read = [&](double chance) {
      outline.top_near_rim = chance;
      return *cutter_geometry(scene.view(), outline, cutter.heights());
    };
    EXPECT_NEAR(read(1).drop(), cutter.drop_mm, kDropMm) << sight;
    // Taken for the far rim it stands lower, by up to what is seen of the top; less where the slanting edge ends it.
    const double lower = cutter.drop_mm - read(0).drop();
    EXPECT_GT(lower, 0.3 * cutter.plate_width_mm * std::tan(scene.sight_rad)) << sight;
    EXPECT_LT(lower, cutter.plate_width_mm * std::tan(scene.sight_rad) + kDropMm) << sight;
    EXPECT_NEAR(read(0.75).drop(), cutter.drop_mm - lower / 4, 0.005) << sight;
    EXPECT_GT(read(0.75).u_plate, 0.99 * std::sqrt(0.75 * 0.25) * lower) << sight;
    EXPECT_GT(2 * read(0.5).u_plate, cutter.drop_mm - read(0.5).drop()) << sight;
  }
}

// Behind a bevel that mirrors the field the corner's kind cannot be seen; both are answered for.
TEST(CutterGeometry, AnswersForBothCornersBehindAMirroringBevel) {
  for (const double shoulder : {0.0, 1.5}) {
    KnownCutter cutter;
    cutter.outer_face_up = false;
    cutter.outer_height_mm = 0.6;
    cutter.shoulder_mm = shoulder;
    const KnownScene scene;
    CutterOutline outline = outline_of(cutter, scene);
    outline.face.bevel = true;
    std::erase_if(outline.front, [&](const EdgePoint& e) {
      return (e.px - outline.front.front().px).norm() * 0.02 > 0.6;  // about mm: seen no farther down
    });
    const auto g = cutter_geometry(scene.view(), outline, cutter.heights());
    ASSERT_TRUE(g);
    EXPECT_LT(std::abs(g->drop() - cutter.drop_mm), 2 * g->u_plate + kDropMm) << shoulder;
    EXPECT_LT(g->u_plate, 0.05) << shoulder;
  }
}

// The first millimetre of a filed front tells the corner's kind: it runs back under a chisel's corner and comes forward
// on the way down a rounded one. Read as a chisel's throughout, a rounded corner's drop is wrong.
TEST(CutterGeometry, WeighsBothCornersByHowTheFrontRuns) {
  for (const double shoulder : {0.0, 1.1, 1.4}) {
    for (const double hook : {60.0, 70.0}) {
      KnownCutter cutter;
      cutter.outer_face_up = false;
      cutter.outer_height_mm = 0.6;
      cutter.shoulder_mm = shoulder;
      cutter.hook_rad = hook * kDegree;
      KnownScene scene;
      scene.sight_rad = -4 * kDegree;
      CutterOutline outline = outline_of(cutter, scene);
      outline.face.bevel = true;
      const Point2 first = outline.front.front().px;
      const double mm_per_px = scene.view().mm_per_px(first, cutter.outer_height_mm);
      std::erase_if(outline.front, [&](const EdgePoint& e) { return (e.px - first).norm() * mm_per_px > 0.65; });
      const auto weighed = cutter_geometry(scene.view(), outline, cutter.heights());
      ProfileHeights chisel = cutter.heights();
      chisel.chisel = true;
      const auto as_chisel = cutter_geometry(scene.view(), outline, chisel);
      ASSERT_TRUE(weighed && as_chisel);
      const double error = std::abs(weighed->drop() - cutter.drop_mm);
      EXPECT_LT(error, 2 * weighed->u_plate + kDropMm) << shoulder << " " << hook;
      if (shoulder > 0) {
        EXPECT_LT(error, 0.7 * std::abs(as_chisel->drop() - cutter.drop_mm)) << shoulder << " " << hook;
      } else {
        EXPECT_NEAR(weighed->drop(), as_chisel->drop(), 0.015) << hook;
      }
    }
  }
}

// Round a small shoulder the slanting edge regains less than what the file's front runs back: its foremost point stands
// too high up to tell the shoulder. How the front runs still does.
TEST(CutterGeometry, TellsASmallShoulderWhoseForemostPointStandsHigh) {
  constexpr double kRunsBack = 0.5;
  for (const double sight : {4.0, 6.0}) {
    KnownCutter cutter;
    cutter.shoulder_mm = 1;
    KnownScene scene;
    scene.sight_rad = sight * kDegree;
    CutterOutline outline = outline_of(cutter, scene);
    const ChainFrame frame(scene.view(), outline, cutter.heights());
    for (EdgePoint& e : outline.front) {
      Point2 at = frame.at(e.px, cutter.outer_height_mm);
      at.x() += kRunsBack * std::max(0.0, cutter.shoulder_mm - (cutter.plate_top_mm - at.y()));
      e.px = frame.pixel(at, cutter.outer_height_mm);
    }
    const auto told = cutter_geometry(scene.view(), outline, cutter.heights());
    ProfileHeights chisel = cutter.heights();
    chisel.chisel = true;
    const auto as_chisel = cutter_geometry(scene.view(), outline, chisel);
    ASSERT_TRUE(told && as_chisel && told->corner_z);
    EXPECT_LT(told->plate_high - *told->corner_z, 0.6) << sight;
    EXPECT_GT(told->chance_of_shoulder, 0.6) << sight;
    const double error = std::abs(told->drop() - cutter.drop_mm);
    EXPECT_LT(error, 0.7 * std::abs(as_chisel->drop() - cutter.drop_mm)) << sight;
    EXPECT_LT(error, 2 * told->u_plate + kDropMm) << sight;
  }
}

// The test can tell: with the wrong rims the drop must be wrong where the camera looks on aslant.
TEST(CutterGeometry, FeelsWrongHeights) {
  const KnownCutter cutter;
  KnownScene scene;
  scene.sight_rad = 8 * kDegree;
  ProfileHeights flat = cutter.heights();
  flat.plate_inner = flat.plate_outer;
  flat.gauge_inner = flat.gauge_outer = flat.plate_outer;
  const auto g = cutter_geometry(scene.view(), outline_of(cutter, scene), flat);
  ASSERT_TRUE(g);
  EXPECT_GT(std::abs(g->drop() - cutter.drop_mm), 0.05);
}

// Seen from ahead, a rear end drawn in by half a millimetre looks as if it lay that much lower.
TEST(CutterGeometry, FeelsAWrongTaper) {
  KnownCutter cutter;
  cutter.outer_face_up = false;
  cutter.outer_height_mm = 0.5;
  cutter.taper_rad = 5 * kDegree;
  KnownScene scene;
  scene.roll_rad = 0.1;
  scene.tilt_rad = 0.15;
  ProfileHeights straight = cutter.heights();
  straight.taper = 0;
  const auto right = cutter_geometry(scene.view(), outline_of(cutter, scene), cutter.heights());
  const auto wrong = cutter_geometry(scene.view(), outline_of(cutter, scene), straight);
  ASSERT_TRUE(right && wrong && right->rear_x && wrong->rear_x);
  const double rear = cutter.corner_x_mm - cutter.length_mm;
  EXPECT_NEAR(*right->rear_x, rear, kLengthMm);
  EXPECT_GT(std::abs(*wrong->rear_x - rear), 2 * std::abs(*right->rear_x - rear));
}

// A bevel that mirrors the field hides the last 2 mm of the outline; the flat top goes on to the corner all the same.
TEST(CutterGeometry, CarriesATopOnToItsCorner) {
  KnownCutter cutter;
  const KnownScene scene;
  CutterOutline outline = outline_of(cutter, scene);
  const ChainFrame frame(scene.view(), outline, cutter.heights());
  std::erase_if(outline.top, [&](const EdgePoint& e) {
    return frame.at(e.px, cutter.outer_height_mm).x() > cutter.corner_x_mm - 2;
  });
  const auto g = cutter_geometry(scene.view(), outline, cutter.heights());
  ASSERT_TRUE(g && g->corner_x);
  EXPECT_NEAR(g->drop(), cutter.drop_mm, 2 * kDropMm);
}

/// Raises parts of a top's outline by `mm`: those for whose place along it, 0 to 1, `where` is true.
void raise_top(CutterOutline& outline, const KnownCutter& cutter, const KnownScene& scene, double mm,
               const std::function<bool(double)>& where) {
  const ChainFrame frame(scene.view(), outline, cutter.heights());
  const auto count = static_cast<double>(outline.top.size());
  for (std::size_t k = 0; k < outline.top.size(); ++k) {
    if (!where(static_cast<double>(k) / count)) continue;
    const Point2 at = frame.at(outline.top[k].px, cutter.outer_height_mm);
    outline.top[k].px = frame.pixel(at + Point2(0, mm), cutter.outer_height_mm);
  }
}

// A fifth of the outline stands 0.4 mm higher: which of the two is the top's rim, and which lies within the field's
// mirror image, the outline alone cannot tell.
TEST(CutterGeometry, DoubtsATopWhoseOutlineHasASecondLevel) {
  const KnownCutter cutter;
  const KnownScene scene;
  const CameraView view = scene.view();
  CutterOutline outline = outline_of(cutter, scene, 0.1, 3);
  const auto whole = cutter_geometry(view, outline, cutter.heights());
  ASSERT_TRUE(whole);
  raise_top(outline, cutter, scene, 0.4, [](double share) { return share >= 0.5 && share < 0.7; });
  const auto doubtful = cutter_geometry(view, outline, cutter.heights());
  ASSERT_TRUE(doubtful);
  EXPECT_LT(whole->u_plate, 0.02);
  EXPECT_NEAR(doubtful->u_plate, 0.4 / std::sqrt(3.0), 0.03);
}

// Steel mirrors the field in places: half of the stretches show the rim, the others a line 0.1 mm inside it.
TEST(CutterGeometry, DoubtsATopWhoseOutlineWanders) {
  constexpr double kInsideMm = 0.1;
  const KnownCutter cutter;
  const KnownScene scene;
  CutterOutline outline = outline_of(cutter, scene);
  const auto whole = cutter_geometry(scene.view(), outline, cutter.heights());
  ASSERT_TRUE(whole);
  raise_top(outline, cutter, scene, -kInsideMm, [](double share) { return static_cast<int>(8 * share) % 2 == 1; });
  const auto wandering = cutter_geometry(scene.view(), outline, cutter.heights());
  ASSERT_TRUE(wandering);
  // Wherever between the two it lies, the other is no farther off than it says.
  EXPECT_GT(2 * wandering->u_plate, kInsideMm / 2);
  EXPECT_LT(2 * wandering->u_plate, kInsideMm);
  EXPECT_LT(whole->u_plate, 0.01);
}

// A gauge filed aslant by 15 degrees ends in a peak at its rear; behind it the upper edge of a link shows, 0.35 mm
// lower.
TEST(CutterGeometry, FindsThePeakOfAGaugeFiledAslant) {
  const KnownCutter cutter;
  const KnownScene scene;
  const CameraView view = scene.view();
  CutterOutline outline = outline_of(cutter, scene);
  const auto level = cutter_geometry(view, outline, cutter.heights());
  ASSERT_TRUE(level);
  const ChainFrame frame(view, outline, cutter.heights());
  const double height = cutter.heights().gauge_outer;
  outline.gauge.clear();
  for (double x = -1; x < 2; x += 0.03) {
    const double under = x < 0 ? 0.35 : x < 0.05 ? 0.35 * (1 - x / 0.05) : std::tan(15 * kDegree) * (x - 0.05);
    outline.gauge.push_back({frame.pixel({level->gauge_high_x + x, level->gauge_high - under}, height), 0.15});
  }
  const auto aslant = cutter_geometry(view, outline, cutter.heights());
  ASSERT_TRUE(aslant);
  EXPECT_NEAR(aslant->gauge_high, level->gauge_high, 0.03);
  EXPECT_NEAR(aslant->gauge_high_x, level->gauge_high_x, 0.15);
}

TEST(CutterGeometry, AsksForEnoughOfPlateAndGauge) {
  const KnownCutter cutter;
  const KnownScene scene;
  CutterOutline outline = outline_of(cutter, scene);
  outline.gauge.resize(5);
  EXPECT_FALSE(cutter_geometry(scene.view(), outline, cutter.heights()));
  outline = outline_of(cutter, scene);
  outline.top.clear();
  EXPECT_FALSE(cutter_geometry(scene.view(), outline, cutter.heights()));
}

}  // namespace
}  // namespace glintline
