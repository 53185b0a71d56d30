// Prices, plans, then branching on what is paid.
//
//   1 Frugal. Some plan that fits, or the proof that no mixture of plans does.
//   2 Prices. The best bound with the links dualised.
//   3 Plans. What w suggests, what the mixed plans of the relaxed optimum pay, and single changes of the best of them,
//     those first about which w is least sure; each solved without fixed costs.
//   4 Branch, see fixed_branch.h.
//   5 What the best plan pays is solved once more with all the effort that is left.

#include "server/budget/fixed_search.h"

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "server/budget/fixed_branch.h"
#include "server/budget/fixed_plans.h"
#include "server/budget/fixed_state.h"
#include "server/budget/fixed_terms.h"

namespace scantling::budget {
namespace {

constexpr int64_t kPlanWork = 3'000'000;  // nodes of problems solved for plans before the branching, at most
constexpr int64_t kFewestPlans = 8;       // but so many in any case
constexpr int64_t kMostPlans = 100;
constexpr double kTrialGap = 1e-3;   // what is paid is tried with plans so good; the best is then solved as asked
constexpr double kPriceShare = 0.1;  // part of the target gap that the prices may miss the best bound by
constexpr int kRootPasses = 40;
constexpr int kRootSteps = 20;
constexpr double kMixed = 1e-7;  // least share of a plan in the mixture, above the rounding of the programme

class PaidSearch {
 public:
  PaidSearch(const Problem& problem, const Core& core, const Outcome& least, const Effort& effort, const Stop& stop)
      : problem_(problem),
        effort_(effort),
        stop_(stop),
        core_(WithSets(core, core.sets)),
        least_(least),
        terms_(TermsOf(problem, PlacesOf(core))),
        pricing_(core_, terms_, problem.capacity, stop),
        plans_(problem, core_, terms_, stop),
        bound_(least.loss) {}

  absl::StatusOr<Solution> Run() {
    if (!Open() || !FindFrugal()) return NothingFits();
    if (Going()) Price();
    if (Going()) MakePlans();
    if (Going() && dual_.evaluated && effort_.branch_nodes > 0) BranchOut();
    return Finish();
  }

 private:
  bool Going() const { return !stop_.Requested(); }

  static absl::Status NothingFits() {
    return absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists");
  }

  // Decides what no plan can pay. False where nothing is left.
  bool Open() {
    RemoveOversized(problem_.capacity, &core_);
    root_.choice.assign(terms_.size(), Paid::kUndecided);
    root_.guess.assign(terms_.size(), 1);
    for (size_t a = 0; a < terms_.size(); ++a) {
      for (int k = 0; k < core_.resources; ++k) {
        if (problem_.capacity[k] && terms_[a].cost[k] > *problem_.capacity[k]) root_.choice[a] = Paid::kNo;
      }
    }
    return RemoveUnpaid(core_, terms_, root_.choice, &core_.sets);
  }

  // False where it is proved that no plan fits.
  bool FindFrugal() {
    std::optional<Plan> plan;
    if (!pricing_.FindFrugal(root_, &plan)) return false;
    if (!plan) return true;
    frugal_ = plan->outcome;
    plans_.Offer(plan->level);
    frugal_paid_ = plans_.BestPaid();
    return true;
  }

  void Price() {
    pricing_.SetScale(least_, frugal_ ? &*frugal_ : nullptr);
    pricing_.Start(&root_);
    if (!Going()) return;
    PaidPricing::Search search;
    search.passes = kRootPasses;
    search.steps = kRootSteps;
    search.tolerance = std::max(0.25, kPriceShare * effort_.target_gap * static_cast<double>(least_.loss));
    dual_ = pricing_.Bound(root_, core_, search);
    if (!dual_.evaluated) return;
    pricing_.Keep(dual_.w);
    root_.bound = dual_.bound;
    root_.prices = dual_.prices;
    root_.guess = dual_.guess;
    root_.known = dual_.cuts;
    if (dual_.plan) plans_.Offer(dual_.plan->level);
    bound_ = std::max(bound_, CeilingOf(dual_.bound, pricing_.highest().loss_weight));
  }

  bool GoodEnough() const { return bound_ >= plans_.Limit(effort_.target_gap); }

  void MakePlans() {
    Effort modest = effort_;
    modest.branch_nodes = 0;
    modest.target_gap = std::max(effort_.target_gap, kTrialGap);
    modest.openings = 1;
    int64_t left = std::clamp(kPlanWork / std::max(core_.size(), 1), kFewestPlans, kMostPlans);
    const auto attempt = [&](const std::vector<uint8_t>& paid) {
      if (left <= 0 || !Going() || GoodEnough()) return;
      --left;
      if (plans_.best()) modest.useful_below = plans_.best()->loss;
      plans_.Try(paid, modest);
    };
    attempt(root_.guess);
    for (const LinkedCut& cut : root_.known) {
      if (cut.share > kMixed) attempt(cut.paid);
    }
    if (!plans_.best()) return;
    if (frugal_ && plans_.best()->loss >= frugal_->loss) attempt(frugal_paid_);
    for (const int32_t a : LeastSureFirst()) {
      std::vector<uint8_t> paid = plans_.BestPaid();
      paid[a] ^= 1;
      attempt(paid);
    }
  }

  std::vector<int32_t> LeastSureFirst() const {
    std::vector<int32_t> order;
    if (!dual_.evaluated) return order;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (root_.choice[a] == Paid::kUndecided) order.push_back(static_cast<int32_t>(a));
    }
    const auto apart = [&](int32_t a) {
      const Wide apart = dual_.if_paid[a] - dual_.if_unpaid[a];
      return apart < 0 ? -apart : apart;
    };
    std::stable_sort(order.begin(), order.end(), [&](int32_t a, int32_t b) { return apart(a) < apart(b); });
    return order;
  }

  void BranchOut() {
    const PaidBranching result = BranchOnPaid({core_, terms_, pricing_, plans_}, root_, dual_, effort_, stop_);
    branched_ = result.visited;
    impossible_ = result.exhausted && !plans_.best() && result.bound >= plans_.Limit(effort_.target_gap);
    bound_ = std::max(bound_, result.bound);
  }

  absl::Status NoneFound() const {
    if (impossible_) return NothingFits();
    if (stop_.Cancelled()) return absl::CancelledError("cancelled before any plan was found");
    if (!Going()) return absl::DeadlineExceededError("the deadline passed before any plan was found");
    return absl::FailedPreconditionError(
        "no plan was found that meets the capacities, though none was proved not to exist");
  }

  absl::StatusOr<Solution> Finish() {
    if (!plans_.best()) return NoneFound();
    if (Going() && !GoodEnough()) {
      Effort rest = effort_;
      rest.branch_nodes = std::max<int64_t>(effort_.branch_nodes - branched_, 0);
      plans_.Try(plans_.BestPaid(), rest);
    }
    Solution solution = *plans_.best();
    solution.bound = std::min(bound_, solution.loss);
    solution.proved_optimal = solution.bound == solution.loss;
    solution.interrupted = !solution.proved_optimal && !Going();
    solution.price.clear();
    for (int k = 0; k < problem_.resources; ++k) {
      solution.price.push_back(static_cast<double>(root_.prices.per_unit[k]) /
                               static_cast<double>(root_.prices.loss_weight));
    }
    solution.branched = branched_;
    return solution;
  }

  const Problem& problem_;
  const Effort& effort_;
  const Stop& stop_;
  Core core_;
  const Outcome least_;
  const std::vector<Term> terms_;
  PaidPricing pricing_;
  PaidPlans plans_;
  std::optional<Outcome> frugal_;
  std::vector<uint8_t> frugal_paid_;
  PaidState root_;
  LinkedDual dual_;  // of the root
  int64_t bound_;
  int64_t branched_ = 0;
  bool impossible_ = false;
};

}  // namespace

absl::StatusOr<Solution> SearchPaid(const Problem& problem, const Core& core, const Outcome& least,
                                    const Effort& effort, const Stop& stop) {
  return PaidSearch(problem, core, least, effort, stop).Run();
}

}  // namespace scantling::budget
