// A deletion filter on the shortest prefix of demands that cannot be met.
//
// Tests are monotone: what cannot be met cannot be met with more demands. So over any order there is a first prefix
// that cannot be met; its last demand is needed, and the search goes on for what of the rest is needed beside it. The
// order is by how much a demand on its own raises the least use, at the weights that prove all demands together
// impossible, most first, so that prefixes are short and few demands stand in for many. Source: Junker 2004,
// QuickXplain: preferred explanations and relaxations for over-constrained problems.
//
// Most of a prefix is needed, for its demands are the heaviest there are. So before each further search every demand
// left is lifted alone and the plan of least weighted use looked at again, from its nodes to their roots alone: where
// it fits, the demand is needed, without a test.
//
// Tests end in one of three ways: a plan was found; it was proved that there is none; or neither. The last counts as
// "can be met", so that what is answered cannot be met for certain, but is then not proved irreducible.

#include "server/budget/irreducible.h"

#include <algorithm>
#include <limits>
#include <numeric>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/budget/core.h"
#include "server/budget/least_plan.h"
#include "server/budget/pricing.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr Effort kEffort = {.target_gap = 1.0, .branch_nodes = 2'000, .branch_size = 4'000};
constexpr int kMostTests = 400;   // then what is left stays in the set
constexpr int kMostSolves = 40;   // tests that needed a search of their own
constexpr int kMostPasses = 100;  // of the dual that finds the weights

enum class Verdict { kMet, kImpossible, kUnknown };

// Which demands hold, and what that leaves of masks and capacities.
class Active {
 public:
  Active(const Problem& rest, std::span<const Demand> demands)
      : rest_(rest), demands_(demands), holds_(demands.size(), 0), first_(static_cast<size_t>(rest.size()) + 1, 0) {
    for (const Demand& demand : demands) {
      for (const Demand::Restriction& one : demand.restrictions) ++first_[static_cast<size_t>(one.node) + 1];
    }
    std::partial_sum(first_.begin(), first_.end(), first_.begin());
    of_node_.resize(first_.back());
    std::vector<size_t> next(first_.begin(), first_.end() - 1);
    for (size_t d = 0; d < demands.size(); ++d) {
      if (demands[d].resource >= 0) on_resources_.push_back(static_cast<int32_t>(d));
      for (const Demand::Restriction& one : demands[d].restrictions) {
        of_node_[next[static_cast<size_t>(one.node)]++] = {static_cast<int32_t>(d), one.allowed};
      }
    }
  }

  void Set(int32_t demand, bool holds) { holds_[static_cast<size_t>(demand)] = holds ? 1 : 0; }
  void SetAll(std::span<const int32_t> demands) {
    std::fill(holds_.begin(), holds_.end(), 0);
    for (const int32_t d : demands) Set(d, true);
  }

  // May be 0.
  uint8_t MaskOf(int32_t node) const {
    uint8_t mask = rest_.allowed[static_cast<size_t>(node)];
    for (size_t j = first_[static_cast<size_t>(node)]; j < first_[static_cast<size_t>(node) + 1]; ++j) {
      if (holds_[static_cast<size_t>(of_node_[j].demand)] != 0) mask &= of_node_[j].allowed;
    }
    return mask;
  }

  Capacities CapacitiesNow() const {
    Capacities capacity = rest_.capacity;
    for (const int32_t d : on_resources_) capacity[ResourceOf(d)].reset();
    for (const int32_t d : on_resources_) {
      if (holds_[static_cast<size_t>(d)] != 0) capacity[ResourceOf(d)] = rest_.capacity[ResourceOf(d)];
    }
    return capacity;
  }

 private:
  size_t ResourceOf(int32_t demand) const {
    return static_cast<size_t>(demands_[static_cast<size_t>(demand)].resource);
  }

  struct OnNode {
    int32_t demand;
    uint8_t allowed;
  };
  const Problem& rest_;
  const std::span<const Demand> demands_;
  std::vector<uint8_t> holds_;  // per demand
  std::vector<int32_t> on_resources_;
  std::vector<size_t> first_;  // per node: where its part of of_node_ starts
  std::vector<OnNode> of_node_;
};

// `used`: of the rows alone.
bool FitsWithFixed(const Problem& problem, const Capacities& capacity, std::span<const uint8_t> level_of_node,
                   PerResource used) {
  for (const FixedCost& fixed : problem.fixed) {
    const bool paid = std::any_of(fixed.users.begin(), fixed.users.end(), [&](const FixedCost::User& user) {
      return ((user.levels >> level_of_node[static_cast<size_t>(user.node)]) & 1) != 0;
    });
    for (size_t k = 0; paid && k < fixed.cost.size(); ++k) used[k] += fixed.cost[k];
  }
  return Fits({0, used}, capacity);
}

class Search {
 public:
  Search(const Problem& rest, std::span<const Demand> demands, const Stop& stop)
      : rest_(rest), demands_(demands), stop_(stop), active_(rest, demands), core_(CoreOf(rest)) {
    for (const uint8_t set : core_.sets) lone_.push_back(set & kLone);
  }

  absl::StatusOr<Irreducible> Run() {
    std::vector<int32_t> all(demands_.size());
    std::iota(all.begin(), all.end(), 0);
    if (Test(all) != Verdict::kImpossible) {
      if (stop_.Cancelled()) return absl::CancelledError("cancelled before it was proved that nothing fits");
      if (stop_.Requested()) {
        return absl::DeadlineExceededError("the deadline passed before it was proved that nothing fits");
      }
      return absl::FailedPreconditionError("the demands can be met, or it was not proved that not");
    }
    const Prices weights = WeightsOfProof();
    Irreducible result;
    if (!all.empty() && Test({}) != Verdict::kImpossible) {
      plan_.emplace(rest_, weights);
      OrderByWeight(weights, &all);
      Filter(std::move(all), &result.demands);
      std::sort(result.demands.begin(), result.demands.end());
    }
    result.proved = !cut_short_ && !stop_.Requested() && !undecided_;
    return result;
  }

 private:
  Verdict Test(std::vector<int32_t> demands, std::span<const int32_t> more = {}) {
    demands.insert(demands.end(), more.begin(), more.end());
    active_.SetAll(demands);
    ++tests_;
    const Verdict verdict = Decide();
    undecided_ = undecided_ || verdict == Verdict::kUnknown;
    return verdict;
  }

  // Whether some plan meets what is active.
  Verdict Decide() {
    const Capacities capacity = active_.CapacitiesNow();
    if (!OpenSets(capacity)) return Verdict::kImpossible;
    const Frugal frugal = FindFrugal(core_, capacity, stop_);
    if (frugal.impossible) return Verdict::kImpossible;  // fixed costs only add to it
    if (frugal.plan && FitsWithFixed(rest_, capacity, ByNode(frugal.plan->level), frugal.plan->outcome.used)) {
      return Verdict::kMet;
    }
    if (frugal.interrupted || ++solves_ > kMostSolves) return Verdict::kUnknown;
    Problem problem = rest_;
    problem.capacity = capacity;
    for (int32_t i = 0; i < rest_.size(); ++i) problem.allowed[static_cast<size_t>(i)] = active_.MaskOf(i);
    const absl::StatusOr<Solution> solution = Solve(problem, kEffort, stop_);
    if (solution.ok()) return Verdict::kMet;
    const bool proof = absl::IsFailedPrecondition(solution.status()) &&
                       solution.status().message().find("it is proved") != absl::string_view::npos;
    return proof ? Verdict::kImpossible : Verdict::kUnknown;
  }

  // The Core's sets from the active masks; false where they admit no plan.
  bool OpenSets(const Capacities& capacity) {
    for (int32_t i = 0; i < core_.size(); ++i) {
      core_.sets[i] = SpreadMask(active_.MaskOf(core_.origin.empty() ? i : core_.origin[i])) | lone_[i];
    }
    RemoveOversized(capacity, &core_);
    if (!PruneSets(core_.parent, core_.sets)) return false;
    ReachSets(core_.parent, core_.sets);
    return true;
  }

  std::vector<uint8_t> ByNode(const std::vector<uint8_t>& level) const {
    std::vector<uint8_t> by_node(level.size());
    for (int32_t i = 0; i < core_.size(); ++i) by_node[core_.origin.empty() ? i : core_.origin[i]] = level[i];
    return by_node;
  }

  // Weights on the resources at which what is active is farthest from being met: of the dual where that proves it, else
  // one over the capacity.
  Prices WeightsOfProof() {
    const Capacities capacity = active_.CapacitiesNow();
    Prices weights;
    weights.loss_weight = 0;
    for (size_t k = 0; k < capacity.size(); ++k) {
      if (capacity[k]) weights.per_unit[k] = std::max<int64_t>(1, kMaxWeight / std::max<int64_t>(*capacity[k], 1));
    }
    if (!OpenSets(capacity)) return weights;
    DualOptions options;
    options.start = options.high = weights;
    options.low.loss_weight = 0;
    options.max_passes = kMostPasses;
    options.enough = 1;
    const DualResult dual = MaximiseDual(core_, capacity, options, stop_);
    return dual.evaluated && dual.bound > 0 ? dual.prices : weights;
  }

  // Demands on a resource the proof leans on come first, ones on others last; restrictions by what they weigh.
  void OrderByWeight(const Prices& weights, std::vector<int32_t>* order) {
    constexpr double kFirst = std::numeric_limits<double>::infinity();
    std::vector<double> weight(demands_.size(), 0);
    const LeastPlan::Sum none = plan_->total();
    active_.SetAll({});
    for (size_t d = 0; d < demands_.size(); ++d) {
      if (d % 1024 == 0 && stop_.Requested()) return;
      const int k = demands_[d].resource;
      Hold(static_cast<int32_t>(d), true);
      const LeastPlan::Sum& alone = plan_->total();
      weight[d] = alone.blocked > 0 ? kFirst : static_cast<double>(alone.weighted - none.weighted);
      if (k >= 0 && weights.per_unit[static_cast<size_t>(k)] > 0) weight[d] = kFirst;
      Hold(static_cast<int32_t>(d), false);
    }
    std::stable_sort(order->begin(), order->end(), [&](int32_t a, int32_t b) {
      return weight[static_cast<size_t>(a)] > weight[static_cast<size_t>(b)];
    });
  }

  // In the active set and in the plan of least use.
  void Hold(int32_t demand, bool holds) {
    active_.Set(demand, holds);
    for (const Demand::Restriction& one : demands_[static_cast<size_t>(demand)].restrictions) {
      plan_->SetMask(one.node, active_.MaskOf(one.node));
    }
  }

  bool MayGoOn() {
    cut_short_ = cut_short_ || tests_ >= kMostTests || stop_.Requested();
    return !cut_short_;
  }

  // `left` together cannot be met. Invariant: `needed` and `left` together cannot be met, and without any one of
  // `needed` they can.
  void Filter(std::vector<int32_t> left, std::vector<int32_t>* needed) {
    while (!left.empty() && MayGoOn()) {
      if (!needed->empty() && Test(*needed) == Verdict::kImpossible) return;
      size_t can = 0, cannot = left.size();
      while (cannot - can > 1 && MayGoOn()) {
        const size_t middle = can + (cannot - can) / 2;
        (Test(*needed, {left.data(), middle}) == Verdict::kImpossible ? cannot : can) = middle;
      }
      left.resize(cannot);
      if (cannot - can == 1) {
        needed->push_back(left.back());
        left.pop_back();
      }
      KeepTheSeen(&left, needed);
    }
    needed->insert(needed->end(), left.begin(), left.end());
  }

  // Moves over from `left` what is seen to be needed: lifted alone, the plan of least use fits.
  void KeepTheSeen(std::vector<int32_t>* left, std::vector<int32_t>* needed) {
    std::vector<int32_t> set = *needed;
    set.insert(set.end(), left->begin(), left->end());
    active_.SetAll(set);
    for (int32_t i = 0; i < rest_.size(); ++i) plan_->SetMask(i, active_.MaskOf(i));
    std::vector<int32_t> unseen;
    for (const int32_t demand : *left) {
      bool fits = false;
      if (!stop_.Requested()) {
        Hold(demand, false);
        fits = PlanFits();
        Hold(demand, true);
      }
      (fits ? *needed : unseen).push_back(demand);
    }
    *left = std::move(unseen);
  }

  bool PlanFits() const {
    const LeastPlan::Sum& total = plan_->total();
    const Capacities capacity = active_.CapacitiesNow();
    if (total.blocked > 0 || !Fits({0, total.used}, capacity)) return false;
    return rest_.fixed.empty() || FitsWithFixed(rest_, capacity, plan_->Levels(), total.used);
  }

  const Problem& rest_;
  const std::span<const Demand> demands_;
  const Stop& stop_;
  Active active_;
  Core core_;
  std::vector<uint8_t> lone_;      // per node of the Core: its kLone bit
  std::optional<LeastPlan> plan_;  // at the weights of the proof
  int tests_ = 0, solves_ = 0;
  bool undecided_ = false, cut_short_ = false;
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
