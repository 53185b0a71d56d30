// Help texts with descriptions wrapped to the width of a terminal: CLI11 prints each on one line, however long.

#ifndef SCANTLING_CLIENT_COMMAND_HELP_FORMAT_H_
#define SCANTLING_CLIENT_COMMAND_HELP_FORMAT_H_

#include <string>

#include "CLI/CLI.hpp"

namespace scantling::client {

// Set on the root app before its subcommands are added: they take it over.
class HelpFormat : public CLI::Formatter {
 public:
  std::string make_option(const CLI::Option* option, bool is_positional) const override;
  std::string make_subcommand(const CLI::App* subcommand) const override;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_HELP_FORMAT_H_
