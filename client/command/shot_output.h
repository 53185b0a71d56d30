// Where a subcommand that makes a shot puts it.

#ifndef SCANTLING_CLIENT_COMMAND_SHOT_OUTPUT_H_
#define SCANTLING_CLIENT_COMMAND_SHOT_OUTPUT_H_

#include <string>

#include "CLI/CLI.hpp"
#include "client/command/exit_code.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {

struct OutputFlags {
  std::string file = "-";       // "-": standard output
  std::string format = "auto";  // "auto", "json", "binary"
};

// Adds --output and --format. `flags` must outlive the app.
void AddOutputFlags(CLI::App& app, OutputFlags& flags);

// Writes the shot; on failure prints why and returns the code to end with. "auto" is binary for a file whose name says
// so
// (.pb, .bin, .binpb), JSON for one named .json, and else JSON without blocks, binary with.
ExitCode PutShot(const v1::Shot& shot, const OutputFlags& flags);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_SHOT_OUTPUT_H_
