// Bisection of one capacity, to the unit.
//
// At each capacity the dual's best prices are found anew; cuts are totals of plans and hold whatever the capacities, so
// each step starts from all that the steps before have met. The relaxed plan there is the plan of least priced loss.

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "server/budget/budget.h"
#include "server/budget/core.h"
#include "server/budget/pricing.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr size_t kMostKnown = 40;  // cuts handed on from step to step

class FlipSearch {
 public:
  FlipSearch(const Problem& problem, Core core, int32_t node, int k, const Stop& stop)
      : problem_(problem), core_(std::move(core)), node_(node), k_(static_cast<size_t>(k)), stop_(stop) {}

  // False where the stop came in.
  bool Run(CapacityFlip* flip) {
    if (!FindEnds()) return false;
    const int64_t own = problem_.capacity[k_].value_or(free_use_);
    const std::optional<uint8_t> level = LevelAt(own);
    if (!level) return false;
    if (!Bisect(own, least_use_, *level, &flip->less, &flip->less_level)) return false;
    if (!problem_.capacity[k_] || free_use_ <= own) return true;
    return Bisect(own, free_use_, *level, &flip->more, &flip->more_level);
  }

 private:
  // What k is used at least, and without a limit on it.
  bool FindEnds() {
    Prices only;
    only.loss_weight = 0;
    only.per_unit[k_] = 1;
    PassBuffers buffers;
    Outcome least;
    if (!PricePass(core_, only, stop_, &buffers, &least)) return false;
    least_use_ = least.used[k_];
    Prices loss;
    if (!PricePass(core_, loss, stop_, &buffers, &least_loss_)) return false;
    known_.push_back(least_loss_);
    free_use_ = least_loss_.used[k_];  // of the plan with no limit at all: no price of k is needed beyond it
    return true;
  }

  std::optional<uint8_t> LevelAt(int64_t capacity_k) {
    Capacities capacity = problem_.capacity;
    capacity[k_] = capacity_k;
    PricingOptions options;
    options.high = HighestPrices(core_, capacity, least_loss_, nullptr);
    options.tolerance = 0;
    options.known = known_;
    const DualResult dual = FindPrices(core_, capacity, options, stop_);
    if (dual.interrupted) return std::nullopt;
    Outcome outcome;
    if (!PricePass(core_, dual.prices, stop_, &buffers_, &outcome)) return std::nullopt;
    if (known_.size() < kMostKnown) known_.push_back(outcome);
    return buffers_.level[node_];
  }

  // Between `own`, where the level is `level`, and `far`: the nearest found capacity at which it is another.
  bool Bisect(int64_t own, int64_t far, uint8_t level, std::optional<int64_t>* at, uint8_t* to) {
    if (own == far) return true;
    std::optional<uint8_t> beyond = LevelAt(far);
    if (!beyond) return false;
    if (*beyond == level) return true;
    int64_t same = own, other = far;
    while (same - other > 1 || other - same > 1) {
      const int64_t middle = same + (other - same) / 2;
      const std::optional<uint8_t> found = LevelAt(middle);
      if (!found) return false;
      (*found == level ? same : other) = middle;
      if (*found != level) beyond = found;
    }
    *at = other;
    *to = *beyond;
    return true;
  }

  const Problem& problem_;
  const Core core_;
  const int32_t node_;
  const size_t k_;
  const Stop& stop_;
  int64_t least_use_ = 0, free_use_ = 0;
  Outcome least_loss_;
  std::vector<Outcome> known_;
  PassBuffers buffers_;
};

}  // namespace

absl::StatusOr<CapacityFlip> CapacityFlipOf(const Problem& problem, int64_t node, int k, const Stop& stop) {
  if (absl::Status valid = Validate(problem); !valid.ok()) return valid;
  if (node < 0 || node >= problem.size() || k < 0 || k >= problem.resources) {
    return absl::InvalidArgumentError(absl::StrCat("got node ", node, " and resource ", k, ", want a node below ",
                                                   problem.size(), " and a resource below ", problem.resources));
  }
  Core core = CoreOf(problem);
  if (!PruneSets(core.parent, core.sets)) {
    return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
  }
  ReachSets(core.parent, core.sets);
  int32_t place = static_cast<int32_t>(node);
  if (!core.origin.empty()) {
    place = static_cast<int32_t>(std::find(core.origin.begin(), core.origin.end(), place) - core.origin.begin());
  }
  CapacityFlip flip;
  if (!FlipSearch(problem, std::move(core), place, k, stop).Run(&flip)) {
    if (stop.Cancelled()) return absl::CancelledError("cancelled before the flips were found");
    return absl::DeadlineExceededError("the deadline passed before the flips were found");
  }
  return flip;
}

}  // namespace scantling::budget
