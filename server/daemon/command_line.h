// The daemon's command line and its configuration file, in one: flags win over the file, the file over the defaults.

#ifndef SCANTLING_SERVER_DAEMON_COMMAND_LINE_H_
#define SCANTLING_SERVER_DAEMON_COMMAND_LINE_H_

#include <string>
#include <variant>

#include "server/policy/daemon_config.h"

namespace scantling {

// Exit codes of scantlingd.
enum ExitCode : int {
  kExitDone = 0,         // drained; or help was asked for
  kExitCannotServe = 1,  // the address is taken, or the system refused
  kExitUsage = 2,        // flags, configuration, or an address that may not be listened on
};

struct Settings {
  DaemonConfig config;  // threads resolved: >= 1; policy_directory absolute or from the working folder
  bool exit_with_parent = false;
};

// Reads flags and the configuration file they name (or the one in the configuration folder). On help, version or a
// fault everything to be said has been said (standard output, standard error) and the exit code is answered.
std::variant<Settings, ExitCode> ReadCommandLine(int argc, const char* const* argv);

// The folder of configuration files where no flag names one: ../share/scantling or ../config seen from the program,
// else the source tree it was built from, the first that holds a classes.yaml; empty: none.
std::string DefaultConfigFolder();

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_COMMAND_LINE_H_
