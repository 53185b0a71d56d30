// Two solves: the problem as it is, for the bound and for what keeping costs; and, where that plan gives anything up,
// the problem with the margins.
//
// A margin is added to every row of its node but the earlier one, rather than taken off that one: losses stay at or
// above 0. Both problems have the same plans within the capacities, so the plan of the second is one of the first.

#include "server/budget/stable.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"

namespace scantling::budget {
namespace {

bool HasEarlier(const Problem& problem, const Earlier& earlier, size_t node) {
  const uint8_t level = earlier.level[node];
  return level < kLevels && ((problem.allowed[node] >> level) & 1) != 0;
}

absl::Status Check(const Problem& problem, const Earlier& earlier) {
  const auto count = static_cast<size_t>(problem.size());
  if (earlier.level.size() != count || earlier.margin.size() != count) {
    return absl::InvalidArgumentError(absl::StrCat("got ", earlier.level.size(), " earlier levels and ",
                                                   earlier.margin.size(), " margins, want one per node, ", count));
  }
  for (size_t node = 0; node < count; ++node) {
    if (earlier.margin[node] < 0) {
      return absl::InvalidArgumentError(
          absl::StrCat("margin of node ", node, ": got ", earlier.margin[node], ", want 0 or more"));
    }
    if (earlier.level[node] >= kLevels && earlier.level[node] != kNoLevel) {
      return absl::InvalidArgumentError(
          absl::StrCat("earlier level of node ", node, ": got ", int{earlier.level[node]}, ", want 0 to 3 or none"));
    }
  }
  return absl::OkStatus();
}

int64_t Changed(const Earlier& earlier, const std::vector<uint8_t>& level) {
  int64_t changed = 0;
  for (size_t node = 0; node < level.size(); ++node) {
    changed += earlier.level[node] < kLevels && level[node] != earlier.level[node];
  }
  return changed;
}

std::vector<int64_t> LossesWithMargins(const Problem& problem, const Earlier& earlier) {
  std::vector<int64_t> loss = problem.loss;
  for (size_t node = 0; node < earlier.level.size(); ++node) {
    if (!HasEarlier(problem, earlier, node)) continue;
    for (size_t level = 0; level < kLevels; ++level) {
      int64_t& row = loss[node * kLevels + level];
      if (level != earlier.level[node]) row = std::min(row + std::min(earlier.margin[node], kMaxTotal), kMaxTotal);
    }
  }
  return loss;
}

int64_t LossOf(const Problem& problem, const std::vector<uint8_t>& level) {
  int64_t loss = 0;
  for (size_t node = 0; node < level.size(); ++node) loss += problem.loss[node * kLevels + level[node]];
  return loss;
}

}  // namespace

absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const SolveBy& solve) {
  if (absl::Status valid = Validate(problem); !valid.ok()) return valid;
  if (absl::Status valid = Check(problem, earlier); !valid.ok()) return valid;
  absl::StatusOr<Solution> free = solve(problem);
  if (!free.ok()) return free.status();
  StableSolution stable;
  stable.free = *std::move(free);
  stable.free_changed = stable.changed = Changed(earlier, stable.free.level);
  stable.solution = stable.free;
  if (stable.changed == 0 || stable.free.interrupted) return stable;

  Problem steadied = problem;
  steadied.loss = LossesWithMargins(problem, earlier);
  absl::StatusOr<Solution> kept = solve(steadied);
  if (absl::IsCancelled(kept.status()) || absl::IsDeadlineExceeded(kept.status())) {
    stable.solution.interrupted = true;  // the plan that keeps nothing stands
    return stable;
  }
  if (!kept.ok()) return kept.status();
  stable.solution = *std::move(kept);
  stable.solution.loss = LossOf(problem, stable.solution.level);
  stable.solution.bound = std::min(stable.free.bound, stable.solution.loss);
  stable.solution.proved_optimal = stable.solution.bound == stable.solution.loss;
  stable.changed = Changed(earlier, stable.solution.level);
  return stable;
}

absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const Effort& effort,
                                           const Stop& stop) {
  return SolveStable(problem, earlier, [&](const Problem& asked) { return Solve(asked, effort, stop); });
}

}  // namespace scantling::budget
