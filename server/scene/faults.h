// Wording of faults: what was got and what was wanted, in one form everywhere.

#ifndef SCANTLING_SERVER_SCENE_FAULTS_H_
#define SCANTLING_SERVER_SCENE_FAULTS_H_

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "server/policy/types.h"
#include "server/units/violations.h"

namespace scantling {

// Longest text a caller may send as a name (id, class, asset, container, camera, pair), and as a remark, in bytes.
inline constexpr size_t kLongestNameBytes = 1024;
inline constexpr size_t kLongestRemarkBytes = 4096;

// The text in double quotes, bytes outside printable UTF-8 escaped, cut after some 64 bytes.
std::string QuotedText(std::string_view text);

// "got 3.5, want WANT"; six significant digits, "nan", "inf".
std::string GotNumber(double got, std::string_view want);
std::string GotInteger(int64_t got, std::string_view want);  // all its digits
std::string GotCount(size_t got, std::string_view want);
// "got "TEXT", want WANT".
std::string GotText(std::string_view got, std::string_view want);

// What is wrong with the name of a class that the catalogue does not have; suggests the nearest by edits.
// O(classes * length^2), lengths over 32 bytes count as 32.
std::string UnknownClass(std::string_view name, const ClassCatalogue& catalogue);

// Counts a fault, and words it only where it will be listed: a hostile million faults cost a million increments.
template <typename Field, typename Description>
void AddFault(Violations& violations, const Field& field, const Description& description) {
  if (violations.count() < Violations::kListed) {
    violations.Add(field(), description());
  } else {
    violations.Add({}, {});
  }
}

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_FAULTS_H_
