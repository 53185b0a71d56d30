// Extras are whatever an exporter wrote; only five keys are read, with a prefix of ours or without.
//
// Exporters often put a property on a group and the mesh below it, so labels pass down to nodes that have none of their
// own. An asset does not pass down from a mesh's name, only from extras: two meshes under one group are two assets.

#include "client/import/labels.h"

#include <cmath>
#include <limits>

#include "absl/strings/str_cat.h"

namespace scantling::import {
namespace {

// extras["scantling_" + key], else extras[key]; null: neither.
const tinygltf::Value* FindExtra(const tinygltf::Value& extras, const std::string& key) {
  if (!extras.IsObject()) return nullptr;
  for (const std::string& name : {"scantling_" + key, key}) {
    if (extras.Has(name)) return &extras.Get(name);
  }
  return nullptr;
}

void ReadText(const tinygltf::Value& extras, const std::string& key, const std::string& where, std::string* text,
              Notes* warnings) {
  const tinygltf::Value* value = FindExtra(extras, key);
  if (value == nullptr || !text->empty()) return;
  if (!value->IsString()) return warnings->Add(absl::StrCat(where, ".extras.", key), "is no string; left out");
  *text = value->Get<std::string>();
}

struct NumberKey {
  const char* name;
  bool (*fits)(double);
  const char* otherwise;  // the warning
};

constexpr NumberKey kImportance = {"importance", [](double number) { return number > 0; },
                                   "is no number above 0; left out"};
constexpr NumberKey kInnerBox = {"inner_box", [](double number) { return number >= 0 && number <= 1; },
                                 "is no number from 0 to 1; left out"};

void ReadNumber(const tinygltf::Value& extras, const NumberKey& key, const std::string& where,
                std::optional<double>* number, Notes* warnings) {
  const tinygltf::Value* value = FindExtra(extras, key.name);
  if (value == nullptr || number->has_value()) return;
  const double given = value->IsNumber() ? value->GetNumberAsDouble() : std::numeric_limits<double>::quiet_NaN();
  if (!std::isfinite(given) || !key.fits(given)) {
    return warnings->Add(absl::StrCat(where, ".extras.", key.name), key.otherwise);
  }
  *number = given;
}

void ReadExtras(const tinygltf::Value& extras, const std::string& where, Labels* labels, Notes* warnings) {
  ReadText(extras, "class", where, &labels->class_name, warnings);
  ReadText(extras, "asset", where, &labels->asset_id, warnings);
  ReadText(extras, "hold_group", where, &labels->hold_group, warnings);
  ReadNumber(extras, kImportance, where, &labels->importance, warnings);
  ReadNumber(extras, kInnerBox, where, &labels->inner_box, warnings);
}

void Inherit(const Labels& parent, Labels* labels) {
  if (labels->class_name.empty()) labels->class_name = parent.class_name;
  if (labels->asset_id.empty()) labels->asset_id = parent.asset_id;
  if (!labels->importance.has_value()) labels->importance = parent.importance;
  if (!labels->inner_box.has_value()) labels->inner_box = parent.inner_box;
  if (labels->hold_group.empty()) labels->hold_group = parent.hold_group;
}

}  // namespace

std::vector<Labels> ReadLabels(const tinygltf::Model& model, const Hierarchy& hierarchy, Notes* warnings) {
  std::vector<Labels> labels(model.nodes.size());
  for (const int node : hierarchy.order) {
    const tinygltf::Node& from = model.nodes[node];
    ReadExtras(from.extras, absl::StrCat("nodes[", node, "]"), &labels[node], warnings);
    if (from.mesh >= 0) {
      ReadExtras(model.meshes[from.mesh].extras, absl::StrCat("meshes[", from.mesh, "]"), &labels[node], warnings);
    }
    if (hierarchy.parent[node] >= 0) Inherit(labels[hierarchy.parent[node]], &labels[node]);
  }
  // Only now, so that a mesh's name passes to nobody.
  for (const int node : hierarchy.order) {
    const int mesh = model.nodes[node].mesh;
    if (mesh < 0 || !labels[node].asset_id.empty()) continue;
    const std::string& name = model.meshes[mesh].name;
    labels[node].asset_id = name.empty() ? absl::StrCat("mesh_", mesh) : name;
  }
  return labels;
}

ClassChooser::ClassChooser(const GltfImportOptions& options)
    : default_class_(options.default_class), known_(options.known_classes.begin(), options.known_classes.end()) {}

std::string ClassChooser::Choose(const std::string& wanted) {
  if (!wanted.empty() && (known_.empty() || known_.count(wanted) > 0)) return wanted;
  ++unknown_[wanted];
  return default_class_;
}

void ClassChooser::Report(Notes* warnings) const {
  for (const auto& [name, objects] : unknown_) {
    const std::string what = name.empty() ? "no class given" : absl::StrCat("class '", name, "' is not known");
    warnings->Add("", absl::StrCat(what, " (", objects, objects == 1 ? " object" : " objects", "); '", default_class_,
                                   "' is taken"));
  }
}

}  // namespace scantling::import
