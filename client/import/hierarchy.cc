// glTF lists children per node; this turns the list around and refuses what is not a forest.
//
// With at most one parent each, nodes that no root reaches form cycles, and nothing else does. The walk keeps its own
// stack, so nesting costs no call depth; it is bounded all the same, as ids and readers further on grow with it.
// tinygltf checks none of this. Source: glTF 2.0 Specification, section 3.5.2 ("a set of disjoint strict trees").

#include "client/import/hierarchy.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "client/import/import_gltf.h"

namespace scantling::import {
namespace {

constexpr size_t kLongestId = 200;

std::string Named(int node) { return absl::StrCat("nodes[", node, "]"); }

std::vector<int> FindParents(const tinygltf::Model& model, Notes* faults) {
  std::vector<int> parent(model.nodes.size(), -1);
  for (size_t i = 0; i < model.nodes.size(); ++i) {
    for (const int child : model.nodes[i].children) {
      if (parent[child] >= 0) {
        faults->Add(Named(child), absl::StrCat("got two parents, ", Named(parent[child]), " and ",
                                               Named(static_cast<int>(i)), ", want at most one"));
      }
      parent[child] = static_cast<int>(i);
    }
  }
  return parent;
}

std::vector<int> SceneRoots(const tinygltf::Model& model, const std::vector<int>& parent, Notes* faults) {
  std::vector<int> roots;
  if (model.scenes.empty()) {
    for (size_t i = 0; i < parent.size(); ++i) {
      if (parent[i] < 0) roots.push_back(static_cast<int>(i));
    }
    return roots;
  }
  const size_t scene = model.defaultScene >= 0 ? model.defaultScene : 0;
  std::vector<bool> listed(parent.size(), false);
  for (const int root : model.scenes[scene].nodes) {
    if (parent[root] >= 0) {
      faults->Add(absl::StrCat("scenes[", scene, "].nodes"),
                  absl::StrCat("got ", Named(root), ", a child of ", Named(parent[root]), ", want roots only"));
    }
    if (listed[root])
      faults->Add(absl::StrCat("scenes[", scene, "].nodes"),
                  absl::StrCat("got ", Named(root), " twice, want each root once"));
    listed[root] = true;
    roots.push_back(root);
  }
  return roots;
}

// Walks down from roots; false and a fault where the nesting is too deep. *order: nodes in preorder.
bool Walk(const tinygltf::Model& model, const std::vector<int>& roots, std::vector<int>* order, Notes* faults) {
  std::vector<std::pair<int, int>> open;  // node, depth; the next to visit is last
  for (auto root = roots.rbegin(); root != roots.rend(); ++root) open.push_back({*root, 1});
  while (!open.empty()) {
    const auto [node, depth] = open.back();
    open.pop_back();
    if (depth > kMostGltfNodeDepth) {
      faults->Add(Named(node),
                  absl::StrCat("got nesting deeper than ", kMostGltfNodeDepth, " nodes, want at most that"));
      return false;
    }
    order->push_back(node);
    const std::vector<int>& children = model.nodes[node].children;
    for (auto child = children.rbegin(); child != children.rend(); ++child) open.push_back({*child, depth + 1});
  }
  return true;
}

// A cycle hangs from no root.
void FindCycles(const tinygltf::Model& model, const std::vector<int>& parent, Notes* faults) {
  std::vector<int> roots, reached;
  for (size_t i = 0; i < parent.size(); ++i) {
    if (parent[i] < 0) roots.push_back(static_cast<int>(i));
  }
  if (!Walk(model, roots, &reached, faults) || reached.size() == parent.size()) return;
  std::vector<bool> seen(parent.size(), false);
  for (const int node : reached) seen[node] = true;
  for (size_t i = 0; i < parent.size(); ++i) {
    if (!seen[i]) return faults->Add(Named(static_cast<int>(i)), "got a cycle of children, want a tree");
  }
}

std::string IdOf(const tinygltf::Model& model, const Hierarchy& hierarchy, int node) {
  const std::string& name = model.nodes[node].name;
  std::string id = name.empty() ? absl::StrCat("node_", node) : name;
  if (hierarchy.parent[node] >= 0) id = absl::StrCat(hierarchy.ids[hierarchy.parent[node]], "/", id);
  return id.size() <= kLongestId ? id : absl::StrCat("node_", node);
}

}  // namespace

std::string UniqueNames::Take(const std::string& name) {
  const auto [entry, fresh] = next_.try_emplace(name, 2);
  if (fresh) return name;
  int& copy = entry->second;  // elements of the map stay where they are
  while (true) {
    std::string unique = absl::StrCat(name, "#", copy++);
    if (next_.try_emplace(unique, 2).second) return unique;
  }
}

Hierarchy BuildHierarchy(const tinygltf::Model& model, Notes* faults) {
  Hierarchy hierarchy;
  hierarchy.parent = FindParents(model, faults);
  const std::vector<int> roots = SceneRoots(model, hierarchy.parent, faults);
  if (!faults->empty()) return hierarchy;
  FindCycles(model, hierarchy.parent, faults);
  if (!faults->empty() || !Walk(model, roots, &hierarchy.order, faults)) return hierarchy;
  hierarchy.ids.resize(model.nodes.size());
  UniqueNames names;
  for (const int node : hierarchy.order) hierarchy.ids[node] = names.Take(IdOf(model, hierarchy, node));
  return hierarchy;
}

}  // namespace scantling::import
