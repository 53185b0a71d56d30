// Divide and conquer over an order of demands.
//
// Tests are monotone: what cannot be met cannot be met with more demands. So over any order there is a first prefix
// that cannot be met; its last demand is needed, and the search goes on for what of the rest is needed beside it.
// Demands come in the order of how much they raise the least use of the limited resources on their own, most first, so
// that prefixes are short. Source: Junker 2004, QuickXplain: preferred explanations and relaxations for
// over-constrained problems.
//
// A test ends in one of three ways: a plan was found; it was proved that there is none; or neither. The last counts as
// "can be met", so that what is answered cannot be met for certain, but is then not proved irreducible.

#include "server/budget/irreducible.h"

#include <algorithm>
#include <numeric>

#include "absl/strings/str_cat.h"
#include "server/budget/core.h"
#include "server/budget/pricing.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr Effort kEffort = {.target_gap = 1.0, .branch_nodes = 2'000, .branch_size = 4'000};

class Search {
 public:
  Search(const Problem& rest, std::span<const Demand> demands, const Stop& stop)
      : rest_(rest), demands_(demands), stop_(stop), problem_(rest) {}

  absl::StatusOr<Irreducible> Run() {
    std::vector<int32_t> all(demands_.size());
    std::iota(all.begin(), all.end(), 0);
    if (!CannotBeMet(all))
      return absl::FailedPreconditionError("the demands can be met, or it was not proved that not");
    Irreducible result;
    if (CannotBeMet({})) {
      result.proved = true;
      return result;
    }
    OrderByWeight(&all);
    std::vector<int32_t> needed;
    while (!stop_.Requested()) {
      // The shortest prefix of `all` that cannot be met together with what is needed already.
      size_t can = 0, cannot = all.size();
      if (!needed.empty() && CannotBeMet(needed)) break;
      while (cannot - can > 1) {
        const size_t middle = can + (cannot - can) / 2;
        std::vector<int32_t> tried(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(middle));
        tried.insert(tried.end(), needed.begin(), needed.end());
        (CannotBeMet(tried) ? cannot : can) = middle;
      }
      needed.push_back(all[cannot - 1]);
      all.resize(cannot - 1);
    }
    if (stop_.Requested()) needed.insert(needed.end(), all.begin(), all.end());
    result.demands = needed;
    std::sort(result.demands.begin(), result.demands.end());
    result.proved = !stop_.Requested() && undecided_ == 0;
    return result;
  }

 private:
  void Activate(const std::vector<int32_t>& active) {
    problem_.allowed = rest_.allowed;
    problem_.capacity = rest_.capacity;
    for (const Demand& demand : demands_) {
      if (demand.resource >= 0) problem_.capacity[static_cast<size_t>(demand.resource)].reset();
    }
    for (const int32_t i : active) {
      const Demand& demand = demands_[static_cast<size_t>(i)];
      for (const Demand::Restriction& one : demand.restrictions) problem_.allowed[one.node] &= one.allowed;
      if (demand.resource >= 0) {
        problem_.capacity[static_cast<size_t>(demand.resource)] = rest_.capacity[static_cast<size_t>(demand.resource)];
      }
    }
  }

  bool CannotBeMet(const std::vector<int32_t>& active) {
    Activate(active);
    if (std::find(problem_.allowed.begin(), problem_.allowed.end(), 0) != problem_.allowed.end()) return true;
    const absl::StatusOr<Solution> solution = Solve(problem_, kEffort, stop_);
    if (solution.ok()) return false;
    if (absl::IsFailedPrecondition(solution.status()) && IsProof(solution.status())) return true;
    ++undecided_;
    return false;
  }

  // Solve() says whether it proved that nothing fits or only found nothing.
  static bool IsProof(const absl::Status& status) {
    return status.message().find("none was proved not to exist") == absl::string_view::npos;
  }

  // How much of the capacities, each as a part of itself, the demand takes on its own beyond what the rest takes.
  void OrderByWeight(std::vector<int32_t>* order) {
    std::vector<double> weight(demands_.size(), 0);
    for (size_t i = 0; i < demands_.size(); ++i) {
      if (demands_[i].resource >= 0) weight[i] = 1;
      for (const Demand::Restriction& one : demands_[i].restrictions) weight[i] += WeightOf(one);
    }
    std::stable_sort(order->begin(), order->end(), [&](int32_t a, int32_t b) {
      return weight[static_cast<size_t>(a)] > weight[static_cast<size_t>(b)];
    });
  }

  double WeightOf(const Demand::Restriction& one) const {
    double weight = 0;
    for (size_t k = 0; k < static_cast<size_t>(rest_.resources); ++k) {
      if (!rest_.capacity[k]) continue;
      const int64_t more = LeastCost(one.node, rest_.allowed[one.node] & one.allowed, k) -
                           LeastCost(one.node, rest_.allowed[one.node], k);
      weight += static_cast<double>(more) / static_cast<double>(std::max<int64_t>(*rest_.capacity[k], 1));
    }
    return weight;
  }

  int64_t LeastCost(int32_t node, int mask, size_t k) const {
    int64_t least = kMaxTotal;
    for (size_t level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0) continue;
      const size_t row = static_cast<size_t>(node) * kLevels + level;
      least = std::min(least, rest_.cost[row * static_cast<size_t>(rest_.resources) + k]);
    }
    return least;
  }

  const Problem& rest_;
  const std::span<const Demand> demands_;
  const Stop& stop_;
  Problem problem_;
  int64_t undecided_ = 0;
};

absl::Status Check(const Problem& rest, std::span<const Demand> demands) {
  if (absl::Status valid = Validate(rest); !valid.ok()) return valid;
  for (size_t i = 0; i < demands.size(); ++i) {
    if (demands[i].resource >= rest.resources || demands[i].resource < -1) {
      return absl::InvalidArgumentError(absl::StrCat("demands[", i, "].resource: got ", demands[i].resource,
                                                     ", want -1 or a resource below ", rest.resources));
    }
    for (const Demand::Restriction& one : demands[i].restrictions) {
      if (one.node < 0 || one.node >= rest.size()) {
        return absl::InvalidArgumentError(
            absl::StrCat("demands[", i, "]: got node ", one.node, ", want one below ", rest.size()));
      }
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<Irreducible> IrreducibleDemands(const Problem& rest, std::span<const Demand> demands, const Stop& stop) {
  if (absl::Status valid = Check(rest, demands); !valid.ok()) return valid;
  return Search(rest, demands, stop).Run();
}

}  // namespace scantling::budget
