// A Core's trees at given prices, whose rows may be made dearer one by one.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_FOREST_H_
#define SCANTLING_SERVER_BUDGET_FIXED_FOREST_H_

#include <cstdint>
#include <vector>

#include "server/budget/core.h"
#include "server/budget/tree_pass.h"
#include "server/units/stop.h"

namespace scantling::budget {

// More than any priced loss.
inline constexpr Wide kNever = Wide{1} << 126;

// Keeps the price of every row and what children cost in each context, so that a change of one node's rows reaches the
// least total in O(depth). Not thread-safe.
class PricedForest {
 public:
  // `core` must be pruned and reached, and outlive the forest.
  explicit PricedForest(const Core& core) : core_(core) {}

  // Rows at `prices`. O(n * K).
  void PriceRows(const Prices& prices);
  // Makes some levels of a node dearer without carrying it up: SumUp() must follow before anything else is asked.
  void AddToRow(int32_t node, uint8_t levels, Wide amount);
  // False where the stop came first. O(n).
  bool SumUp(const Stop& stop);

  // Least total over all plans, constants of the Core included. After SumUp().
  Wide total() const { return total_; }

  // The plan of least total, the lower level at ties. O(n).
  void Plan(std::vector<uint8_t>* level) const;

  // Makes some levels of a node dearer. O(depth).
  void Add(int32_t node, uint8_t levels, Wide amount);

  // How much dearer the least total is where the node takes none of the levels; kNever where it must. O(depth).
  Wide Worth(int32_t node, uint8_t levels) const;

  // Per level: how much dearer the least total is where the node takes that level; kNever: it cannot. O(depth).
  void Excess(int32_t node, Wide* excess) const;

 private:
  bool HasChildren(int32_t node) const { return (core_.sets[node] & kLone) == 0 && core_.slot[node] >= 0; }
  void Values(int32_t node, Wide* value) const;
  void Insides(int32_t node, Wide* inside) const;

  const Core& core_;
  std::vector<Wide> price_;  // [node * kLevels + level]
  std::vector<Wide> below_;  // [slot * kContexts + context]: what the children cost
  Wide constant_ = 0;        // priced constants of the Core
  Wide total_ = 0;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_FOREST_H_
