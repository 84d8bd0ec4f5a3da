#include "cli/photo_list.h"

#include <algorithm>
#include <cctype>
#include <set>

namespace glintline {
namespace {

namespace fs = std::filesystem;

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// "NAME-marked" or "NAME-marked-2": drawn by this program (report/drawing.h).
bool is_drawn(std::string stem) {
  const std::size_t end = stem.find_last_not_of("0123456789");
  if (end != std::string::npos && end + 1 < stem.size() && stem[end] == '-') stem.resize(end);
  return stem.ends_with("-marked");
}

bool is_picture(const fs::path& path) {
  const std::string name = lower(path.filename().string());
  const std::string extension = fs::path(name).extension().string();
  if (name.front() == '.' || (extension != ".jpg" && extension != ".jpeg" && extension != ".png")) return false;
  return !(extension == ".jpg" && is_drawn(fs::path(name).stem().string()));
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
