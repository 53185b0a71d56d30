// How the command ends, for programs that call it.

#ifndef SCANTLING_CLIENT_COMMAND_EXIT_CODE_H_
#define SCANTLING_CLIENT_COMMAND_EXIT_CODE_H_

#include <string>

#include "absl/status/status.h"

namespace scantling::client {

enum class ExitCode {
  kDone = 0,
  kFault = 1,        // a fault of this program or the daemon, or an output that cannot be written
  kUsage = 2,        // the command line is wrong
  kBadInput = 3,     // the file, the shot or the options are refused
  kNoPlanFits = 4,   // no plan meets the budgets
  kUnreachable = 5,  // no daemon answers, or not in time
};

// The code that tells what `status` is.
ExitCode ExitCodeOf(const absl::Status& status);

// The part of every --help that says what the codes mean.
inline constexpr char kExitCodeHelp[] =
    "Exit codes:\n"
    "  0  done\n"
    "  1  a fault of the program or the daemon, or the output cannot be written\n"
    "  2  wrong usage\n"
    "  3  bad input: the file cannot be read, or the shot or an option is refused\n"
    "  4  no plan fits the budgets; the smallest that would do are told\n"
    "  5  the daemon cannot be reached, or did not answer in time\n";

// What to tell the reader on standard error: the message, every fault with its field, and, where no plan fits, what
// stands in the way (ten of it) and the smallest budgets that would do. Ends with a line break; nothing in it can steer
// a terminal.
std::string FailureText(const absl::Status& status);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_EXIT_CODE_H_
