// What a WarmSolver keeps between two solves.

#ifndef SCANTLING_SERVER_BUDGET_WARM_STATE_H_
#define SCANTLING_SERVER_BUDGET_WARM_STATE_H_

#include <optional>
#include <span>
#include <vector>

#include "server/budget/boxed.h"
#include "server/budget/frozen.h"
#include "server/budget/oversize.h"
#include "server/budget/warm.h"

namespace scantling::budget {

// The problem as a Core with everything that holds for it as long as the price stays in a box. Its Core points into the
// problem it was made of, which must stay where it is.
class WarmCore {
 public:
  // Prepares for solves near `solution`, one of `problem`. False where that is of no use: prices out of scale, or the
  // stop came. O(n * K).
  bool Prepare(const Problem& problem, const Solution& solution, const Stop& stop);

  // The same for a changed problem from what `old` knew of its trees. `changed`: per node of `problem` 1 where its tree
  // is not one of old_problem's as it was; `was`: for the others the node it was. False: prepare from scratch.
  bool TakeOver(const Problem& problem, std::span<const uint8_t> changed, std::span<const int32_t> was,
                const WarmCore& old);

  // Rows of the nodes (of the problem) change: TakeOut, then change the problem, then PutBack. False where the trees
  // admit no plan or where other options than before exceed a capacity: prepare from scratch.
  void TakeOut(std::span<const int32_t> nodes);
  bool PutBack(const Problem& problem);
  int64_t TakenOut() const { return static_cast<int64_t>(out_.size()); }

  // Nodes in the trees of `nodes` (of the problem).
  int64_t NodesIn(std::span<const int32_t> nodes) const;

  // Solves, until a loss excused (boxed.h); nullopt where the saved state is of no use and a fresh solve must decide,
  // or where the stop came before any plan was found. The bound is proved whatever the plan is worth.
  std::optional<Solution> Solve(const Problem& problem, const Effort& effort, const Excuse& excuse, const Stop& stop);

 private:
  void Index(const Problem& problem);
  std::vector<int32_t> CoreNodes(std::span<const int32_t> nodes) const;
  int32_t PlaceOf(int32_t node) const { return place_.empty() ? node : place_[node]; }
  bool SetPrices(const Solution& solution);
  // Prunes the trees of part, brings base and unlimited plan up to date; *sets: what is frozen of them.
  bool Renew(const Problem& problem, Core* part, std::vector<uint8_t>* sets);
  Core Renewed(const Problem& problem, std::span<const int32_t> nodes) const;
  Solution SolutionOf(std::span<const uint8_t> level, const Outcome& outcome, int64_t bound) const;

  Core base_;
  std::vector<int32_t> place_;  // per node of the problem: its node in base_; empty: the same
  Trees trees_;
  Oversize oversize_;
  std::vector<uint8_t> least_level_;  // the plan of least loss, capacities unheard, per node of base_
  Outcome least_;
  bool priced_ = false;  // some capacity bound: what follows means something
  Prices prices_;        // the best of the last solve
  PriceBox box_;
  Wide within_ = 0;  // excess up to which options are kept for exchanges
  FrozenCore frozen_;
  std::vector<int32_t> out_;  // nodes of base_ taken out
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_WARM_STATE_H_
