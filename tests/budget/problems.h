// Problems for tests: random forests, and the exhaustive search that is their oracle.

#ifndef SCANTLING_TESTS_BUDGET_PROBLEMS_H_
#define SCANTLING_TESTS_BUDGET_PROBLEMS_H_

#include <cstdint>
#include <optional>
#include <vector>

#include "server/budget/budget.h"

namespace scantling::budget {

// A small deterministic generator whose numbers do not depend on the standard library.
class Draw {
 public:
  explicit Draw(uint64_t seed) : state_(seed) {}
  int64_t Below(int64_t limit) { return static_cast<int64_t>(Next() % static_cast<uint64_t>(limit)); }
  int64_t Between(int64_t low, int64_t high) { return low + Below(high - low + 1); }
  uint64_t Next();

 private:
  uint64_t state_;
};

struct Shape {
  int64_t nodes = 8;
  int resources = 2;
  int container_percent = 30;     // nodes that may have children
  int in_container_percent = 50;  // nodes that are put under an earlier container
  int floor_percent = 25;         // nodes with a restricted mask
  int64_t most = 20;              // losses and costs are drawn from 0..most
  bool tidy = false;              // loss falls and cost rises with the level, as in practice
  bool keep_share = false;        // the last resource costs at level 0 alone: leaving out is what is limited
  int fixed_costs = 0;            // each with random users and masks
};

// Capacities are left open.
Problem RandomForest(const Shape& shape, uint64_t seed);

// Capacities between the least and the greatest use of each resource, `percent` of the way up; fixed costs count to the
// greatest alone.
void SetCapacities(Problem* problem, int percent);

struct Exhaustive {
  bool feasible = false;
  std::vector<uint8_t> level;  // the best plan in the full order: loss, money, sum of levels, tie
  int64_t loss = 0;
  std::vector<int64_t> least_use;  // per resource, over all plans whatever the capacities
  bool any_plan = false;           // the masks admit one
};

// Tries every plan, fixed costs counted. 4^n.
Exhaustive SearchAll(const Problem& problem);

bool FollowsParents(const Problem& problem, const std::vector<uint8_t>& level);
int64_t LossOf(const Problem& problem, const std::vector<uint8_t>& level);
std::vector<uint8_t> PaysFor(const Problem& problem,
                             const std::vector<uint8_t>& level);                        // per fixed cost: 1 where paid
std::vector<int64_t> UseOf(const Problem& problem, const std::vector<uint8_t>& level);  // fixed costs included

}  // namespace scantling::budget

#endif  // SCANTLING_TESTS_BUDGET_PROBLEMS_H_
