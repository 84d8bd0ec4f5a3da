#include "pipeline/learn_lens.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "base/text.h"
#include "locate/lens_calibration.h"
#include "read/photo_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

/// What must agree between photographs of one calibration.
struct Circumstances {
  std::string camera;
  cv::Size stored;
  double focal_mm = 0;    ///< 0: not told
  double focal_35mm = 0;  ///< digital zoom shows here alone
  CardKind card = CardKind::kWide;

  [[nodiscard]] auto key() const {
    return std::tuple(stored.width, stored.height, std::lround(100 * focal_mm), std::lround(focal_35mm), camera,
                      static_cast<int>(card));
  }
};

struct Candidate {
  CardSight card;
  Circumstances taken;
};

Circumstances circumstances_of(const Photo& photo, CardKind card) {
  return {photo.exif.camera, photo.stored_size(), photo.exif.focal_mm.value_or(0), photo.exif.focal_35mm.value_or(0),
          card};
}

std::string size_text(const cv::Size& size) {
  return std::to_string(size.width) + " x " + std::to_string(size.height) + " pixels";
}

/// In what a photograph differs from those that count.
std::string difference(const Circumstances& other, const Circumstances& usual) {
  if (other.stored != usual.stored) return size_text(other.stored) + ", the others " + size_text(usual.stored);
  if (other.camera != usual.camera) return "taken with another camera than the others";
  if (other.card != usual.card) return "shows the other card";
  return "another zoom than the others: " + fixed(other.focal_mm, 2) + " mm (" + fixed(other.focal_35mm, 0) +
         " mm equivalent) where they have " + fixed(usual.focal_mm, 2) + " mm (" + fixed(usual.focal_35mm, 0) + ")";
}

LensPhoto left_out(const std::string& path, std::string reason) {
  LensPhoto photo;
  photo.path = path;
  photo.left_out = std::move(reason);
  return photo;
}

/// Reads the photographs one after the other and keeps their crossings.
class Collector {
 public:
  Collector(const Setup& setup, const LensWitness& witness) : setup_(setup), witness_(witness) {}

  void look_at(const fs::path& path) {
    const Result<int> crossings = crossings_in(path);
    if (!crossings.ok()) excluded_.push_back(left_out(path.string(), crossings.error().what));
    if (witness_) witness_(path, crossings);
  }

  /// Leaves out what differs from the largest group.
  void keep_largest_group() {
    std::map<decltype(Circumstances{}.key()), int> counts;
    for (const Candidate& c : candidates_) ++counts[c.taken.key()];
    const auto most = std::max_element(counts.begin(), counts.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    if (most == counts.end()) return;
    std::vector<Candidate> kept;
    const auto usual = std::find_if(candidates_.begin(), candidates_.end(),
                                    [&](const Candidate& c) { return c.taken.key() == most->first; });
    const Circumstances usually = usual->taken;
    for (Candidate& c : candidates_) {
      if (c.taken.key() == most->first) {
        kept.push_back(std::move(c));
      } else {
        excluded_.push_back(left_out(c.card.sight.path, difference(c.taken, usually)));
      }
    }
    candidates_ = std::move(kept);
  }

  [[nodiscard]] const std::vector<Candidate>& candidates() const { return candidates_; }
  [[nodiscard]] const std::vector<LensPhoto>& excluded() const { return excluded_; }

 private:
  Result<int> crossings_in(const fs::path& path) {
    const Result<Photo> photo = read_photo(path);
    if (!photo.ok()) return photo.error();
    if (!hashes_.insert(photo->sha256).second) {
      return Error{Fault::kBadOption, "the same picture as another one", path.string()};
    }
    Result<CardSight> card = lens_sight(*photo, setup_);
    if (!card.ok()) return card.error();
    const CardKind kind = card->layout.kind();
    candidates_.push_back({std::move(card).value(), circumstances_of(*photo, kind)});
    return static_cast<int>(candidates_.back().card.sight.seen.size());
  }

  const Setup& setup_;
  const LensWitness& witness_;
  std::set<std::string> hashes_;
  std::vector<Candidate> candidates_;
  std::vector<LensPhoto> excluded_;
};

}  // namespace

LensCalibration learn_lens(const std::vector<fs::path>& paths, const Setup& setup, const LensWitness& witness) {
  Collector collector(setup, witness);
  for (const fs::path& path : paths) collector.look_at(path);
  collector.keep_largest_group();
  std::vector<LensSight> sights;
  for (const Candidate& c : collector.candidates()) sights.push_back(c.card.sight);
  const Candidate* first = sights.empty() ? nullptr : &collector.candidates().front();
  LensCalibration lens = calibrate_lens(sights, first != nullptr ? first->taken.stored : cv::Size(),
                                        first != nullptr ? sheet_prior(first->card.layout, setup.print) : SheetPrior{});
  if (first != nullptr) lens.camera_name = first->taken.camera;
  lens.photos.insert(lens.photos.end(), collector.excluded().begin(), collector.excluded().end());
  return lens;
}

}  // namespace glintline
