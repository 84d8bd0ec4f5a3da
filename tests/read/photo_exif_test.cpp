#include <gtest/gtest.h>

#include <atomic>
#include <random>
#include <thread>

#include "read/exif_block.h"
#include "read/file_bytes.h"
#include "read/photo_file.h"
#include "read/photo_samples.h"

namespace glintline {
namespace {

using testing::exif_block;
using testing::ExifEntries;
using testing::FileBytes;
using testing::scene;
using testing::written;

FileBytes jpeg_with(const FileBytes& exif) {
  testing::JpegOptions options;
  options.exif = exif;
  return testing::jpeg(scene({640, 480}), options);
}

TEST(PhotoExif, EntriesArriveAsWritten) {
  const auto photo = read_photo(written(jpeg_with(exif_block({.orientation = 3,
                                                              .make = "Generic",
                                                              .model = "Phone P9",
                                                              .date = "2026:05:02 00:00:00",
                                                              .original_date = "2026:05:01 10:20:30",
                                                              .focal = {{6860, 1000}},
                                                              .focal_35mm = 24}))));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(photo->exif.orientation, 3);
  EXPECT_EQ(photo->exif.camera, "Generic Phone P9");
  EXPECT_EQ(photo->exif.taken_at, "2026:05:01 10:20:30");
  EXPECT_DOUBLE_EQ(photo->exif.focal_mm.value_or(0), 6.86);
  EXPECT_DOUBLE_EQ(photo->exif.focal_35mm.value_or(0), 24);
}

TEST(PhotoExif, AbsentEntriesAreAbsent) {
  for (const auto& exif : {FileBytes{}, exif_block({})}) {
    const auto photo = read_photo(written(jpeg_with(exif)));
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    EXPECT_EQ(photo->exif.orientation, 1);
    EXPECT_EQ(photo->exif.camera, "");
    EXPECT_EQ(photo->exif.taken_at, "");
    EXPECT_FALSE(photo->exif.focal_mm);
    EXPECT_FALSE(photo->exif.focal_35mm);
  }
}

TEST(PhotoExif, SenselessEntriesAreAbsent) {
  EXPECT_FALSE(read_exif(exif_block({.focal_35mm = 0})).focal_35mm);  // EXIF 2.32: 0 is "unknown"
  EXPECT_FALSE(read_exif(exif_block({.focal_35mm = 65535})).focal_35mm);
  EXPECT_FALSE(read_exif(exif_block({.focal = {{0, 1}}})).focal_mm);
  EXPECT_FALSE(read_exif(exif_block({.focal = {{0, 0}}})).focal_mm);
  EXPECT_FALSE(read_exif(exif_block({.focal = {{50, 0}}})).focal_mm);
  EXPECT_EQ(read_exif(exif_block({.original_date = "0000:00:00 00:00:00"})).taken_at, "");
  EXPECT_EQ(read_exif(exif_block({.original_date = "    :  :     :  :  "})).taken_at, "");
  EXPECT_EQ(read_exif(exif_block({.date = "2026:05:02 00:00:00", .original_date = "yesterday, at noon."})).taken_at,
            "2026:05:02 00:00:00");
}

TEST(PhotoExif, TheMakeIsNotSaidTwice) {
  EXPECT_EQ(read_exif(exif_block({.make = "Generic", .model = "Generic 12"})).camera, "Generic 12");
  EXPECT_EQ(read_exif(exif_block({.make = "Generic"})).camera, "Generic");
  EXPECT_EQ(read_exif(exif_block({.model = "P9"})).camera, "P9");
  EXPECT_EQ(read_exif(exif_block({.make = "  Generic  ", .model = "P9   "})).camera, "Generic P9");
}

TEST(PhotoExif, TextIsPrintableAsciiWhateverTheCameraWrote) {
  EXPECT_EQ(read_exif(exif_block({.make = "Ger\xE4t\n", .model = "\x1B[31mP9"})).camera, "Ger?t? ?[31mP9");
  EXPECT_EQ(plain_text(std::string("P9\0junk", 7)), "P9");
  EXPECT_EQ(plain_text("   "), "");
}

TEST(PhotoExif, ABrokenBlockCostsTheEntriesAndNotThePicture) {
  auto spliced = testing::jpeg(scene({640, 480}));
  const auto marker = testing::bytes_of(testing::sample("bad_exif.app1"));
  spliced.insert(spliced.begin() + 2, marker.begin(), marker.end());
  ::testing::internal::CaptureStderr();
  const auto photo = read_photo(written(spliced));
  EXPECT_EQ(::testing::internal::GetCapturedStderr(), "");
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(photo->exif.orientation, 1);
}

TEST(PhotoExif, BlocksWithFlippedBytesOrCutOffNeverThrowNorSpeak) {
  const auto block = exif_block({.orientation = 6,
                                 .make = "Generic",
                                 .model = "Phone P9",
                                 .original_date = "2026:05:01 10:20:30",
                                 .focal = {{6860, 1000}},
                                 .focal_35mm = 24});
  std::mt19937 random(7);
  ::testing::internal::CaptureStderr();
  for (int i = 0; i < 3000; ++i) {
    FileBytes broken = block;
    for (int flips = 1 + i % 3; flips > 0; --flips) {
      broken[std::uniform_int_distribution<std::size_t>(0, broken.size() - 1)(random)] =
          static_cast<std::uint8_t>(std::uniform_int_distribution<int>(0, 255)(random));
    }
    if (i % 5 == 0) broken.resize(std::uniform_int_distribution<std::size_t>(0, broken.size())(random));
    const auto exif = read_exif(broken);
    EXPECT_GE(exif.orientation, 1);
    EXPECT_LE(exif.orientation, 8);
    EXPECT_TRUE(!exif.focal_mm || *exif.focal_mm > 0);
  }
  EXPECT_EQ(::testing::internal::GetCapturedStderr(), "");
}

TEST(PhotoExif, PngsMayCarryItBehindTheirPixels) {
  auto bytes = testing::png(scene({640, 480}), false, exif_block({.orientation = 6, .model = "P9"}));
  // Move the eXIf chunk between IDAT and IEND, where some programs write it.
  const std::string name = "eXIf";
  const auto at = std::search(bytes.begin(), bytes.end(), name.begin(), name.end()) - 4;
  const std::ptrdiff_t length = 12 + ((at[2] << 8) | at[3]);
  const FileBytes chunk(at, at + length);
  bytes.erase(at, at + length);
  bytes.insert(bytes.end() - 12, chunk.begin(), chunk.end());
  const auto photo = read_photo(written(bytes));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(photo->exif.orientation, 6);
  EXPECT_EQ(photo->exif.camera, "P9");
  EXPECT_EQ(photo->bgr.size(), cv::Size(480, 640));
}

TEST(PhotoExif, ManyPhotographsAreReadAtOnce) {
  const auto path = testing::sample("orientation_6.jpg");
  std::atomic<int> right = 0;
  std::vector<std::jthread> readers;
  for (int i = 0; i < 4; ++i) {
    readers.emplace_back([&] {
      for (int k = 0; k < 5; ++k) {
        const auto photo = read_photo(path);
        right += photo.ok() && photo->exif.orientation == 6 && photo->bgr.cols == 720 ? 1 : 0;
      }
    });
  }
  readers.clear();
  EXPECT_EQ(right, 20);
}

// FIPS 180-4's examples, published with the standard (csrc.nist.gov, "SHA256 example values"), and for a file the
// figure of coreutils' sha256sum.
TEST(PhotoHash, IsSha256) {
  const auto hash = [](const std::string& text) {
    return sha256_hex({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
  };
  EXPECT_EQ(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(hash("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(hash(std::string(1'000'000, 'a')), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  const auto photo = read_photo(testing::sample("orientation_1.jpg"));
  ASSERT_TRUE(photo.ok());
  EXPECT_EQ(photo->sha256, "77afe7e6868f7aa32401562663920707934a3df6112604b2b4fa9a411d60f20f");
  EXPECT_EQ(photo->path, testing::sample("orientation_1.jpg").string());
}

}  // namespace
}  // namespace glintline
