#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "pipeline/inspect.h"

namespace glintline {

/// What the user typed behind `glintline look`, unread. Empty means not given.
struct LookOptions {
  std::vector<std::string> photos;
  std::string json;
  std::string csv;
  std::string draw;
  std::string setup;
  std::string camera;
  std::string chain;
  std::string stand_off;
  std::string pitch;
  std::string printed;
  std::string square;
  std::string scale_from;
  std::string view;
  bool verbose = false;  ///< the table shows every reason
};

/// The set-up and limits to look with: the set-up file's, overridden by each single option that was given.
/// Fails: kBadOption or kFileMissing, `where` naming the option or the file and the place in it.
[[nodiscard]] Result<Order> order_of(const LookOptions& options);

}  // namespace glintline
