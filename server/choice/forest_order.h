// The forest of containers in canonical order.

#ifndef SCANTLING_SERVER_CHOICE_FOREST_ORDER_H_
#define SCANTLING_SERVER_CHOICE_FOREST_ORDER_H_

#include <cstdint>
#include <vector>

#include "server/scene/scene.h"

namespace scantling {

struct ForestOrder {
  std::vector<uint32_t> row_of_node;  // canonical order
  std::vector<uint32_t> node_of_row;
  std::vector<int32_t> parent;   // per node: node of its container, -1 for a root
  std::vector<uint32_t> upward;  // nodes, every child before its parent
};

// O(n). The scene's containers hold no cycle (scene/ refuses them).
ForestOrder OrderForest(const Objects& objects);

}  // namespace scantling

#endif  // SCANTLING_SERVER_CHOICE_FOREST_ORDER_H_
