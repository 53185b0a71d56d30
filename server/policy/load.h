// Reads what the studio decides from YAML: styles, the class catalogue and the rate card.
//
// Every fault of every file is found in one go and noted in `violations`: field "file:line:column: path.to.key",
// description "got ..., want ...". A result is nullopt exactly where its text had a fault. Keys that may be left out
// take the defaults of policy/types.h; the commented files in config/ say which may. Nothing here throws; text of any
// content and any size ends in a value or in faults, in time linear in the text (bounds: policy/yaml_tree.h).
// Thread-safe: no state.

#ifndef SCANTLING_SERVER_POLICY_LOAD_H_
#define SCANTLING_SERVER_POLICY_LOAD_H_

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/policy/types.h"
#include "server/units/violations.h"

namespace scantling {

inline constexpr size_t kMostClasses = 1000;
inline constexpr size_t kMostStyles = 1000;

// From text. `file_name` only names the text in faults.
std::optional<Style> ParseStyle(std::string_view text, std::string_view file_name, Violations& violations);
std::optional<ClassCatalogue> ParseCatalogue(std::string_view text, std::string_view file_name, Violations& violations);

// Every class of the catalogue must have rates, and no other.
std::optional<RateCard> ParseRates(std::string_view text, std::string_view file_name, const ClassCatalogue& catalogue,
                                   Violations& violations);

// Reads directory/classes.yaml, directory/rates.yaml and every directory/style/*.yaml (in order of file name). The
// default style must be one of them. Also checked across files: style names are unique, the classes a style gives holds
// for exist, and every style offers every class a hold between its least and its greatest there.
std::optional<Policy> LoadPolicy(const std::string& directory, std::string_view default_style, Violations& violations);

// The same with all faults in the message of an InvalidArgument, one a line.
absl::StatusOr<Policy> LoadPolicy(const std::string& directory, std::string_view default_style);

// InvalidArgument with "field: description" of each listed fault, one a line; OK where there is none.
absl::Status StatusOf(const Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_LOAD_H_
