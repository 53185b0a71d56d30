// Bytes -> style, class catalogue and rate card. A value exactly where there was no fault.

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "server/policy/load.h"
#include "tests/fuzz/must.h"

namespace {

template <typename Parse>
void Check(const Parse& parse) {
  scantling::Violations violations;
  const auto value = parse(violations);
  SCANTLING_MUST(value.has_value() == violations.empty());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  static const scantling::ClassCatalogue catalogue = scantling::fuzz::Catalogue();
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  Check([&](auto& violations) { return scantling::ParseStyle(text, "style.yaml", violations); });
  Check([&](auto& violations) { return scantling::ParseCatalogue(text, "classes.yaml", violations); });
  Check([&](auto& violations) { return scantling::ParseRates(text, "rates.yaml", catalogue, violations); });
  return 0;
}
