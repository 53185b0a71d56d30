// What is the least that must be allowed?
//
// Per resource alone: one priced pass that hears nothing but the resource. For all together: the smallest factor on the
// capacities at which the relaxed problem fits. For weights P the ratio (least weighted use) / (P . capacity) is a
// proved lower bound on the factor; the best weights at one factor give a greater factor, and so on up (Dinkelbach's
// iteration: from below, ends after a few rounds). Capacities for which a plan exists are then found by growing them
// until Solve() has a plan, and cutting them back to what that plan uses. Source: Dinkelbach 1967, On nonlinear
// fractional programming.

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/fixed.h"
#include "server/budget/pricing.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int kRounds = 12;            // of Dinkelbach's iteration; it is superlinear
constexpr double kFirstGrowth = 1e-4;  // above the proved factor, doubled until a plan is found
constexpr int kGrowths = 40;           // 1e-4 * 2^40: more than any problem with a plan at all needs

absl::Status NoPlan() {
  return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
}

// Whether the k-th capacity may grow. `grows` empty: all may.
bool Grows(std::span<const uint8_t> grows, size_t k) { return grows.empty() || grows[k] != 0; }

Capacities Scaled(const Capacities& capacity, std::span<const uint8_t> grows, double factor) {
  Capacities scaled = capacity;
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k] || !Grows(grows, k)) continue;
    const double grown = std::ceil(static_cast<double>(*capacity[k]) * factor);
    scaled[k] = std::max(*capacity[k], grown < 0x1p62 ? static_cast<int64_t>(grown) : int64_t{1} << 62);
    if (*capacity[k] == 0) scaled[k] = 0;
  }
  return scaled;
}

// A proved lower bound on the factor from the plan of least use at `weights`: rounded down. Every plan that fits obeys
// weights . (use - fixed capacities) <= factor * weights . growing capacities.
double FactorAt(const Core& core, const Capacities& capacity, std::span<const uint8_t> grows, const Prices& weights,
                const Stop& stop) {
  PassBuffers buffers;
  Outcome outcome;
  if (!PricePass(core, weights, stop, &buffers, &outcome)) return 1;
  Wide used = 0, allowed = 0;
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k] || *capacity[k] == 0) continue;
    used += Wide{weights.per_unit[k]} * outcome.used[k];
    if (Grows(grows, k)) {
      allowed += Wide{weights.per_unit[k]} * *capacity[k];
    } else {
      used -= Wide{weights.per_unit[k]} * *capacity[k];
    }
  }
  if (allowed == 0) return 1;
  // Three roundings of at most half a unit in the last place each: four units down is below the true ratio.
  const double ratio = static_cast<double>(used) / static_cast<double>(allowed);
  return std::max(1.0, ratio * (1 - 4 * std::numeric_limits<double>::epsilon()));
}

double SmallestFactor(const Core& core, const Capacities& capacity, std::span<const uint8_t> grows, const Stop& stop) {
  double factor = 1;
  for (int round = 0; round < kRounds && !stop.Requested(); ++round) {
    const Capacities scaled = Scaled(capacity, grows, factor);
    DualOptions options;
    options.high.loss_weight = options.start.loss_weight = options.low.loss_weight = 0;
    for (size_t k = 0; k < capacity.size(); ++k) {
      if (!capacity[k] || *capacity[k] == 0) continue;
      options.high.per_unit[k] = std::max<int64_t>(1, (kMaxWeight / 2) / *scaled[k]);
    }
    options.start = options.high;
    options.max_passes = 100;
    const DualResult dual = MaximiseDual(core, scaled, options, stop);
    if (!dual.evaluated || dual.bound <= 0) break;
    const double next = FactorAt(core, capacity, grows, dual.prices, stop);
    if (next <= factor) break;
    factor = next;
  }
  return factor;
}

// The least growth of the capacities, all alike, at which a plan of these totals fits.
Capacities JustEnough(const Capacities& capacity, std::span<const uint8_t> grows, const std::vector<int64_t>& used,
                      double at_least) {
  double factor = at_least;
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (capacity[k] && *capacity[k] > 0 && Grows(grows, k)) {
      factor = std::max(factor, static_cast<double>(used[k]) / static_cast<double>(*capacity[k]));
    }
  }
  Capacities enough = Scaled(capacity, grows, factor);
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (enough[k]) enough[k] = std::max(*enough[k], used[k]);  // the quotient may have been rounded down
  }
  return enough;
}

}  // namespace

absl::StatusOr<std::vector<int64_t>> LeastUse(const Problem& problem) {
  if (absl::Status status = Validate(problem); !status.ok()) return status;
  if (!problem.fixed.empty()) return LeastUseWithFixedCosts(problem);
  Core core = CoreOf(problem);
  if (!PruneSets(core.parent, core.sets)) return NoPlan();
  const Stop never;
  PassBuffers buffers;
  std::vector<int64_t> least;
  for (int k = 0; k < problem.resources; ++k) {
    Prices prices;
    prices.loss_weight = 0;
    prices.per_unit[k] = 1;
    Outcome outcome;
    PricePass(core, prices, never, &buffers, &outcome);
    least.push_back(outcome.used[k]);
  }
  return least;
}

absl::StatusOr<SmallestFeasible> SmallestCapacities(const Problem& problem, const Stop& stop,
                                                    std::span<const uint8_t> grows) {
  if (absl::Status status = Validate(problem); !status.ok()) return status;
  if (!grows.empty() && grows.size() != static_cast<size_t>(problem.resources)) {
    return absl::InvalidArgumentError(
        absl::StrCat("grows has ", grows.size(), " entries, want one per resource, ", problem.resources));
  }
  Core core = CoreOf(problem);
  if (!PruneSets(core.parent, core.sets)) return NoPlan();
  Capacities zeros(problem.capacity.size());
  for (size_t k = 0; k < zeros.size(); ++k) {
    if (problem.capacity[k] && *problem.capacity[k] == 0) zeros[k] = 0;
  }
  RemoveOversized(zeros, &core);
  if (!PruneSets(core.parent, core.sets)) {
    return absl::FailedPreconditionError("every plan uses some of a resource whose capacity is 0: no factor is enough");
  }
  ReachSets(core.parent, core.sets);
  SmallestFeasible result;
  result.factor_at_least = SmallestFactor(core, problem.capacity, grows, stop);
  Problem grown = problem;
  const Effort effort = {.target_gap = 1.0, .branch_nodes = 2'000, .branch_size = 4'000};
  double growth = kFirstGrowth;
  for (int i = 0; i <= kGrowths; ++i) {
    grown.capacity = Scaled(problem.capacity, grows, result.factor_at_least * (i == 0 ? 1.0 : 1.0 + growth));
    const absl::StatusOr<Solution> solution = Solve(grown, effort, stop);
    if (solution.ok()) {
      result.capacity = JustEnough(problem.capacity, grows, solution->used, result.factor_at_least);
      return result;
    }
    if (!absl::IsFailedPrecondition(solution.status())) return solution.status();
    if (i > 0) growth *= 2;
  }
  return absl::FailedPreconditionError("no factor on the capacities was found for which a plan exists");
}

}  // namespace scantling::budget
