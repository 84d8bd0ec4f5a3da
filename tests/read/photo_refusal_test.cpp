#include <gtest/gtest.h>
#include <sys/stat.h>

#include <string>
#include <string_view>

#include "read/photo_file.h"
#include "read/photo_samples.h"

namespace glintline {
namespace {

using namespace std::string_view_literals;
using testing::FileBytes;
using testing::sample;
using testing::scene;
using testing::written;

void expect_fault(const Result<Photo>& photo, Fault fault, const std::string& part) {
  ASSERT_FALSE(photo.ok());
  EXPECT_EQ(photo.error().fault, fault) << photo.error().what;
  EXPECT_NE(photo.error().what.find(part), std::string::npos) << photo.error().what;
  EXPECT_EQ(photo.error().what.find('\n'), std::string::npos) << photo.error().what;
  EXPECT_FALSE(photo.error().where.empty());
}

FileBytes with_start(std::string_view magic) {
  FileBytes bytes(200, 0x20);
  std::copy(magic.begin(), magic.end(), bytes.begin());
  return bytes;
}

TEST(PhotoRefusal, MissingFilesFoldersAndPipes) {
  const auto folder = written({}).parent_path();
  expect_fault(read_photo(folder / "nowhere.jpg"), Fault::kFileMissing, "no such file");
  EXPECT_EQ(read_photo("").error().fault, Fault::kFileMissing);
  expect_fault(read_photo(folder), Fault::kFileMissing, "folder");
  const auto pipe = folder / "pipe.jpg";
  ASSERT_TRUE(::mkfifo(pipe.c_str(), 0600) == 0 || errno == EEXIST);
  expect_fault(read_photo(pipe), Fault::kFileMissing, "not an ordinary file");
  expect_fault(read_photo("/dev/zero"), Fault::kFileMissing, "not an ordinary file");
  const auto name = (folder / "nowhere.jpg").string();
  EXPECT_EQ(read_photo(name).error().where, name);
}

TEST(PhotoRefusal, FilesThatAreNoPicture) {
  expect_fault(read_photo(written({})), Fault::kNotAPicture, "empty");
  expect_fault(read_photo(written(with_start("Dear chain,"))), Fault::kNotAPicture, "not a picture");
  expect_fault(read_photo(written(with_start("BM is no bitmap"))), Fault::kNotAPicture, "not a picture");
  expect_fault(read_photo(written({0xFF})), Fault::kNotAPicture, "not a picture");
}

// First bytes after the formats' own documents: ISO/IEC 23008-12 (HEIF), AV1 image format, TIFF 6.0, RFC 9649 (WebP),
// GIF89a, Windows bitmap headers, ISO/IEC 18181-2 (JPEG XL), ISO/IEC 15444-1 (JPEG 2000), ISO 32000 (PDF).
TEST(PhotoRefusal, OtherFormatsAreNamed) {
  const std::pair<std::string_view, const char*> kFormats[] = {
      {"\0\0\0\x24"
       "ftypheic"sv,
       "HEIC"},
      {"\0\0\0\x18"
       "ftypmif1"sv,
       "most compatible"},
      {"\0\0\0\x20"
       "ftypavif"sv,
       "AVIF"},
      {"\0\0\0\x18"
       "ftypisom"sv,
       "video"},
      {"II*\0\x08\0\0\0"sv, "TIFF"},
      {"MM\0*\0\0\0\x08"sv, "raw"},
      {"RIFF\x10\0\0\0WEBPVP8 "sv, "WebP"},
      {"GIF89a"sv, "GIF"},
      {"GIF87a"sv, "GIF"},
      {"BM\x36\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0"sv, "BMP"},
      {"\0\0\0\x0CJXL \r\n\x87\n"sv, "JPEG XL"},
      {"\xFF\x0A\x00"sv, "JPEG XL"},
      {"\0\0\0\x0CjP  \r\n\x87\n"sv, "JPEG 2000"},
      {"%PDF-1.7"sv, "PDF"},
  };
  // Named as a JPEG: the name must not matter.
  for (const auto& [magic, named] : kFormats) {
    expect_fault(read_photo(written(with_start(magic), "photo.jpg")), Fault::kNotAPicture, named);
  }
}

TEST(PhotoRefusal, ContentCountsAndNotTheName) {
  const auto picture = scene({640, 480});
  EXPECT_TRUE(read_photo(written(testing::png(picture), "photo.bmp")).ok());
  EXPECT_TRUE(read_photo(written(testing::jpeg(picture), "photo.png")).ok());
  EXPECT_TRUE(read_photo(written(testing::jpeg(picture), "photo")).ok());
}

TEST(PhotoRefusal, CmykIsNamed) { expect_fault(read_photo(sample("cmyk.jpg")), Fault::kNotAPicture, "CMYK"); }

/// Where a baseline JPEG's frame header begins (ITU-T T.81, B.2.2).
FileBytes::iterator frame_of(FileBytes& jpeg) {
  const std::uint8_t start[] = {0xFF, 0xC0};
  return std::search(jpeg.begin(), jpeg.end(), std::begin(start), std::end(start));
}

TEST(PhotoRefusal, KindsOfJpegThatAreNotReadAreNoDamage) {
  auto bytes = testing::jpeg(scene({640, 480}));
  const auto at = frame_of(bytes);
  ASSERT_NE(at, bytes.end());
  *(at + 1) = 0xC3;  // lossless
  expect_fault(read_photo(written(bytes)), Fault::kNotAPicture, "kind of JPEG");
  *(at + 1) = 0xC0;
  *(at + 4) = 12;  // bits a sample
  expect_fault(read_photo(written(bytes)), Fault::kNotAPicture, "kind of JPEG");
}

TEST(PhotoRefusal, AJpegThatNamesNoTableOfStepsIsDamaged) {
  auto bytes = testing::jpeg(scene({640, 480}));
  const auto at = frame_of(bytes);
  ASSERT_NE(at, bytes.end());
  *(at + 12) = 200;  // Tq of the first component
  expect_fault(read_photo(written(bytes)), Fault::kDamagedPicture, "damaged");
}

TEST(PhotoRefusal, JpegsCompressedUntilEdgesAreGoneAreRefused) {
  const auto stored = [](int quality) {
    return read_photo(written(testing::jpeg(scene({640, 480}), {.quality = quality})));
  };
  expect_fault(stored(10), Fault::kTooCoarse, "quality about 10");
  expect_fault(stored(22), Fault::kTooCoarse, "quality about 22");
  for (const int quality : {27, 50, 75, 95}) {
    const auto photo = stored(quality);
    ASSERT_TRUE(photo.ok()) << quality;
    EXPECT_NEAR(photo->jpeg_quality, quality, 2);
  }
  EXPECT_EQ(read_photo(written(testing::png(scene({640, 480}))))->jpeg_quality, 100);
}

TEST(PhotoRefusal, SmallPicturesAreToldWhatIsNeeded) {
  expect_fault(read_photo(written(testing::jpeg(scene({639, 480})))), Fault::kTooSmall, "at least 640 x 480");
  expect_fault(read_photo(written(testing::jpeg(scene({640, 479})))), Fault::kTooSmall, "640 x 479");
  expect_fault(read_photo(written(testing::png(scene({200, 2000})))), Fault::kTooSmall, "at least 640 x 480");
  EXPECT_TRUE(read_photo(written(testing::jpeg(scene({480, 640})))).ok());
  EXPECT_TRUE(read_photo(written(testing::jpeg(scene({640, 480})))).ok());
}

TEST(PhotoRefusal, BombsAreRefusedByTheirHeader) {
  auto bytes = testing::jpeg(scene({640, 480}));
  const auto at = frame_of(bytes);
  ASSERT_NE(at, bytes.end());
  std::fill(at + 5, at + 9, 0xFE);  // height and width: 65278 each, 12.8 GB as BGR
  expect_fault(read_photo(written(bytes)), Fault::kTooLarge, "200 megapixels");

  testing::PngOptions options;
  options.size = {100'000, 100'000};  // 30 GB
  auto header = testing::png(options, {});
  header.insert(header.end(), {0, 0, 0, 10, 'I', 'D', 'A', 'T'});
  expect_fault(read_photo(written(header)), Fault::kTooLarge, "100000 x 100000");
}

}  // namespace
}  // namespace glintline
