// Point by point. Every answer is Solve()'s.

#include "server/budget/frontier.h"

namespace scantling::budget {

absl::Status TraceFrontier(const Problem& problem, std::span<const CapacityPoint> points, const Effort& effort,
                           const Stop& stop, const FrontierSink& sink) {
  Problem at = problem;
  for (size_t i = 0; i < points.size(); ++i) {
    at.capacity = points[i];
    const absl::StatusOr<Solution> solution = Solve(at, effort, stop);
    if (!solution.ok() && !absl::IsFailedPrecondition(solution.status())) return solution.status();
    if (!sink(static_cast<int64_t>(i), solution)) return absl::OkStatus();
    if (stop.Cancelled()) return absl::CancelledError("cancelled before the last point");
    if (stop.Requested()) return absl::DeadlineExceededError("the deadline passed before the last point");
  }
  return absl::OkStatus();
}

}  // namespace scantling::budget
