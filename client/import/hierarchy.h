// Which nodes are in the scene, under which parent, in which order, and by what name.

#ifndef SCANTLING_CLIENT_IMPORT_HIERARCHY_H_
#define SCANTLING_CLIENT_IMPORT_HIERARCHY_H_

#include <string>
#include <unordered_map>
#include <vector>

#include "client/import/notes.h"
#include "tiny_gltf.h"

namespace scantling::import {

struct Hierarchy {
  std::vector<int> parent;       // of every node; -1: a root
  std::vector<int> order;        // nodes of the scene, a parent before its children, siblings as the file lists them
  std::vector<std::string> ids;  // of every node in `order`, else empty
};

// Of the default scene, else the first, else of all roots. A node's id is the path of names from its root,
// "quay/stall_07/awning"; a nameless node is "node_<index>". Longer than 200 bytes it becomes "node_<index>"; a second
// node of one path gets "#2", and so on: the same file always gives the same ids. Faults: a node of two parents, a
// cycle, a scene's root that is a child, a node twice in a scene, nesting beyond kMostGltfNodeDepth. Walks without
// recursion; O(nodes + length of ids).
Hierarchy BuildHierarchy(const tinygltf::Model& model, Notes* faults);

// Hands out names, each once.
class UniqueNames {
 public:
  // `name`, or with the first of "#2", "#3"... that is not yet taken. Amortised O(length).
  std::string Take(const std::string& name);

 private:
  std::unordered_map<std::string, int> next_;  // name -> the copy to try next
};

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_HIERARCHY_H_
