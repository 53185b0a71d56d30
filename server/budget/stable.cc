// Two solves: the problem as it is, for the bound and for what keeping costs; and, where that plan gives anything up,
// the problem with the margins.
//
// A margin is added to every row of its node but the earlier one, rather than taken off that one: losses stay at or
// above 0. Both problems have the same plans within the capacities, so the plan of the second is one of the first, and
// whichever of the two plans does better with the margins is taken: a search that ends on its gap may leave the worse.
//
// The bound. With margins m >= 0 every plan x has loss(x) <= loss with margins(x) <= loss(x) + sum of all margins. So
// the first solve's bound holds, and so does the second's less that sum; the greater is given.

#include "server/budget/stable.h"

#include <algorithm>
#include <numeric>
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

// The margins that count: those of nodes with an earlier level that is still allowed.
std::vector<int64_t> MarginsOf(const Problem& problem, const Earlier& earlier) {
  std::vector<int64_t> margin(earlier.margin.size(), 0);
  for (size_t node = 0; node < margin.size(); ++node) {
    if (HasEarlier(problem, earlier, node)) margin[node] = earlier.margin[node];
  }
  return margin;
}

// Refuses margins with which the losses would no longer add up.
absl::Status CheckTotal(const Problem& problem, const std::vector<int64_t>& margin) {
  __int128 losses = 0, margins = 0;
  for (size_t node = 0; node < margin.size(); ++node) {
    const auto row = problem.loss.begin() + static_cast<std::ptrdiff_t>(node * kLevels);
    losses += *std::max_element(row, row + kLevels);
    margins += margin[node];
  }
  if (losses + margins <= kMaxTotal) return absl::OkStatus();
  return absl::InvalidArgumentError(absl::StrCat("margins: got a total of about ", static_cast<double>(margins),
                                                 " beside losses of ", static_cast<int64_t>(losses),
                                                 ", want both together at most ", kMaxTotal));
}

std::vector<int64_t> LossesWithMargins(const Problem& problem, const Earlier& earlier,
                                       const std::vector<int64_t>& margin) {
  std::vector<int64_t> loss = problem.loss;
  for (size_t node = 0; node < margin.size(); ++node) {
    for (size_t level = 0; level < kLevels; ++level) {
      if (level != earlier.level[node]) loss[node * kLevels + level] += margin[node];
    }
  }
  return loss;
}

int64_t LossOf(const Problem& problem, const std::vector<uint8_t>& level) {
  int64_t loss = 0;
  for (size_t node = 0; node < level.size(); ++node) loss += problem.loss[node * kLevels + level[node]];
  return loss;
}

// The solve with margins as an answer to the problem without.
Solution Restated(const Problem& problem, const Problem& steadied, const Solution& free, Solution kept,
                  int64_t margins) {
  const int64_t bound = std::max(free.bound, kept.bound - margins);
  const int64_t branched = free.branched + kept.branched;
  const bool interrupted = kept.interrupted;
  if (LossOf(steadied, free.level) <= LossOf(steadied, kept.level)) kept = free;
  kept.loss = LossOf(problem, kept.level);
  kept.bound = bound;
  kept.proved_optimal = kept.bound == kept.loss;
  kept.interrupted = interrupted;
  kept.price = free.price;
  kept.branched = branched;
  return kept;
}

}  // namespace

absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const SolveBy& solve) {
  if (absl::Status valid = Validate(problem); !valid.ok()) return valid;
  if (absl::Status valid = Check(problem, earlier); !valid.ok()) return valid;
  const std::vector<int64_t> margin = MarginsOf(problem, earlier);
  if (absl::Status valid = CheckTotal(problem, margin); !valid.ok()) return valid;
  absl::StatusOr<Solution> free = solve(problem);
  if (!free.ok()) return free.status();
  StableSolution stable;
  stable.solution = stable.free = *std::move(free);
  stable.free_changed = stable.changed = Changed(earlier, stable.free.level);
  const int64_t margins = std::accumulate(margin.begin(), margin.end(), int64_t{0});
  if (stable.changed == 0 || margins == 0 || stable.free.interrupted) return stable;

  Problem steadied = problem;
  steadied.loss = LossesWithMargins(problem, earlier, margin);
  absl::StatusOr<Solution> kept = solve(steadied);
  if (absl::IsCancelled(kept.status()) || absl::IsDeadlineExceeded(kept.status())) {
    stable.solution.interrupted = true;  // the plan that keeps nothing stands
    return stable;
  }
  if (absl::IsFailedPrecondition(kept.status())) return stable;  // a plan is there, only not met this time
  if (!kept.ok()) return kept.status();
  stable.solution = Restated(problem, steadied, stable.free, *std::move(kept), margins);
  stable.changed = Changed(earlier, stable.solution.level);
  return stable;
}

absl::StatusOr<StableSolution> SolveStable(const Problem& problem, const Earlier& earlier, const Effort& effort,
                                           const Stop& stop) {
  return SolveStable(problem, earlier, [&](const Problem& asked) { return Solve(asked, effort, stop); });
}

}  // namespace scantling::budget
