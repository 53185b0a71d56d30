// The extension stands on a node beside its mesh and names up to three accessors, each with one element an instance:
// TRANSLATION (VEC3), ROTATION (VEC4, float or normalized integers) and SCALE (VEC3). Counting comes first, so that a
// file cannot make room for more instances than the import allows before anything is read.
// Source: Khronos Group, EXT_mesh_gpu_instancing; attribute indices were checked by schema.cc.

#include "client/import/instancing.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "absl/strings/str_cat.h"
#include "client/import/accessor.h"

namespace scantling::import {
namespace {

constexpr const char* kAttributes[3] = {"TRANSLATION", "ROTATION", "SCALE"};
constexpr int kWidths[3] = {3, 4, 3};

std::string Where(int node) { return absl::StrCat("nodes[", node, "].extensions.EXT_mesh_gpu_instancing.attributes"); }

// The extension's attributes; null: the node has no such extension.
const tinygltf::Value* FindAttributes(const tinygltf::Model& model, int node) {
  const auto& extensions = model.nodes[node].extensions;
  const auto found = extensions.find("EXT_mesh_gpu_instancing");
  if (found == extensions.end()) return nullptr;
  return found->second.Has("attributes") ? &found->second.Get("attributes") : &found->second;
}

int AccessorOf(const tinygltf::Value& attributes, int which) {
  return attributes.Has(kAttributes[which]) ? attributes.Get(kAttributes[which]).GetNumberAsInt() : -1;
}

}  // namespace

std::optional<int64_t> CountInstances(const tinygltf::Model& model, int node, Notes* faults) {
  const tinygltf::Value* attributes = FindAttributes(model, node);
  if (attributes == nullptr) return std::nullopt;
  std::optional<int64_t> count;
  for (int which = 0; which < 3; ++which) {
    const int accessor = AccessorOf(*attributes, which);
    if (accessor < 0) continue;
    const int64_t here = static_cast<int64_t>(model.accessors[accessor].count);
    if (count.has_value() && *count != here) {
      faults->Add(Where(node), absl::StrCat("got ", here, " elements of ", kAttributes[which], ", want ", *count,
                                            " as of the attribute before"));
      return 0;
    }
    count = here;
  }
  if (!count.has_value()) faults->Add(Where(node), "got none of TRANSLATION, ROTATION, SCALE, want at least one");
  return count.value_or(0);
}

std::vector<Matrix> ReadInstances(const tinygltf::Model& model, int node, int64_t count, Notes* faults) {
  const tinygltf::Value* attributes = FindAttributes(model, node);
  std::vector<double> numbers[3];
  const size_t faults_before = faults->count();
  for (int which = 0; which < 3; ++which) {
    const int accessor = AccessorOf(*attributes, which);
    if (accessor < 0) continue;
    const std::string where = absl::StrCat(Where(node), ".", kAttributes[which]);
    numbers[which] = ReadNumbers(model, accessor, kWidths[which], count, where, faults);
  }
  if (faults->count() != faults_before) return {};
  std::vector<Matrix> matrices;
  matrices.reserve(count);
  for (int64_t i = 0; i < count; ++i) {
    Placing placing;
    if (!numbers[0].empty()) std::copy_n(&numbers[0][3 * i], 3, placing.translation);
    if (!numbers[2].empty()) std::copy_n(&numbers[2][3 * i], 3, placing.scale);
    if (!numbers[1].empty()) {
      const double* q = &numbers[1][4 * i];
      const double length = std::sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
      if (!(length > 0)) {
        faults->Add(Where(node) + ".ROTATION", absl::StrCat("got length 0 at element ", i, ", want length 1"));
        return {};
      }
      for (int k = 0; k < 4; ++k) placing.rotation[k] = q[k] / length;
    }
    matrices.push_back(ToMatrix(placing));
  }
  return matrices;
}

}  // namespace scantling::import
