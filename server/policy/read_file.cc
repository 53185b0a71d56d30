// Reads configuration files, never more of one than the YAML reader would take.
//
// The kind and size are asked first because opening a pipe or a device may block or never end. The size may still
// change between question and reading, so the read itself is bounded too: one byte more than allowed is asked for, and
// a file that delivers it is refused.

#include "server/policy/read_file.h"

#include <filesystem>
#include <fstream>
#include <system_error>

#include "absl/strings/str_cat.h"
#include "server/policy/yaml_tree.h"

namespace scantling {

std::optional<std::string> ReadConfigFile(const std::string& path, Violations& violations) {
  std::error_code error;
  const std::filesystem::file_status status = std::filesystem::status(path, error);
  if (!std::filesystem::is_regular_file(status)) {
    const std::string found = !std::filesystem::exists(status) ? "no file" : "something that is not a regular file";
    violations.Add(path, absl::StrCat("got ", found, ", want a readable YAML file"));
    return std::nullopt;
  }
  std::ifstream file(path, std::ios::binary);
  std::string text(kMostYamlBytes + 1, '\0');
  if (file) file.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (!file.is_open() || file.bad()) {
    violations.Add(path, "got a file that cannot be read, want a readable YAML file");
    return std::nullopt;
  }
  text.resize(static_cast<size_t>(file.gcount()));
  if (text.size() > kMostYamlBytes) {
    violations.Add(path, absl::StrCat("got more than ", kMostYamlBytes, " bytes, want at most that many"));
    return std::nullopt;
  }
  return text;
}

}  // namespace scantling
