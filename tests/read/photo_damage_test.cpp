#include <gtest/gtest.h>

#include <algorithm>
#include <opencv2/core.hpp>
#include <random>
#include <string>

#include "read/photo_file.h"
#include "read/photo_samples.h"
#include "support/truth.h"

namespace glintline {
namespace {

using testing::FileBytes;
using testing::JpegOptions;
using testing::sample;
using testing::scene;
using testing::written;

constexpr std::uint32_t kSeed = 20;

void expect_one_line(const Error& error) {
  EXPECT_FALSE(error.what.empty());
  EXPECT_EQ(error.what.find_first_of("\n\r"), std::string::npos) << error.what;
  EXPECT_FALSE(error.where.empty());
}

void expect_fault(const Result<Photo>& photo, Fault fault, const std::string& part) {
  ASSERT_FALSE(photo.ok());
  EXPECT_EQ(photo.error().fault, fault) << photo.error().what;
  EXPECT_NE(photo.error().what.find(part), std::string::npos) << photo.error().what;
  expect_one_line(photo.error());
}

/// One of every way a JPEG's data can be laid out.
std::vector<FileBytes> every_jpeg(cv::Size size) {
  const auto picture = scene(size, kSeed);
  return {testing::jpeg(picture), testing::jpeg(picture, {.progressive = true}), testing::jpeg(picture, {.grey = true}),
          testing::jpeg(picture, {.separate_scans = true}), testing::jpeg(picture, {.restart_rows = 2})};
}

std::size_t first_scan(const FileBytes& bytes) {
  const std::uint8_t marker[] = {0xFF, 0xDA};
  return static_cast<std::size_t>(std::search(bytes.begin(), bytes.end(), std::begin(marker), std::end(marker)) -
                                  bytes.begin());
}

TEST(PhotoDamage, PublishedBadFilesAreRefusedByName) {
  expect_fault(read_photo(sample("truncated_jpeg.jpg")), Fault::kDamagedPicture, "copy the file again");
  expect_fault(read_photo(sample("decompression_bomb.gif")), Fault::kNotAPicture, "GIF");
}

TEST(PhotoDamage, LargerBadFilesAreRefusedByName) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  const auto folder = *set / "real" / "bad-files";
  expect_fault(read_photo(folder / "truncated_jpeg.jpg"), Fault::kDamagedPicture, "copy the file again");
  expect_fault(read_photo(folder / "hopper_bad_exif.jpg"), Fault::kDamagedPicture, "Corrupt JPEG data");
  expect_fault(read_photo(folder / "broken_data_stream.png"), Fault::kDamagedPicture, "PNG");
  expect_fault(read_photo(folder / "decompression_bomb.gif"), Fault::kNotAPicture, "GIF");
  const auto misnamed = read_photo(folder / "png-named-as-bmp.bmp");
  ASSERT_TRUE(misnamed.ok()) << misnamed.error().what;
  EXPECT_EQ(misnamed->bgr.size(), cv::Size(2048, 1536));
}

TEST(PhotoDamage, WholeJpegsOfEveryLayoutAreRead) {
  for (const auto& bytes : every_jpeg({640, 480})) {
    const auto photo = read_photo(written(bytes));
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    EXPECT_EQ(cv::norm(photo->bgr, testing::plain_jpeg_decode(bytes), cv::NORM_INF), 0);
  }
}

// How coarsely colour is stored, in the upright picture's directions (ITU-T T.871: 4:4:4, 4:2:2, 4:2:0).
TEST(PhotoColourStep, IsTheJpegsOwnTurnedUpright) {
  const auto picture = scene({640, 480}, kSeed);
  const auto step = [&](cv::Size stored, std::uint16_t orientation) {
    testing::JpegOptions options;
    options.colour_step = stored;
    options.exif = testing::exif_block({.orientation = orientation});
    const auto photo = read_photo(written(testing::jpeg(picture, options)));
    return photo.ok() ? photo->colour_step : cv::Size();
  };
  EXPECT_EQ(step({1, 1}, 1), cv::Size(1, 1));
  EXPECT_EQ(step({2, 1}, 1), cv::Size(2, 1));
  EXPECT_EQ(step({2, 1}, 6), cv::Size(1, 2));
  EXPECT_EQ(step({2, 2}, 1), cv::Size(2, 2));
  const auto grey = read_photo(written(testing::jpeg(picture, {.grey = true})));
  ASSERT_TRUE(grey.ok());
  EXPECT_EQ(grey->colour_step, cv::Size(1, 1));
  const auto png = read_photo(written(testing::png(picture), "picture.png"));
  ASSERT_TRUE(png.ok());
  EXPECT_EQ(png->colour_step, cv::Size(1, 1));
}

TEST(PhotoDamage, AJpegCutAnywhereIsRefused) {
  std::mt19937 random(kSeed);
  for (const auto& whole : every_jpeg({640, 480})) {
    std::uniform_int_distribution<std::size_t> place(3, whole.size() - 1);
    for (int i = 0; i < 60; ++i) {
      FileBytes cut(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(place(random)));
      SCOPED_TRACE(cut.size());
      expect_fault(read_photo(written(cut)), Fault::kDamagedPicture, "copy the file again");
    }
  }
}

TEST(PhotoDamage, AJpegCutAndGivenAnEndIsRefused) {
  std::mt19937 random(kSeed);
  for (const auto& whole : every_jpeg({640, 480})) {
    std::uniform_int_distribution<std::size_t> place(first_scan(whole) + 20, whole.size() - 40);
    for (int i = 0; i < 40; ++i) {
      FileBytes cut(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(place(random)));
      cut.insert(cut.end(), {0xFF, 0xD9});
      const auto photo = read_photo(written(cut));
      // A progressive picture cut exactly between two scans is whole by its own rules, only coarser; at a random byte
      // that does not happen.
      EXPECT_FALSE(photo.ok()) << cut.size();
    }
  }
}

// What a card or a copy that failed leaves: the file has its length, but a block of it is nought. JPEG has no checksum,
// so this is no law: of blocks of 4096 bytes (a page of flash memory, a cluster of most file systems) all were noticed,
// of 512 bytes one in ten was not, and of 64 bytes half were not.
TEST(PhotoDamage, AJpegWithABlockOfNoughtsIsRefused) {
  constexpr std::size_t kBlock = 4096;
  std::mt19937 random(kSeed);
  for (const auto& whole : every_jpeg({1280, 960})) {
    std::uniform_int_distribution<std::size_t> place(first_scan(whole) / kBlock + 1, whole.size() / kBlock - 1);
    for (int i = 0; i < 25; ++i) {
      FileBytes holed = whole;
      std::fill_n(holed.begin() + static_cast<std::ptrdiff_t>(place(random) * kBlock), kBlock, 0);
      EXPECT_FALSE(read_photo(written(holed)).ok());
    }
    FileBytes tail = whole;
    std::fill(tail.begin() + static_cast<std::ptrdiff_t>(tail.size() / 2), tail.end(), 0);
    EXPECT_FALSE(read_photo(written(tail)).ok());
  }
}

TEST(PhotoDamage, WhereTheDataBreakOffIsSaid) {
  auto cut = testing::jpeg(scene({640, 480}));
  cut.resize(cut.size() * 3 / 4);
  const auto photo = read_photo(written(cut));
  ASSERT_FALSE(photo.ok());
  EXPECT_NE(photo.error().what.find("after row"), std::string::npos) << photo.error().what;
  EXPECT_NE(photo.error().what.find("of 480"), std::string::npos) << photo.error().what;
}

TEST(PhotoDamage, WhatFollowsTheEndOfAJpegDoesNotMatter) {
  auto bytes = testing::jpeg(scene({640, 480}));
  const auto clean = read_photo(written(bytes));
  bytes.insert(bytes.end(), 5000, 0x5A);  // phones append second pictures and films
  const auto photo = read_photo(written(bytes));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(cv::norm(photo->bgr, clean->bgr, cv::NORM_INF), 0);
  EXPECT_NE(photo->sha256, clean->sha256);
}

TEST(PhotoDamage, FlippedBytesInAJpegNeverBreakTheReader) {
  std::mt19937 random(kSeed);
  for (const auto& whole : every_jpeg({640, 480})) {
    int refused = 0;
    constexpr int kTries = 150;
    for (int i = 0; i < kTries; ++i) {
      FileBytes flipped = whole;
      // Half of them in the first 700 bytes, where the tables and headers are.
      const std::size_t end = i % 2 == 0 ? 700 : flipped.size();
      flipped[std::uniform_int_distribution<std::size_t>(0, end - 1)(random)] ^=
          static_cast<std::uint8_t>(std::uniform_int_distribution<int>(1, 255)(random));
      const auto photo = read_photo(written(flipped));
      if (photo) {
        EXPECT_EQ(photo->bgr.type(), CV_8UC3);
        EXPECT_GE(photo->bgr.total(), 640U * 480U);
      } else {
        ++refused;
        expect_one_line(photo.error());
      }
    }
    // A changed quantiser or coefficient is legal JPEG and cannot be noticed; a good part can.
    EXPECT_GT(refused, kTries / 5);
  }
}

TEST(PhotoDamage, AnyFlippedByteInAPngIsNoticed) {
  const auto picture = scene({640, 480}, kSeed);
  std::mt19937 random(kSeed);
  for (const bool interlaced : {false, true}) {
    const auto whole = testing::png(picture, interlaced);
    ASSERT_TRUE(read_photo(written(whole)).ok());
    for (int i = 0; i < 100; ++i) {
      FileBytes flipped = whole;
      const std::size_t end = i % 2 == 0 ? 60 : flipped.size();
      flipped[std::uniform_int_distribution<std::size_t>(0, end - 1)(random)] ^= 0x10;
      const auto photo = read_photo(written(flipped));
      ASSERT_FALSE(photo.ok());
      expect_one_line(photo.error());
    }
  }
}

TEST(PhotoDamage, APngCutAnywhereIsRefused) {
  const auto whole = testing::png(scene({640, 480}, kSeed));
  std::mt19937 random(kSeed);
  for (int i = 0; i < 100; ++i) {
    FileBytes cut = whole;
    cut.resize(std::uniform_int_distribution<std::size_t>(8, whole.size() - 1)(random));
    expect_fault(read_photo(written(cut)), Fault::kDamagedPicture, "copy the file again");
  }
}

TEST(PhotoDamage, EndlessScansAreRefusedSoon) {
  const auto whole = testing::jpeg(scene({640, 480}), {.separate_scans = true});
  const std::size_t start = first_scan(whole);
  const std::uint8_t marker[] = {0xFF, 0xDA};
  const auto second = std::search(whole.begin() + static_cast<std::ptrdiff_t>(start) + 2, whole.end(),
                                  std::begin(marker), std::end(marker));
  ASSERT_NE(second, whole.end());
  const FileBytes scan(whole.begin() + static_cast<std::ptrdiff_t>(start), second);
  FileBytes endless(whole.begin(), second);
  for (int i = 0; i < 150; ++i) endless.insert(endless.end(), scan.begin(), scan.end());
  endless.insert(endless.end(), second, whole.end());
  expect_fault(read_photo(written(endless)), Fault::kDamagedPicture, "scans");
}

}  // namespace
}  // namespace glintline
