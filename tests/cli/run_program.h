#pragma once

#include <map>
#include <string>
#include <vector>

namespace glintline::testing {

/// What a run of the program left.
struct ProgramRun {
  int code = -1;
  std::string out;
  std::string err;
};

/// Runs the built program as a shell would, in `folder`, with these variables set besides and `input` typed.
[[nodiscard]] ProgramRun run_program(const std::vector<std::string>& words, const std::string& folder,
                                     const std::map<std::string, std::string>& variables = {},
                                     const std::string& input = "");

}  // namespace glintline::testing
