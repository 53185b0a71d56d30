// Single changes of a plan: one node to another level, its descendants following where their context changes.

#ifndef SCANTLING_SERVER_BUDGET_MOVES_H_
#define SCANTLING_SERVER_BUDGET_MOVES_H_

#include <cstdint>
#include <utility>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/recover.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {

struct Move {
  int32_t node = 0;
  int32_t tree = 0;      // root of the node's tree: moves in different trees do not touch one another
  int level = 0;
  int64_t loss = 0;      // change of loss
  PerResource used{};    // change of use
  Wide excess = 0;       // change of priced loss
};

class MoveMaker {
 public:
  // Descendants whose context changes take their cheapest level at `prices`. `core` must outlive the maker.
  MoveMaker(const Core& core, const Prices& prices, const Stop& stop);

  // Every possible move from `plan`, by node, then level. O(options * size of the subtrees that follow).
  std::vector<Move> All(const Plan& plan) const;

  // Applies a move that All() listed for this plan (other trees may have changed since).
  void Apply(const Move& move, Plan* plan) const;

 private:
  // Lists (node, new level) of everything a change brings about.
  void Follow(int32_t node, int level, const std::vector<uint8_t>& plan,
              std::vector<std::pair<int32_t, uint8_t>>* changes) const;
  int CheapestIn(int32_t node, int context) const { return ChoiceIn(buffers_.choice[node], context); }

  const Core& core_;
  const Prices& prices_;
  PassBuffers buffers_;                   // of a pass at prices_: the cheapest level of each node and context
  std::vector<int32_t> first_child_, next_sibling_, tree_;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_MOVES_H_
