// Solve() where some costs are paid once for all who share them.
//
// For every fixed cost a the links "a user takes a level of the mask only where a is paid" are dualised: w_ia >= 0 is
// added to the user's own rows, and the bound is (tree minima with w) + sum over a of min(0, p . F_a - sum_i w_ia) -
// p . capacity, valid for any w >= 0 and p >= 0. Plans come from deciding which costs are paid and solving again; where
// they are few, that decision is branched on until proved. Source: Erlenkotter 1978, A dual-based procedure for
// uncapacitated facility location, Operations Research 26 (dual ascent on w).

#ifndef SCANTLING_SERVER_BUDGET_FIXED_H_
#define SCANTLING_SERVER_BUDGET_FIXED_H_

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

// What Solve() does where problem.fixed is not empty; the problem is already validated. Without a binding capacity the
// plan has the least loss, and among those the least money, fixed costs counted (unseen mode).
// Errors as Solve(). Deterministic.
absl::StatusOr<Solution> SolveWithFixedCosts(const Problem& problem, const Effort& effort, const Stop& stop);

// What LeastUse() does where problem.fixed is not empty: per resource a proved lower bound on what any plan uses, exact
// where it could be proved.
absl::StatusOr<std::vector<int64_t>> LeastUseWithFixedCosts(const Problem& problem);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_H_
