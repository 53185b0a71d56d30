// scantling: the command line of Scantling. A newcomer starts here: main() wires the subcommands, each in a file of its
// own.
//
//   plan, explain, frontier, watch, check   ask a daemon (connection.h finds or starts it)
//   sample, import                          make a shot
//
// Whatever goes wrong ends in one of the codes of exit_code.h; no exception leaves main.

#include <cstdio>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <memory>
#include <string>
#include <vector>

#include "client/command/command.h"
#include "client/command/help_format.h"

namespace scantling::client {
namespace {

constexpr char kVersion[] = "scantling 1.0.0";

std::string UsageFault(const CLI::App* app, const CLI::Error& error) {
  return std::string("scantling: ") + error.what() + "\nSee " + app->get_name() +
         " --help, and --help of each subcommand\n";
}

int Run(int argc, char** argv) {
  CLI::App root(
      "Scantling budgets how much of everything in an animated shot is made.\n"
      "Figures are estimates that guide planning; they decide nobody's job or schedule by themselves.",
      "scantling");
  // Before the subcommands: they take these over.
  root.footer(kExitCodeHelp);
  root.formatter(std::make_shared<HelpFormat>());
  root.failure_message(UsageFault);
  root.set_version_flag("--version", kVersion, "Print the version and end");
  root.require_subcommand(1);
  const std::vector<Command> commands = {AddPlanCommand(root),  AddExplainCommand(root), AddFrontierCommand(root),
                                         AddWatchCommand(root), AddCheckCommand(root),   AddSampleCommand(root),
                                         AddImportCommand(root)};
  try {
    root.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    const int code = root.exit(error, std::cout, std::cerr);
    return static_cast<int>(code == 0 ? ExitCode::kDone : ExitCode::kUsage);
  }
  for (const Command& command : commands) {
    if (command.app->parsed()) return static_cast<int>(command.run());
  }
  return static_cast<int>(ExitCode::kUsage);
}

}  // namespace
}  // namespace scantling::client

int main(int argc, char** argv) {
  // What gRPC logs about a daemon that does not answer is said by us, once and in words.
  setenv("GRPC_VERBOSITY", "NONE", 0);
  try {
    return scantling::client::Run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "scantling: %s\n", error.what());
    return static_cast<int>(scantling::client::ExitCode::kFault);
  }
}
