// Every option is its name and kind on a line, and its description below, indented and wrapped: names of different
// length then leave no ragged column, and long descriptions stay readable at 80 columns.
//
// CLI11 calls these two functions for every entry; everything else of the layout is its own.

#include "client/command/help_format.h"

#include "client/command/table.h"

namespace scantling::client {
namespace {

constexpr int kHelpColumns = 80;
constexpr int kDescriptionIndent = 6;

std::string Entry(const std::string& name, const std::string& description) {
  std::string out = "  " + name + "\n";
  if (description.empty()) return out;
  for (const std::string& line : Wrapped(description, kHelpColumns - kDescriptionIndent)) {
    out += std::string(kDescriptionIndent, ' ') + line + "\n";
  }
  return out;
}

}  // namespace

std::string HelpFormat::make_option(const CLI::Option* option, bool is_positional) const {
  std::string name = make_option_name(option, is_positional);
  if (!option->get_type_name().empty() && option->get_type_size() != 0) name += " " + option->get_type_name();
  std::string description = make_option_desc(option);
  if (!option->get_default_str().empty()) description += ". Default: " + option->get_default_str();
  return Entry(name, description);
}

std::string HelpFormat::make_subcommand(const CLI::App* subcommand) const {
  return Entry(subcommand->get_name(), subcommand->get_description());
}

}  // namespace scantling::client
