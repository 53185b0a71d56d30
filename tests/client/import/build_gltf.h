// Makes small glTF files for the tests of the import, by hand: a JSON document and one buffer.

#ifndef SCANTLING_TESTS_CLIENT_IMPORT_BUILD_GLTF_H_
#define SCANTLING_TESTS_CLIENT_IMPORT_BUILD_GLTF_H_

#include <cstdint>
#include <cstring>
#include <string>
#include <vector>

#include "absl/strings/escaping.h"
#include "client/import/import_gltf.h"
#include "gtest/gtest.h"
#include "nlohmann/json.hpp"

namespace scantling {

using nlohmann::json;

class GltfBuilder {
 public:
  json document = {{"asset", {{"version", "2.0"}}}};

  // Index of a new accessor of floats; type "SCALAR", "VEC3" or "VEC4".
  int Floats(const std::vector<float>& numbers, const std::string& type) {
    return Accessor(numbers.data(), numbers.size() * 4, 5126, numbers.size(), type);
  }

  // Index of a new accessor of normalized 16-bit integers.
  int Shorts(const std::vector<int16_t>& numbers, const std::string& type) {
    const int index = Accessor(numbers.data(), numbers.size() * 2, 5122, numbers.size(), type);
    document["accessors"][index]["normalized"] = true;
    return index;
  }

  // Index of a new mesh whose box is given by min and max.
  int Mesh(const std::vector<float>& min_m, const std::vector<float>& max_m) {
    std::vector<float> corners = min_m;
    corners.insert(corners.end(), max_m.begin(), max_m.end());
    const int accessor = Floats(corners, "VEC3");
    document["accessors"][accessor]["min"] = min_m;
    document["accessors"][accessor]["max"] = max_m;
    document["meshes"].push_back({{"primitives", {{{"attributes", {{"POSITION", accessor}}}}}}});
    return static_cast<int>(document["meshes"].size()) - 1;
  }

  int UnitCube() { return Mesh({0, 0, 0}, {1, 1, 1}); }

  int Node(const json& node) {
    document["nodes"].push_back(node);
    return static_cast<int>(document["nodes"].size()) - 1;
  }

  // One animation with one channel.
  void Animate(int node, const std::string& path, const std::string& interpolation, int input, int output) {
    document["animations"].push_back(
        {{"channels", {{{"sampler", 0}, {"target", {{"node", node}, {"path", path}}}}}},
         {"samplers", {{{"input", input}, {"output", output}, {"interpolation", interpolation}}}}});
  }

  // A .gltf with its buffer as base64 data.
  std::string Gltf() const {
    json whole = document;
    if (!buffer_.empty()) {
      whole["buffers"] = {{{"byteLength", buffer_.size()},
                           {"uri", "data:application/octet-stream;base64," + absl::Base64Escape(buffer_)}}};
    }
    return whole.dump();
  }

  // A .glb with its buffer as the BIN chunk.
  std::string Glb() const {
    json whole = document;
    whole["buffers"] = {{{"byteLength", buffer_.size()}}};
    std::string text = whole.dump(), bin = buffer_;
    text.resize((text.size() + 3) / 4 * 4, ' ');
    bin.resize((bin.size() + 3) / 4 * 4, '\0');
    return "glTF" + U32(2) + U32(28 + text.size() + bin.size()) + U32(text.size()) + "JSON" + text + U32(bin.size()) +
           std::string("BIN\0", 4) + bin;
  }

  static std::string U32(size_t value) {
    std::string bytes;
    for (int shift = 0; shift < 32; shift += 8) bytes.push_back(static_cast<char>(value >> shift & 255));
    return bytes;
  }

 private:
  int Accessor(const void* data, size_t bytes, int component, size_t numbers, const std::string& type) {
    const size_t width = type == "SCALAR" ? 1 : static_cast<size_t>(type[3] - '0');
    buffer_.resize((buffer_.size() + 3) / 4 * 4, '\0');
    document["bufferViews"].push_back({{"buffer", 0}, {"byteOffset", buffer_.size()}, {"byteLength", bytes}});
    buffer_.append(static_cast<const char*>(data), bytes);
    document["accessors"].push_back({{"bufferView", document["bufferViews"].size() - 1},
                                     {"componentType", component},
                                     {"count", numbers / width},
                                     {"type", type}});
    return static_cast<int>(document["accessors"].size()) - 1;
  }

  std::string buffer_;
};

// The import of a builder's file, which must succeed.
inline GltfImport Imported(const GltfBuilder& builder, const GltfImportOptions& options = {}) {
  absl::StatusOr<GltfImport> result = ImportGltfBytes(builder.Gltf(), options);
  EXPECT_TRUE(result.ok()) << result.status().ToString();
  return result.ok() ? *std::move(result) : GltfImport();
}

// The message of an import that must be refused as an invalid argument.
inline std::string Refusal(const std::string& bytes, const GltfImportOptions& options = {}) {
  const absl::StatusOr<GltfImport> result = ImportGltfBytes(bytes, options);
  EXPECT_EQ(result.status().code(), absl::StatusCode::kInvalidArgument);
  return std::string(result.status().message().data(), result.status().message().size());
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_CLIENT_IMPORT_BUILD_GLTF_H_
