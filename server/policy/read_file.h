// A small text file whole, or a fault.

#ifndef SCANTLING_SERVER_POLICY_READ_FILE_H_
#define SCANTLING_SERVER_POLICY_READ_FILE_H_

#include <optional>
#include <string>

#include "server/units/violations.h"

namespace scantling {

// The text of a regular file of at most kMostYamlBytes (policy/yaml_tree.h). A missing, unreadable, too large or
// special file (a pipe would block) is a fault whose field is the path. Never throws.
std::optional<std::string> ReadConfigFile(const std::string& path, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_READ_FILE_H_
