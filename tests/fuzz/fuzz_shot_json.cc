// Bytes -> JSON v1.Shot -> scene: the way of a shot file through the command line. What is refused must say why.

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "client/library/shot_file.h"
#include "tests/fuzz/invariants.h"

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string_view content(reinterpret_cast<const char*>(data), size);
  const auto shot = scantling::client::ParseShot(content, scantling::client::ShotForm::kJson, "fuzz.json");
  if (shot.ok()) {
    scantling::fuzz::CheckShot(*shot);
  } else {
    SCANTLING_MUST(!shot.status().message().empty());
  }
  return 0;
}
