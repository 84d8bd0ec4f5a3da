#include "pipeline/inspect_chain.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>

#include "judge/common_practice.h"
#include "pipeline/kept_inspections.h"
#include "read/file_bytes.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::ScratchFolder;

constexpr double kDeg = M_PI / 180;

Quantity with_u(double value, double u) { return {value, {{Source::kEdge, u}}}; }

/// A chain whose photographs are files of one line: "plan 7", "profile 7", "spoiled". Real files, so that hashes and
/// keeping are real; the stages read that line instead of pixels.
class BenchOfLines {
 public:
  fs::path add(const std::string& name, const std::string& line) const {
    std::ofstream(folder_ / name) << line << "\n# " << name << "\n";
    return folder_ / name;
  }

  /// "c07-plan.jpg" with "plan 7" in it
  fs::path add_numbered(int number, const std::string& view) const {
    const std::string text = std::to_string(number);
    return add(std::string("c0").append(text).append("-").append(view).append(".jpg"),
               std::string(view).append(" ").append(text));
  }

  [[nodiscard]] Stages stages() {
    Stages stages;
    stages.read = [](const fs::path& path) -> Result<Photo> {
      std::ifstream file(path);
      Photo photo;
      photo.path = path.string();
      std::getline(file, photo.exif.camera);
      const auto bytes = read_all(path);
      photo.sha256 = sha_of(bytes);
      return photo;
    };
    stages.locate = [this](const Photo& photo, const glintline::Setup&) -> Result<CardPose> {
      ++looked_at_;
      if (photo.exif.camera == "spoiled") return Error{Fault::kBlurred, "out of focus: take it again", ""};
      return CardPose{};
    };
    stages.measure_profile = [](const Photo& photo, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      if (photo.exif.camera.starts_with("plan")) return Error{Fault::kNoCutter, "no rivets", ""};
      return measured(photo.exif.camera, ViewKind::kProfile);
    };
    stages.measure_plan = [](const Photo& photo, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      return measured(photo.exif.camera, ViewKind::kPlan);
    };
    stages.judge = [](const CutterMeasurement&, const Limits&, ViewKind) { return Verdict{}; };
    return stages;
  }

  [[nodiscard]] int looked_at() const { return looked_at_; }
  [[nodiscard]] fs::path folder() const { return folder_.path(); }

 private:
  static std::string read_all(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  }
  static std::string sha_of(const std::string& text) {
    return sha256_hex({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
  }
  static Measurements measured(const std::string& line, ViewKind view) {
    const int number = std::stoi(line.substr(line.find(' ')));
    Measurements m;
    m.view = view;
    m.mm_per_px = 0.02;
    CutterMeasurement cutter;
    cutter.hand = number % 2 == 1 ? Hand::kLeft : Hand::kRight;
    cutter.length_mm = with_u(7.5 + 0.01 * number, 0.02);
    cutter.edge_angle_rad = with_u(30 * kDeg, 0.1 * kDeg);
    if (view == ViewKind::kProfile) {
      cutter.gauge_drop_mm = with_u(0.65, 0.01);
    } else {
      cutter.edge_radius_um = with_u(55, 3);
      cutter.chips_searched = true;
    }
    m.cutters = {cutter};
    return m;
  }

  ScratchFolder folder_;
  std::atomic<int> looked_at_{0};
};

ChainOrder order_of_loop(int drive_links) {
  ChainOrder order;
  order.sheet.drive_links = drive_links;
  order.sheet.first_cutter = Hand::kLeft;
  order.sheet.geometry.pitch_mm = 9.525;
  order.order.limits = limits_of(order.sheet);
  return order;
}

TEST(InspectChain, PlansAWholeChainFromItsFileNames) {
  BenchOfLines bench;
  std::vector<fs::path> photos;
  for (int n = 1; n <= 6; ++n) {
    photos.push_back(bench.add_numbered(n, "plan"));
    photos.push_back(bench.add_numbered(n, "profile"));
  }
  const ChainInspection chain = inspect_chain(photos, order_of_loop(12), {}, bench.stages());
  EXPECT_EQ(chain.cutters.size(), 6U);
  EXPECT_EQ(chain.expected_cutters, 6);
  EXPECT_EQ(chain.verdict.action, ChainAction::kFile);
  EXPECT_EQ(chain.plan.decided_by, 1);
  EXPECT_THAT(chain.retakes, IsEmpty());
  EXPECT_EQ(chain.cutters[2].numbered_by, NumberedBy::kFileName);
}

TEST(InspectChain, AnswersAFolderWithMissingDoubledSwappedAndSpoiledPhotographs) {
  BenchOfLines bench;
  const std::vector<fs::path> photos{
      bench.add("c01-plan.jpg", "plan 1"),  bench.add("c01-profile.jpg", "profile 1"),
      bench.add("c02-plan.jpg", "spoiled"), bench.add("c02-profile.jpg", "profile 2"),
      bench.add("c03-plan.jpg", "plan 4"),  bench.add("c03-profile.jpg", "profile 3"),
      bench.add("c04-plan.jpg", "plan 3"),  bench.add("c04-profile.jpg", "profile 4"),
      bench.add("c05-plan.jpg", "plan 5"),  // its profile is missing
      bench.add("c06-plan.jpg", "plan 6"),  bench.add("c06-profile.jpg", "profile 6"),
  };
  fs::copy_file(photos[0], bench.folder() / "c01-plan-again.jpg");
  auto all = photos;
  all.push_back(bench.folder() / "c01-plan-again.jpg");
  const ChainInspection chain = inspect_chain(all, order_of_loop(12), {}, bench.stages());
  std::map<int, std::string> again;
  for (const Retake& retake : chain.retakes) again[retake.number.value_or(0)] += retake.why + "; ";
  EXPECT_THAT(again[2], HasSubstr("out of focus"));
  EXPECT_THAT(again[3], HasSubstr("right-hander"));
  EXPECT_THAT(again[4], HasSubstr("left-hander"));
  EXPECT_THAT(again[5], HasSubstr("no profile photograph"));
  EXPECT_EQ(again.count(1), 0U);
  EXPECT_EQ(again.count(6), 0U);
  EXPECT_THAT(chain.notes, Contains(HasSubstr("the same file")));
  EXPECT_THAT(chain.notes, Contains("c03-plan.jpg and c04-plan.jpg look swapped: rename them if they are"));
  EXPECT_THAT(chain.plan.notes, Contains(HasSubstr("no edge seen on 2, 3, 4")));
  EXPECT_EQ(chain.cutters.size(), 6U);
}

TEST(InspectChain, GoesOnWhereItWasStopped) {
  BenchOfLines bench;
  const ScratchFolder kept;
  std::vector<fs::path> photos;
  for (int n = 1; n <= 6; ++n) photos.push_back(bench.add_numbered(n, "plan"));
  ChainOrder order = order_of_loop(12);
  order.keep = kept.path();
  const std::vector<fs::path> first_half(photos.begin(), photos.begin() + 3);
  static_cast<void>(inspect_chain(first_half, order, {}, bench.stages()));
  EXPECT_EQ(bench.looked_at(), 3);

  std::size_t from_before = 0;
  ChainWatch watch;
  watch.finished = [&](std::size_t, const Inspection&, bool was_kept) { from_before += was_kept ? 1 : 0; };
  const ChainInspection whole = inspect_chain(photos, order, watch, bench.stages());
  EXPECT_EQ(bench.looked_at(), 6);
  EXPECT_EQ(from_before, 3U);
  order.keep.clear();
  const ChainInspection anew = inspect_chain(photos, order, {}, bench.stages());
  EXPECT_EQ(bench.looked_at(), 12);
  ASSERT_EQ(whole.plan.work.size(), anew.plan.work.size());
  EXPECT_EQ(whole.plan.target_mm->value, anew.plan.target_mm->value);

  // Another limit or another set-up is another order.
  order.keep = kept.path();
  order.order.limits.dull_radius_um.value += 1;
  static_cast<void>(inspect_chain(photos, order, {}, bench.stages()));
  EXPECT_EQ(bench.looked_at(), 18);
}

TEST(KeptInspections, FollowARenamedFileAndPassOverABrokenOne) {
  BenchOfLines bench;
  const ScratchFolder folder;
  const KeptInspections kept(folder.path(), Order{});
  const fs::path photo = bench.add("a.jpg", "plan 1");
  const Inspection inspection = inspect_photo(photo, Order{}, {}, bench.stages());
  EXPECT_FALSE(kept.find(photo));
  ASSERT_TRUE(kept.keep(inspection).ok());
  fs::rename(photo, bench.folder() / "b.jpg");
  const auto found = kept.find(bench.folder() / "b.jpg");
  ASSERT_TRUE(found);
  EXPECT_EQ(found->photo_path, (bench.folder() / "b.jpg").string());
  EXPECT_EQ(found->cutters[0].measured.length_mm->value, inspection.cutters[0].measured.length_mm->value);
  for (const auto& file : fs::directory_iterator(folder.path())) std::ofstream(file.path()) << "{\"form\":";
  EXPECT_FALSE(kept.find(bench.folder() / "b.jpg"));
  EXPECT_FALSE(kept.find("/nowhere/a.jpg"));
}

TEST(KeptInspections, KeepRefusalsThatAreThePhotographsFaultOnly) {
  BenchOfLines bench;
  const ScratchFolder folder;
  const KeptInspections kept(folder.path(), Order{});
  const fs::path photo = bench.add("a.jpg", "plan 1");
  Inspection inspection = inspect_photo(photo, Order{}, {}, bench.stages());
  inspection.refusal = Error{Fault::kUnforeseen, "memory ran out", ""};
  ASSERT_TRUE(kept.keep(inspection).ok());
  EXPECT_FALSE(kept.find(photo));
  inspection.refusal = Error{Fault::kNotMeasurable, "no top plate could be measured", ""};
  ASSERT_TRUE(kept.keep(inspection).ok());
  ASSERT_TRUE(kept.find(photo));
  EXPECT_EQ(kept.find(photo)->refusal->what, "no top plate could be measured");
}

// A rebuilt program may measure otherwise under the same version.
TEST(KeptInspections, AreFoundByTheBuildThatMeasuredThemOnly) {
  BenchOfLines bench;
  const ScratchFolder folder;
  const fs::path photo = bench.add("a.jpg", "plan 1");
  const Inspection inspection = inspect_photo(photo, Order{}, {}, bench.stages());
  ASSERT_TRUE(KeptInspections(folder.path(), Order{}, "one build").keep(inspection).ok());
  EXPECT_TRUE(KeptInspections(folder.path(), Order{}, "one build").find(photo));
  EXPECT_FALSE(KeptInspections(folder.path(), Order{}, "another build").find(photo));
  ASSERT_TRUE(KeptInspections(folder.path(), Order{}, "").keep(inspection).ok());
  EXPECT_FALSE(KeptInspections(folder.path(), Order{}, "").find(photo)) << "no build that tells itself apart";
}

TEST(BuildIdentity, IsAHash) { EXPECT_THAT(build_identity(), ::testing::MatchesRegex("[0-9a-f]{64}")); }

}  // namespace
}  // namespace glintline
