// Solving again after some nodes changed, from what was saved.

#ifndef SCANTLING_SERVER_BUDGET_WARM_H_
#define SCANTLING_SERVER_BUDGET_WARM_H_

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

// New rows of one node; its parent and tie stay.
struct RowChange {
  int32_t node = 0;
  uint8_t allowed = 0;
  std::array<int64_t, kLevels> loss{};
  std::vector<int64_t> cost;  // [level * K + k]
};

// Holds a problem, its best plan and what makes the next solve quick. Every answer is a plan of the changed problem
// with a bound proved on the changed problem: nothing is taken over from before that the change could make wrong.
// Answers depend on the history (Solve() of problem() is the answer that does not); their loss and Solve()'s differ by
// no more than the two gaps together. Not thread-safe; movable.
class WarmSolver {
 public:
  // Solves from scratch. Errors as Solve().
  static absl::StatusOr<WarmSolver> Start(Problem problem, const Effort& effort, const Stop& stop);

  WarmSolver(WarmSolver&&) noexcept;
  WarmSolver& operator=(WarmSolver&&) noexcept;
  ~WarmSolver();

  const Problem& problem() const;
  const Solution& solution() const;

  // How hard to try from now on.
  void SetEffort(const Effort& effort);

  // Changes rows (each node once at most) and capacities and solves again: a millisecond or two where few rows changed
  // and prices moved by no more than a percent or so, otherwise as long as Solve() and a little. Work grows with the
  // trees the changed nodes are in; where these hold more than a tenth of the nodes, with fixed costs, and where the
  // target gap is missed, Solve() runs too (unless it missed the target itself the last time, by about as much loss).
  // On an error other than INVALID_ARGUMENT (then nothing changed) the problem is changed and the old solution void;
  // the next call starts from scratch. Errors as Solve().
  absl::Status Resolve(std::span<const RowChange> changes, const std::vector<std::optional<int64_t>>& capacity,
                       const Stop& stop);

  // The same where nodes were added, removed or moved to other parents. `was[i]`: the node of the old problem that node
  // i of `next` was, -1: none. What it says is checked: a node whose rows, mask, tie or parent (the node its old parent
  // became) differ counts as changed. O(n) more. INVALID_ARGUMENT, and nothing changed, where `next` is not valid or
  // `was` is not as long, out of range or names a node twice.
  absl::Status Rebase(Problem next, std::span<const int32_t> was, const Stop& stop);

 private:
  struct State;
  explicit WarmSolver(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_WARM_H_
