// Faults as one readable text each, for comparing whole lists.

#ifndef SCANTLING_TESTS_POLICY_FAULTS_H_
#define SCANTLING_TESTS_POLICY_FAULTS_H_

#include <string>
#include <string_view>
#include <vector>

#include "server/units/violations.h"

namespace scantling {

inline std::vector<std::string> Texts(const Violations& violations) {
  std::vector<std::string> texts;
  for (const Violation& violation : violations.listed())
    texts.push_back(violation.field + ": " + violation.description);
  return texts;
}

// `text` with the first `from` replaced by `to`; the same text where `from` does not occur.
inline std::string Replaced(std::string text, std::string_view from, std::string_view to) {
  const size_t at = text.find(from);
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_POLICY_FAULTS_H_
