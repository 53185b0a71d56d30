// Many capacities, one problem: what each plan loses, and its proof.

#ifndef SCANTLING_SERVER_BUDGET_FRONTIER_H_
#define SCANTLING_SERVER_BUDGET_FRONTIER_H_

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/budget/budget.h"

namespace scantling::budget {

using CapacityPoint = std::vector<std::optional<int64_t>>;  // per resource

// Called once a point in the order of `points`, as soon as it is found. The status is FAILED_PRECONDITION where nothing
// fits there. False ends the sweep.
using FrontierSink = std::function<bool(int64_t point, const absl::StatusOr<Solution>& solution)>;

// Solves the problem at every point (its own capacities are not read), sharing prices, frozen choices and plans between
// neighbours: give points loose first, each near the one before. Each answer is proved as Solve()'s is; plans of
// neighbours need not be nested. Where the sweep's own plan misses the target gap Solve() is asked too, unless at the
// last point it was asked for it missed the target by about as much loss and did hardly better than the sweep. A plan
// found for a tighter point that fits a looser one and loses less there is not gone back for. Errors: as Validate;
// CANCELLED or DEADLINE_EXCEEDED where stopped before the last point. Deterministic. Holds a copy of the problem.
absl::Status TraceFrontier(const Problem& problem, std::span<const CapacityPoint> points, const Effort& effort,
                           const Stop& stop, const FrontierSink& sink);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FRONTIER_H_
