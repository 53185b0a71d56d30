// One subcommand: what CLI11 parses, and what runs when it was chosen.

#ifndef SCANTLING_CLIENT_COMMAND_COMMAND_H_
#define SCANTLING_CLIENT_COMMAND_COMMAND_H_

#include <functional>
#include <string>

#include "CLI/CLI.hpp"
#include "client/command/exit_code.h"
#include "google/protobuf/message.h"

namespace scantling::client {

struct Command {
  CLI::App* app = nullptr;        // owned by the root app
  std::function<ExitCode()> run;  // prints its result on standard output, its failures on standard error
};

// Each adds its subcommand to `root`, which carries the footer that all share.
Command AddPlanCommand(CLI::App& root);
Command AddExplainCommand(CLI::App& root);
Command AddFrontierCommand(CLI::App& root);
Command AddWatchCommand(CLI::App& root);
Command AddCheckCommand(CLI::App& root);
Command AddSampleCommand(CLI::App& root);
Command AddImportCommand(CLI::App& root);

// Prints what went wrong on standard error; the code to end with.
ExitCode Fail(const absl::Status& status);

// Prints a result on standard output; kFault where it cannot be written.
ExitCode Print(const std::string& text);

// A message as indented JSON with the field names of the proto file, every plain field present, ended by a line break.
std::string JsonOf(const google::protobuf::Message& message);

// The same on one line.
std::string JsonLineOf(const google::protobuf::Message& message);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_COMMAND_H_
