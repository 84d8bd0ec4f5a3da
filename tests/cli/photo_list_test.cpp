#include "cli/photo_list.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/scratch_folder.h"

namespace glintline {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::ScratchFolder;

TEST(PhotoList, FilesStandAsNamedWhetherThereOrNot) {
  const auto photos = photo_list({"no such.jpg", "other.bin"});
  ASSERT_TRUE(photos.ok());
  EXPECT_THAT(*photos, ElementsAre("no such.jpg", "other.bin"));
}

TEST(PhotoList, AFolderGivesItsPicturesInOrderAndNothingElse) {
  const ScratchFolder folder;
  for (const char* name : {"c10.JPG", "c02.jpeg", "c01.png", "notes.txt", "c01-marked.jpg", "c01-marked-2.jpg",
                           ".hidden.jpg", "deeper/c03.jpg"}) {
    folder.file(name, "x");
  }
  const auto photos = photo_list({folder.path().string()});
  ASSERT_TRUE(photos.ok());
  EXPECT_THAT(*photos, ElementsAre(folder / "c01.png", folder / "c02.jpeg", folder / "c10.JPG"));
}

TEST(PhotoList, APhotographNamedTwiceComesOnce) {
  const ScratchFolder folder;
  const std::string photo = folder.file("a.jpg", "x").string();
  const auto photos = photo_list({photo, folder.path().string(), (folder.path() / "." / "a.jpg").string()});
  ASSERT_TRUE(photos.ok());
  EXPECT_THAT(*photos, ElementsAre(photo));
}

TEST(PhotoList, AFolderWithoutPicturesIsSaidToBeOne) {
  const ScratchFolder folder;
  folder.file("notes.txt", "x");
  const auto photos = photo_list({folder.path().string()});
  ASSERT_FALSE(photos.ok());
  EXPECT_EQ(photos.error().fault, Fault::kBadOption);
  EXPECT_EQ(photos.error().where, folder.path().string());
  EXPECT_THAT(photos.error().what, HasSubstr("no .jpg"));
}

}  // namespace
}  // namespace glintline
