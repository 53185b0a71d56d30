// One table of rules, walked over the document.
//
// A rule's path leads from the root: "nodes[].children[]" is every number in every node's list of children. A step
// that is absent ends the walk, unless the rule says the last field is needed. Lengths and indices are checked here
// once, so that later code may index without asking; what needs the buffers' bytes is checked in accessor.cc.
// Source: glTF 2.0 Specification, section 5 (properties reference).

#include "client/import/schema.h"

#include <set>
#include <string>
#include <string_view>

#include "absl/strings/str_cat.h"
#include "client/import/import_gltf.h"

namespace scantling::import {
namespace {

using nlohmann::json;

enum class Want { kIndex, kWhole, kNumber, kString, kNumbers, kBool };

struct Rule {
  const char* path;
  Want want;
  const char* of = nullptr;  // kIndex: the root array pointed into
  size_t length = 0;         // kNumbers: how many; 0: any number
  bool needed = false;
};

constexpr const char kInstancing[] = "EXT_mesh_gpu_instancing";

constexpr Rule kRules[] = {
    {"asset.version", Want::kString, nullptr, 0, true},
    {"scene", Want::kIndex, "scenes"},
    {"scenes[].nodes[]", Want::kIndex, "nodes"},
    {"scenes[].name", Want::kString},
    {"buffers[].byteLength", Want::kWhole, nullptr, 0, true},
    {"buffers[].uri", Want::kString},
    {"bufferViews[].buffer", Want::kIndex, "buffers", 0, true},
    {"bufferViews[].byteOffset", Want::kWhole},
    {"bufferViews[].byteLength", Want::kWhole, nullptr, 0, true},
    {"bufferViews[].byteStride", Want::kWhole},
    {"accessors[].bufferView", Want::kIndex, "bufferViews"},
    {"accessors[].byteOffset", Want::kWhole},
    {"accessors[].componentType", Want::kWhole, nullptr, 0, true},
    {"accessors[].count", Want::kWhole, nullptr, 0, true},
    {"accessors[].type", Want::kString, nullptr, 0, true},
    {"accessors[].normalized", Want::kBool},
    {"accessors[].min", Want::kNumbers},
    {"accessors[].max", Want::kNumbers},
    {"meshes[].name", Want::kString},
    {"meshes[].primitives[].attributes.POSITION", Want::kIndex, "accessors"},
    {"cameras[].name", Want::kString},
    {"cameras[].type", Want::kString, nullptr, 0, true},
    {"cameras[].perspective.yfov", Want::kNumber, nullptr, 0, true},
    {"cameras[].perspective.znear", Want::kNumber, nullptr, 0, true},
    {"cameras[].perspective.zfar", Want::kNumber},
    {"cameras[].perspective.aspectRatio", Want::kNumber},
    {"cameras[].orthographic.xmag", Want::kNumber, nullptr, 0, true},
    {"cameras[].orthographic.ymag", Want::kNumber, nullptr, 0, true},
    {"cameras[].orthographic.znear", Want::kNumber, nullptr, 0, true},
    {"cameras[].orthographic.zfar", Want::kNumber, nullptr, 0, true},
    {"nodes[].name", Want::kString},
    {"nodes[].mesh", Want::kIndex, "meshes"},
    {"nodes[].camera", Want::kIndex, "cameras"},
    {"nodes[].children[]", Want::kIndex, "nodes"},
    {"nodes[].matrix", Want::kNumbers, nullptr, 16},
    {"nodes[].translation", Want::kNumbers, nullptr, 3},
    {"nodes[].rotation", Want::kNumbers, nullptr, 4},
    {"nodes[].scale", Want::kNumbers, nullptr, 3},
    {"nodes[].extensions.EXT_mesh_gpu_instancing.attributes.TRANSLATION", Want::kIndex, "accessors"},
    {"nodes[].extensions.EXT_mesh_gpu_instancing.attributes.ROTATION", Want::kIndex, "accessors"},
    {"nodes[].extensions.EXT_mesh_gpu_instancing.attributes.SCALE", Want::kIndex, "accessors"},
    {"animations[].channels[].sampler", Want::kWhole, nullptr, 0, true},
    {"animations[].channels[].target.node", Want::kIndex, "nodes"},
    {"animations[].channels[].target.path", Want::kString, nullptr, 0, true},
    {"animations[].samplers[].input", Want::kIndex, "accessors", 0, true},
    {"animations[].samplers[].output", Want::kIndex, "accessors", 0, true},
    {"animations[].samplers[].interpolation", Want::kString},
};

std::string Show(const json& value) {
  if (value.is_string()) return "a string";
  if (value.is_array()) return "an array";
  if (value.is_object()) return "an object";
  return value.dump();
}

class Checker {
 public:
  Checker(const json& root, Notes* faults) : root_(root), faults_(*faults) {}

  void Walk(const json& value, std::string_view path, const std::string& where, const Rule& rule) {
    if (path.empty()) return Judge(value, where, rule);
    if (path.substr(0, 2) == "[]") return WalkArray(value, path.substr(2), where, rule);
    if (path[0] == '.') path.remove_prefix(1);
    const std::string_view field = path.substr(0, path.find_first_of(".["));
    if (!value.is_object()) return AddOnce(where, value, "an object");
    const std::string below = where.empty() ? std::string(field) : absl::StrCat(where, ".", std::string(field));
    const auto found = value.find(std::string(field));
    const std::string_view rest = path.substr(field.size());
    if (found != value.end()) return Walk(*found, rest, below, rule);
    if (rule.needed && (rest.empty() || where.empty())) MissingField(below, rest);
  }

 private:
  // A needed field that is absent: in its own object, or (asset) with all of it. An absent root array is no fault.
  void MissingField(const std::string& where, std::string_view rest) {
    if (rest.substr(0, 2) != "[]") faults_.Add(where + std::string(rest), "got nothing, want it given");
  }

  void WalkArray(const json& value, std::string_view rest, const std::string& where, const Rule& rule) {
    if (!value.is_array()) return AddOnce(where, value, "an array");
    for (size_t i = 0; i < value.size(); ++i) Walk(value[i], rest, absl::StrCat(where, "[", i, "]"), rule);
  }

  void Judge(const json& value, const std::string& where, const Rule& rule) {
    switch (rule.want) {
      case Want::kIndex:
        return JudgeIndex(value, where, rule.of);
      case Want::kWhole:
        if (!value.is_number_unsigned() || value.get<uint64_t>() > INT32_MAX) Add(where, value, "0 to 2147483647");
        return;
      case Want::kNumber:
        if (!value.is_number()) Add(where, value, "a number");
        return;
      case Want::kString:
        if (!value.is_string()) Add(where, value, "a string");
        return;
      case Want::kBool:
        if (!value.is_boolean()) Add(where, value, "true or false");
        return;
      case Want::kNumbers:
        return JudgeNumbers(value, where, rule.length);
    }
  }

  void JudgeIndex(const json& value, const std::string& where, const char* of) {
    const auto array = root_.find(of);
    const size_t size = array != root_.end() && array->is_array() ? array->size() : 0;
    if (!value.is_number_unsigned() || value.get<uint64_t>() >= size) {
      Add(where, value, absl::StrCat("an index into the ", size, " ", of));
    }
  }

  void JudgeNumbers(const json& value, const std::string& where, size_t length) {
    if (!value.is_array()) return Add(where, value, "an array of numbers");
    if (length != 0 && value.size() != length) {
      faults_.Add(where, absl::StrCat("got ", value.size(), " numbers, want ", length));
    }
    for (size_t i = 0; i < value.size(); ++i) {
      if (!value[i].is_number()) Add(absl::StrCat(where, "[", i, "]"), value[i], "a number");
    }
  }

  void Add(const std::string& where, const json& got, const std::string& want) {
    faults_.Add(where.empty() ? "the document" : where, absl::StrCat("got ", Show(got), ", want ", want));
  }

  // Many rules pass through one place; it is told once.
  void AddOnce(const std::string& where, const json& got, const std::string& want) {
    if (refused_.insert(where).second) Add(where, got, want);
  }

  const json& root_;
  Notes& faults_;
  std::set<std::string> refused_;
};

// A buffer of a GLB may stand in its BIN chunk: only the first, and only without a uri.
void CheckBuffers(const json& document, const GltfParts& parts, Notes* faults) {
  const auto buffers = document.find("buffers");
  if (buffers == document.end()) return;
  uint64_t sum = 0;
  for (size_t i = 0; i < buffers->size(); ++i) {
    const json& buffer = (*buffers)[i];
    const std::string where = absl::StrCat("buffers[", i, "]");
    const uint64_t length = buffer["byteLength"].get<uint64_t>();
    sum += length;
    if (length == 0) faults->Add(where + ".byteLength", "got 0, want at least 1");
    if (buffer.contains("uri")) continue;
    if (!parts.binary || i != 0) {
      faults->Add(where + ".uri", "got nothing, want it given (only the first buffer of a GLB may go without)");
    } else if (length > parts.bin.size()) {
      faults->Add(where + ".byteLength",
                  absl::StrCat("got ", length, ", want at most the ", parts.bin.size(), " bytes of the BIN chunk"));
    }
  }
  if (sum > kMostGltfBytes) {
    faults->Add("buffers", absl::StrCat("got ", sum, " bytes together, want at most ", kMostGltfBytes));
  }
}

}  // namespace

void CheckSchema(const json& document, const GltfParts& parts, Notes* faults) {
  Checker checker(document, faults);
  for (const Rule& rule : kRules) checker.Walk(document, rule.path, "", rule);
  if (faults->empty()) CheckBuffers(document, parts, faults);
}

Dropped DropUnread(json* document) {
  Dropped dropped;
  for (const char* name : {"images", "textures", "samplers", "materials", "skins", "extensions"}) document->erase(name);
  if (const auto meshes = document->find("meshes"); meshes != document->end()) {
    for (json& mesh : *meshes) {
      bool morphed = false;
      for (json& primitive : mesh["primitives"]) {
        ++dropped.primitives;
        morphed |= primitive.contains("targets");
        json kept = json::object();
        if (const auto attributes = primitive.find("attributes"); attributes != primitive.end()) {
          if (attributes->contains("POSITION")) kept["POSITION"] = (*attributes)["POSITION"];
        }
        primitive = json{{"attributes", std::move(kept)}};
      }
      dropped.morphed_meshes += morphed;
      mesh.erase("weights");
    }
  }
  if (const auto nodes = document->find("nodes"); nodes != document->end()) {
    for (json& node : *nodes) {
      node.erase("weights");
      dropped.skinned_nodes += static_cast<int>(node.erase("skin"));
    }
  }
  if (const auto required = document->find("extensionsRequired"); required != document->end()) {
    for (const json& name : *required) {
      if (name.is_string() && name != kInstancing) dropped.required_extensions.push_back(name.get<std::string>());
    }
  }
  return dropped;
}

}  // namespace scantling::import
