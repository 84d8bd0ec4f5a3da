#include "cli/photo_list.h"

#include <algorithm>
#include <cctype>
#include <regex>
#include <set>

namespace glintline {
namespace {

namespace fs = std::filesystem;

bool is_picture(const fs::path& path) {
  std::string name = path.filename().string();
  std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return std::tolower(c); });
  static const std::regex kPicture(R"([^.].*\.(jpe?g|png))");
  static const std::regex kDrawn(R"(.*-marked(-[0-9]+)?\.jpg)");
  return std::regex_match(name, kPicture) && !std::regex_match(name, kDrawn);
}

Result<std::vector<fs::path>> pictures_in(const fs::path& folder) {
  std::vector<fs::path> pictures;
  std::error_code failed;
  for (fs::directory_iterator at(folder, failed); !failed && at != fs::directory_iterator(); at.increment(failed)) {
    std::error_code ignored;
    if (!at->is_directory(ignored) && is_picture(at->path())) pictures.push_back(at->path());
  }
  if (failed) return Error{Fault::kFileMissing, "cannot be read (" + failed.message() + ")", folder.string()};
  if (pictures.empty()) {
    return Error{Fault::kBadOption, "holds no .jpg, .jpeg or .png files: name the photographs or their folder",
                 folder.string()};
  }
  std::sort(pictures.begin(), pictures.end());
  return pictures;
}

}  // namespace

Result<std::vector<fs::path>> photo_list(const std::vector<std::string>& named) {
  std::vector<fs::path> photos;
  std::set<fs::path> known;
  const auto add = [&](const fs::path& photo) {
    std::error_code failed;
    const fs::path real = fs::weakly_canonical(photo, failed);
    if (known.insert(failed ? photo : real).second) photos.push_back(photo);
  };
  for (const std::string& name : named) {
    std::error_code ignored;
    if (!fs::is_directory(name, ignored)) {
      add(name);
      continue;
    }
    const Result<std::vector<fs::path>> inside = pictures_in(name);
    if (!inside.ok()) return inside.error();
    for (const fs::path& photo : *inside) add(photo);
  }
  return photos;
}

}  // namespace glintline
