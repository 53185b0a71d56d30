// libFuzzer target: bytes as a .gltf or .glb. Nothing may crash, hang or ask for unbounded memory; a shot that comes
// out has one matrix an object, or one per frame.

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "client/import/import_gltf.h"

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  scantling::GltfImportOptions options;
  options.last_frame = 8;
  const auto result = scantling::ImportGltfBytes({reinterpret_cast<const char*>(data), size}, options);
  if (!result.ok()) return 0;
  for (const auto& object : result->shot.objects()) {
    const int matrices = object.transform().matrices_size();
    if (matrices != 16 && matrices != 16 * 8) std::abort();
  }
  return 0;
}
