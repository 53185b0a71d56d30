// Picks one row for every node of a forest within linear budgets, and proves how good the pick is.
//
// This folder knows numbers only: no cameras, no names, no files. It could be lifted out as a library.
//
// The problem. Node i takes one level t in {0, 1, 2, 3} out of its allowed mask. Level t of node i has an integer loss
// and one integer cost per resource. A node's level caps its children's: children of a node at level 3 or 2 are free,
// children of a node at level 1 take level 1 or 0, children of a node at level 0 take level 0. Minimise the sum of
// losses so that no resource's cost exceeds its capacity.
//
// Ties. Among plans of one loss the one of least `money` is wanted (sum of price[k] * cost[k], see Problem::money),
// then the one of lower levels (least sum of levels), then the one that gives the lower level to the node of smaller
// `tie`. Exact for problems without a binding capacity; a stated order of preference, not a promise, where one binds.
//
// All sums are exact: inputs are integers whose absolute sums must fit kMaxTotal, which Solve() checks.

#ifndef SCANTLING_SERVER_BUDGET_BUDGET_H_
#define SCANTLING_SERVER_BUDGET_BUDGET_H_

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/units/stop.h"

namespace scantling::budget {

inline constexpr int kLevels = 4;

// Most resources a problem may have: keeps every priced total inside 128 bits.
inline constexpr int kMaxResources = 16;

// Largest absolute total of any loss or cost column. 2^61 leaves room for differences of two totals.
inline constexpr int64_t kMaxTotal = int64_t{1} << 61;

// A cost paid once, however many share it: where any user takes a level of its mask. A rig that is built, a cycle that
// serves every extra of an asset, the memory an asset takes in one frame.
struct FixedCost {
  struct User {
    int32_t node = 0;
    uint8_t levels = 0;  // bit t set where level t needs it; never 0
  };
  std::vector<int64_t> cost;  // per resource, >= 0
  std::vector<User> users;    // each node once at most, any order; not empty
};

struct Problem {
  int resources = 0;             // K in [0, kMaxResources]
  std::vector<int32_t> parent;   // per node: index of its parent, -1 for a root; any order, no cycles
  std::vector<uint8_t> allowed;  // per node: bit t set where level t may be taken; never 0
  std::vector<uint64_t> tie;     // per node: a stable hash, the last tie-break; equal values fall back to the index
  std::vector<int64_t> loss;     // [node * kLevels + level], >= 0
  std::vector<int64_t> cost;     // [(node * kLevels + level) * K + k], >= 0
  std::vector<std::optional<int64_t>> capacity;  // per resource: at most this much; nullopt: no limit
  std::vector<int64_t> money;                    // per resource: money of one unit of cost, >= 0; only breaks ties
  std::vector<FixedCost> fixed;                  // may be empty; count to what is used, and to the money

  int64_t size() const { return static_cast<int64_t>(parent.size()); }
};

// How hard to try. Work limits, not clocks, so that the same problem gives the same answer; the Stop alone is a clock.
struct Effort {
  double target_gap = 1e-6;       // relative: (loss - bound) / max(loss, 1) at which the search may end
  int64_t branch_nodes = 20'000;  // branch-and-bound nodes at most; 0: none
  int64_t branch_size = 4'000;    // problems with more undecided nodes than this are not branched on
  int openings = 3;  // how wide exchanges may reach, 1 to 3: each step costs some four times the one before
  std::optional<int64_t> useful_below =
      std::nullopt;  // ends as soon as the bound shows that no plan loses less than this
};

struct Solution {
  std::vector<uint8_t> level;   // per node
  int64_t loss = 0;             // exact sum over the chosen rows
  std::vector<int64_t> used;    // per resource, exact sum, fixed costs that are paid included
  std::vector<uint8_t> paid;    // per fixed cost of the problem: 1 where some user takes a level that needs it
  int64_t bound = 0;            // no plan within the capacities has less loss; bound <= loss, proved in integers
  bool proved_optimal = false;  // loss == bound, or the search tree was exhausted (then bound == loss)
  bool interrupted = false;     // the Stop was requested: best found so far with its true gap
  std::vector<double> price;    // per resource: fall in loss per unit of cost at the bound; exactly 0 where slack
  int64_t branched = 0;         // branch-and-bound nodes visited

  double gap() const;  // (loss - bound) / loss; 0 where loss == bound
};

// Validates a problem: sizes, parents, cycles, empty masks, negative figures, totals. OK or INVALID_ARGUMENT that names
// the node and the figure.
absl::Status Validate(const Problem& problem);

// The best plan found and its proof. Errors: INVALID_ARGUMENT (see Validate), FAILED_PRECONDITION where the masks alone
// admit no plan or no plan meets the capacities (ask SmallestCapacities why), CANCELLED or DEADLINE_EXCEEDED only where
// no plan at all was found before the stop. Deterministic. O(n) per pass, some tens of passes.
absl::StatusOr<Solution> Solve(const Problem& problem, const Effort& effort, const Stop& stop);

// Per resource, the least total any plan can have when the other resources are unlimited: the smallest capacity that
// would do on its own. Exact. Errors as Validate; FAILED_PRECONDITION where the masks admit no plan.
absl::StatusOr<std::vector<int64_t>> LeastUse(const Problem& problem);

// For a problem no plan fits: the smallest factor >= 1 by which every capacity must grow alike (zero capacities stay
// zero) so that the relaxed problem fits, and capacities, rounded up, for which a plan was found. The found capacities
// are feasible for certain; the factor is a proved lower bound.
struct SmallestFeasible {
  double factor_at_least = 1;
  std::vector<std::optional<int64_t>> capacity;
};
// `grows`: per resource 1 where its capacity may grow; empty: all may.
absl::StatusOr<SmallestFeasible> SmallestCapacities(const Problem& problem, const Stop& stop,
                                                    std::span<const uint8_t> grows = {});

// How a node's pick in the relaxed problem (loss + lambda * price . cost, least wins) changes as all prices are scaled
// by one factor lambda, its ancestors held where they are: the nearest factors below and above 1 at which another level
// wins, and which. nullopt: none does. Only the node's own rows are read: exact for nodes without children, for others
// it says what the node's own rows would prefer. O(levels) per node.
struct PriceFlip {
  std::optional<double> cheaper_factor;  // < 1 (1: two levels tie already): money matters less; a costlier level wins
  uint8_t cheaper_level = 0;
  std::optional<double> dearer_factor;  // > 1 (1: two levels tie already): a less costly level wins
  uint8_t dearer_level = 0;
};
PriceFlip FlipOf(const Problem& problem, const Solution& solution, int64_t node);

// Capacities of resource k, the others as they are, at which the relaxed plan (least priced loss at the best prices for
// those capacities, ties to the lower level, parents first) takes another level for `node`: one below the problem's own
// capacity and one above. Found by bisection of the capacity, each step a dual of its own: one unit nearer the
// problem's own capacity the level is still the old one (to the unit for totals of some thousands, a few at 1e8, to a
// relative 1e-7 where they are as large as can be). The nearest where the node's level moves one way only as the
// capacity grows (always so with one limited resource and no trees), otherwise one of several. nullopt: none between
// the least with which the capacities can be met and what the plan without this limit uses. A resource without
// capacity: only `less`.
//
// A capacity stands for itself and a part of a unit ((k + 1) * 633 modulo 1024 of 1024 parts; fewer bits of it where
// totals are near kMaxTotal), for exactly on what a plan uses a range of prices would be best. Fixed costs count as
// even shares of their users: a valid relaxation, not the closest.
struct CapacityFlip {
  std::optional<int64_t> less;  // the greatest found capacity, below the problem's, where the level differs
  uint8_t less_level = 0;
  std::optional<int64_t> more;  // the least found capacity, above the problem's, where the level differs
  uint8_t more_level = 0;
};
// INVALID_ARGUMENT where node or k is out of range; FAILED_PRECONDITION where masks or capacities cannot be met;
// CANCELLED, DEADLINE_EXCEEDED. Some forty duals each way, over ever fewer nodes: 1,500 nodes 0.02 s, 100,000 1 to 2 s.
absl::StatusOr<CapacityFlip> CapacityFlipOf(const Problem& problem, int64_t node, int k, const Stop& stop);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_BUDGET_H_
