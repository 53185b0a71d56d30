// Children before parents, without recursion: nodes are taken off the forest leaf by leaf (Kahn's topological order),
// so that a chain of a million containers needs no stack.
//
// Source: Kahn, Topological sorting of large networks, Communications of the ACM 5(11), 1962.

#include "server/choice/forest_order.h"

namespace scantling {

ForestOrder OrderForest(const Objects& objects) {
  const size_t count = objects.size();
  ForestOrder order;
  order.row_of_node = objects.canonical;
  order.node_of_row.resize(count);
  for (uint32_t node = 0; node < count; ++node) order.node_of_row[order.row_of_node[node]] = node;

  order.parent.resize(count);
  std::vector<uint32_t> waiting_children(count, 0);
  for (uint32_t node = 0; node < count; ++node) {
    const uint32_t container = objects.container[order.row_of_node[node]];
    order.parent[node] = container == kNone ? -1 : static_cast<int32_t>(order.node_of_row[container]);
    if (container != kNone) ++waiting_children[order.node_of_row[container]];
  }

  order.upward.reserve(count);
  for (uint32_t node = 0; node < count; ++node) {
    if (waiting_children[node] == 0) order.upward.push_back(node);
  }
  for (size_t next = 0; next < order.upward.size(); ++next) {
    const int32_t parent = order.parent[order.upward[next]];
    if (parent < 0) continue;
    const auto above = static_cast<uint32_t>(parent);
    if (--waiting_children[above] == 0) order.upward.push_back(above);
  }
  return order;
}

}  // namespace scantling
