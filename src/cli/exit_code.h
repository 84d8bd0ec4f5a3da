#pragma once

namespace glintline {

/// What the program tells the shell. Scripts depend on the numbers: new ones are added, none is changed. Where several
/// hold, the largest is returned.
enum class ExitCode {
  kDone = 0,         ///< every photograph was measured, every output written (whatever the verdicts say)
  kSomeRefused = 1,  ///< some photographs could not be measured; the others were
  kUsage = 2,        ///< an option, or a file named by one, makes no sense; nothing was done
  kAllRefused = 3,   ///< not one photograph could be measured
  kCannotWrite = 4,  ///< an output could not be written
  kUnforeseen = 5,   ///< a defect of the program
};

/// The same for --help.
inline constexpr const char* kExitCodeHelp =
    "Exit codes: 0 all photographs measured; 1 some could not be; 2 an option or a file it names makes no sense;\n"
    "3 no photograph could be measured; 4 an output could not be written; 5 a defect of the program.";

}  // namespace glintline
