// Class, asset, importance, inner box and hold group of objects, from the file's extras.

#ifndef SCANTLING_CLIENT_IMPORT_LABELS_H_
#define SCANTLING_CLIENT_IMPORT_LABELS_H_

#include <map>
#include <optional>
#include <string>
#include <unordered_set>
#include <vector>

#include "client/import/hierarchy.h"
#include "client/import/import_gltf.h"
#include "client/import/notes.h"
#include "tiny_gltf.h"

namespace scantling::import {

struct Labels {
  std::string class_name;  // empty: none given
  std::string asset_id;
  std::optional<double> importance;
  std::optional<double> inner_box;  // share of the box that is solid, 0..1; none: its class's
  std::string hold_group;           // empty: none
};

// Labels of every node of the scene, by node: its own extras, then its mesh's, then its parent's labels, each for what
// those before it do not give. Asset: without extras, the mesh's name, or "mesh_<index>". Values of a wrong type, an
// importance that is not above 0, and an inner box that is not 0 to 1 are left out with a warning. O(nodes).
std::vector<Labels> ReadLabels(const tinygltf::Model& model, const Hierarchy& hierarchy, Notes* warnings);

// Replaces classes that are absent or unknown by the default, and tells at the end how many.
class ClassChooser {
 public:
  explicit ClassChooser(const GltfImportOptions& options);

  // The class an object gets; counts it where that is the default for want of a better one.
  std::string Choose(const std::string& wanted);

  // One warning per unknown class, and one for objects without any.
  void Report(Notes* warnings) const;

 private:
  std::string default_class_;
  std::unordered_set<std::string> known_;  // empty: all
  std::map<std::string, int> unknown_;     // class -> objects; "" counts those without
};

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_LABELS_H_
