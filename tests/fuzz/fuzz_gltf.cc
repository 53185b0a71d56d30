// Bytes -> glTF 2.0 (.gltf or .glb) -> v1.Shot -> scene. No file is read; a buffer in a file of its own is a fault.

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "client/import/import_gltf.h"
#include "tests/fuzz/invariants.h"

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  scantling::GltfImportOptions options;
  options.last_frame = 8;
  const auto imported = scantling::ImportGltfBytes(bytes, options);
  if (imported.ok()) {
    scantling::fuzz::CheckShot(imported->shot);
  } else {
    SCANTLING_MUST(!imported.status().message().empty());
  }
  return 0;
}
