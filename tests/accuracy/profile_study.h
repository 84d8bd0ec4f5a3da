#pragma once

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "accuracy/rework.h"
#include "model/quantity.h"

namespace glintline::testing {

/// One quantity of one cutter, held against the truth.
struct Compared {
  std::string photo;
  std::string cutter;               ///< number as text, or "-"
  std::string quantity;             ///< "drop mm"
  double truth = 0;
  std::optional<Quantity> measured;
};

/// How the cutters of one photograph were found.
struct FoundCutters {
  std::string photo;
  int over_field = 0;  ///< in truth: whole, all of it over the plain field
  int found = 0;
  int invented = 0;    ///< measured where truth has no cutter
  int hands_wrong = 0;
  std::optional<std::string> refused;
};

struct ProfileStudy {
  std::vector<Compared> values;
  std::vector<FoundCutters> photos;
};

/// Reads, locates, traces and measures every profile photograph of a folder that has a truth file beside it; a `rework`
/// changes each one's pixels first.
[[nodiscard]] ProfileStudy study_profiles(const std::filesystem::path& folder, const Rework& rework = {});

/// Bias, spread, 95th percentile, coverage, share answered and median u95 of one quantity.
struct Summary {
  int wanted = 0;
  int answered = 0;
  double bias = 0;
  double sd = 0;
  double median_error = 0;  ///< absolute
  double p95 = 0;           ///< of the absolute error
  double coverage = 0;      ///< share of answers whose truth lies within u95
  double median_u95 = 0;

  [[nodiscard]] double share_answered() const { return wanted ? static_cast<double>(answered) / wanted : 0; }
};

[[nodiscard]] Summary summary_of(const ProfileStudy& study, const std::string& quantity);

/// A row a quantity: answered, of, bias, sd, median and 95th percentile of the error's size, coverage, median u95.
[[nodiscard]] std::string summary_table(const ProfileStudy& study, std::span<const char* const> quantities);

/// The study as text: every value, then a row a quantity.
[[nodiscard]] std::string table_of(const ProfileStudy& study, const std::string& title);

}  // namespace glintline::testing
