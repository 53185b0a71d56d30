// The plan of least weighted use, kept while masks change one node at a time.

#ifndef SCANTLING_SERVER_BUDGET_LEAST_PLAN_H_
#define SCANTLING_SERVER_BUDGET_LEAST_PLAN_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {

// Losses and fixed costs are not heard. The problem must be valid and outlive this. Memory: 6 Sums a node.
class LeastPlan {
 public:
  struct Sum {
    Wide weighted = 0;
    PerResource used{};
    int64_t blocked = 0;  // trees of the sum that have no plan; they count nothing
  };

  // From the problem's own masks. O(n * K). Only weights.per_unit counts.
  LeastPlan(const Problem& problem, const Prices& weights);

  // `mask` may be 0. O(depth * K): from the node to its root.
  void SetMask(int32_t node, uint8_t mask);

  const Sum& total() const { return total_; }

  // The level of every node; void where total().blocked > 0. O(n).
  std::vector<uint8_t> Levels() const;

 private:
  // The best level of a node in a context; -1: none.
  int BestOf(int32_t node, int context) const;
  Sum SumOf(int32_t node, int level) const;
  // Looks at a node again and passes what changed to the sum above. False where nothing changed.
  bool Settle(int32_t node);

  const Problem& problem_;
  const Prices weights_;
  std::vector<uint8_t> mask_;
  std::vector<int32_t> order_;  // parents first
  std::vector<Sum> below_;      // [node * kContexts + context]: of its children
  std::vector<Sum> own_;        // [node * kContexts + context]: of its tree, as passed up
  Sum total_;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_LEAST_PLAN_H_
