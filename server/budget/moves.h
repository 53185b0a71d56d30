// Single changes of a plan: one node to another level, its descendants following where their context changes.

#ifndef SCANTLING_SERVER_BUDGET_MOVES_H_
#define SCANTLING_SERVER_BUDGET_MOVES_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/recover.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {

struct Move {
  int32_t node = 0;
  int32_t tree = 0;  // root of the node's tree: moves in different trees do not touch one another
  int32_t first = 0,
          last = 0;  // the node's subtree as places in a depth-first order: so may moves be apart in one tree
  int level = 0;
  int64_t loss = 0;    // change of loss
  PerResource used{};  // change of use
  Wide excess = 0;     // change of priced loss
};

// Whether neither move's node is at or below the other's, so that both can be made.
inline bool Apart(const Move& a, const Move& b) { return a.last < b.first || b.last < a.first; }

class MoveMaker {
 public:
  // Where a move changes the context of a node's children, the whole subtrees below take their cheapest plan at
  // `prices` in the new context. `core` must outlive the maker. O(n * K).
  MoveMaker(const Core& core, const Prices& prices, const Stop& stop);

  // Every possible move from `plan`, by node, then level. O(n * K).
  std::vector<Move> All(const Plan& plan) const;

  // Applies a move that All() listed for this plan (others apart from it may have been made since). O(subtree).
  void Apply(const Move& move, Plan* plan) const;

 private:
  void NumberDepthFirst();
  void SumCheapest();
  int CheapestIn(int32_t node, int context) const { return ChoiceIn(buffers_.choice[node], context); }
  // Where the sums of a node's children in a context stand: loss, then each resource.
  int64_t At(int32_t node, int context) const { return (int64_t{node} * kContexts + context) * (1 + core_.resources); }
  void AddRow(int32_t node, int level, int64_t* sums) const;

  const Core& core_;
  const Prices prices_;
  PassBuffers buffers_;  // of a pass at prices_: the cheapest level of each node and context
  std::vector<int32_t> first_child_, next_sibling_;
  std::vector<int32_t> tree_, first_, size_;  // per node: root, place in depth-first order, nodes in the subtree
  std::vector<int64_t> cheapest_;             // see At(): the children's cheapest plans
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_MOVES_H_
