// Solve(): the steps in order.
//
//   1 Unlimited. The least loss with capacities unheard. If that plan fits it is the answer, ties and all.
//   2 Frugal. A plan that fits, however poor, or the proof that there is none.
//   3 Prices. Lagrange prices of the capacities by cutting planes; one more pass over every node certifies the bound.
//   4 Near. Only options whose excess at those prices is small are opened; exchanges among them give a good plan.
//   5 Exact. Options whose excess rules them out against that plan are dropped for good; what is left is searched by
//     more exchanges and, where it is small enough, by merging lists and by branch and bound.
//   6 Polish. Ties of the finished plan.
//
// Whatever step the stop comes in, the best plan and the best bound so far stand.

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "server/budget/branch.h"
#include "server/budget/budget.h"
#include "server/budget/compact.h"
#include "server/budget/fixed.h"
#include "server/budget/merge.h"
#include "server/budget/polish.h"
#include "server/budget/pricing.h"
#include "server/budget/recover.h"

namespace scantling::budget {
namespace {

// How far the exchanges of one step reach. Work grows with the square of `moves`.
struct Opening {
  int64_t options;    // opened, about so many besides the cheapest of each node
  int64_t all_below;  // nodes below which all options are opened
  int moves, rounds, patience;
};
constexpr Opening kOpenings[] = {{1'500, 600, 200, 20, 4}, {4'000, 2'000, 400, 8, 3}, {8'000, 5'000, 800, 4, 2}};

// States that lists may grow to, per branch-and-bound node allowed and in all: as much work, and 200 MB at most.
constexpr int64_t kStatesPerVisit = 2'000, kMostStates = 8'000'000;

// Nodes from which exchanges are first tried in a sample, and about how many it has.
constexpr int32_t kSampledFrom = 40'000, kSampledNodes = 6'000;

// Visits after the first exchanges, of cores of at most so many nodes.
constexpr int64_t kFirstVisits = 24, kFirstVisitsSize = 60'000;

constexpr int64_t kNearby = 4'096;    // prices a little off the best ones are off by one part in so many
constexpr double kPriceShare = 0.02;  // part of the target gap that the prices may miss the best bound by

class Solver {
 public:
  Solver(const Problem& problem, const Effort& effort, const Stop& stop)
      : problem_(problem), effort_(effort), stop_(stop), core_(CoreOf(problem)) {}

  absl::StatusOr<Solution> Run() {
    if (!Going()) return Stopped();  // validation alone takes milliseconds on a large problem
    if (absl::Status status = OpenSets(); !status.ok()) return status;
    if (!SolveUnlimited()) return Stopped();
    if (!done_) {
      if (absl::Status status = FindAnyPlan(); !status.ok()) return status;
      if (Going() && Price() && Going()) Improve();
    }
    return Finish();
  }

 private:
  bool Going() const { return !stop_.Requested(); }

  absl::Status Stopped() const {
    return stop_.Cancelled() ? absl::CancelledError("cancelled before any plan was found")
                             : absl::DeadlineExceededError("the deadline passed before any plan was found");
  }

  absl::Status OpenSets() {
    std::vector<uint8_t> sets = core_.sets;
    if (!PruneSets(core_.parent, sets)) {
      return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
    }
    RemoveOversized(problem_.capacity, &core_);
    if (!PruneSets(core_.parent, core_.sets)) return NothingFits();
    ReachSets(core_.parent, core_.sets);
    return absl::OkStatus();
  }

  static absl::Status NothingFits() {
    return absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists");
  }

  bool SolveUnlimited() {
    Plan plan;
    if (!LexicographicPass(core_, problem_, stop_, &plan.level)) return false;
    plan.outcome = least_ = Total(core_, plan.level);
    bound_ = least_.loss;
    done_ = Fits(least_, problem_.capacity);
    if (done_) best_ = std::move(plan);
    return true;
  }

  absl::Status FindAnyPlan() {
    Frugal frugal = FindFrugal(core_, problem_.capacity, stop_);
    if (frugal.impossible) return NothingFits();
    best_ = std::move(frugal.plan);
    closest_ = frugal.closest;
    if (frugal.interrupted && !best_) return Stopped();
    return absl::OkStatus();
  }

  // False where the stop came before a price was certified on every node.
  bool Price() {
    PricingOptions options;
    options.high = HighestPrices(core_, problem_.capacity, least_, best_ ? &best_->outcome : nullptr);
    high_ = options.high;
    options.known = {least_, best_ ? best_->outcome : closest_};
    options.tolerance = std::max(0.25, kPriceShare * effort_.target_gap * static_cast<double>(least_.loss));
    const DualResult dual = FindPrices(core_, problem_.capacity, options, stop_);
    prices_ = dual.prices;
    if (dual.evaluated) RaiseBound(CeilingOf(dual.bound, prices_.loss_weight));
    if (dual.interrupted) return false;
    PassBuffers buffers;
    Outcome outcome;
    if (!PricePass(core_, prices_, stop_, &buffers, &outcome)) return false;
    certified_ = LagrangianOf(prices_, outcome, problem_.capacity);
    RaiseBound(CeilingOf(certified_, prices_.loss_weight));
    relaxed_ = {std::move(buffers.level), outcome};
    Offer(relaxed_);
    return true;
  }

  void RaiseBound(int64_t bound) { bound_ = std::max(bound_, bound); }

  void Offer(Plan plan) {
    if (!Fits(plan.outcome, problem_.capacity)) return;
    if (!best_ || plan.outcome.loss < best_->outcome.loss) best_ = std::move(plan);
  }

  // The loss at which the target gap is met.
  int64_t Enough() const {
    return bound_ + static_cast<int64_t>(effort_.target_gap * static_cast<double>(std::max<int64_t>(bound_, 1)));
  }
  bool GoodEnough() const {
    if (best_ && effort_.useful_below && bound_ >= *effort_.useful_below) return true;
    return best_ && best_->outcome.loss <= Enough();
  }

  // Options whose excess is at most `within`, as a Core of their own; void where the stop came in.
  Core Open(Wide within, std::vector<uint8_t>* sets) const {
    if (!KeepReach(core_, prices_, {within, within, 1}, sets, stop_)) return Core();
    return Compact(core_, *sets);
  }

  // The options of least excess, and in a part of the trees all that can be of use, so that there are moves of all
  // sizes.
  Core OpenNear(const Opening& opening, std::vector<uint8_t>* sets) const {
    if (core_.size() <= opening.all_below) return Open(Useful(), sets);
    Reach reach;
    reach.within = std::min(Useful(), ExcessOf(core_, prices_, opening.options));
    reach.far = Useful();
    reach.far_step = static_cast<uint64_t>(core_.size() / opening.options + 1);
    if (!KeepReach(core_, prices_, reach, sets, stop_)) return Core();
    return Compact(core_, *sets);
  }

  // Exchanges from relaxed plans of an opened Core: at the best prices, and where trees are undecided also a little
  // below and above, where a long chain is on one side or the other as a whole.
  void Exchange(const Core& open, const std::vector<uint8_t>& sets, RecoverOptions options) {
    for (const int64_t shift : {0, -1, 1}) {
      if (shift != 0 && (!open.has_trees || GoodEnough())) return;
      Prices nearby = prices_;
      for (int64_t& price : nearby.per_unit) price += shift * (price / kNearby);
      PassBuffers buffers;
      Plan plan;
      if (!PricePass(open, nearby, stop_, &buffers, &plan.outcome)) return;
      plan.level = std::move(buffers.level);
      options.enough = Enough();
      if (!Recover(open, problem_.capacity, prices_, options, stop_, &plan)) continue;
      plan.level = Expand(core_, sets, open, plan.level);
      Offer(std::move(plan));
    }
  }

  // The excess above which an option is in no plan better than the best one; without a plan every option stays.
  Wide Useful() const {
    if (!best_) return Wide{1} << 125;
    return Wide{best_->outcome.loss - 1} * prices_.loss_weight - certified_;
  }

  // Exchanges in a sample of the trees of a large Core, the rest as the relaxed plan has it: where a million choices
  // are made, a few thousand of them fill what is unused, and no pass over all is needed to find them.
  void ExchangeInSample() {
    if (core_.size() < kSampledFrom) return;
    Core part = SampleOf(core_, static_cast<uint64_t>(core_.size() / kSampledNodes));
    Plan plan;
    for (const int32_t node : part.origin) plan.level.push_back(relaxed_.level[node]);
    const Outcome within = Total(part, plan.level);
    plan.outcome = relaxed_.outcome;
    part.base_loss = relaxed_.outcome.loss - within.loss;
    for (int k = 0; k < problem_.resources; ++k) part.base_used[k] = relaxed_.outcome.used[k] - within.used[k];
    const RecoverOptions options = {.moves = 300, .rounds = 20, .patience = 4, .enough = Enough()};
    if (!Recover(part, problem_.capacity, prices_, options, stop_, &plan)) return;
    Plan whole = {relaxed_.level, plan.outcome};
    for (int32_t j = 0; j < part.size(); ++j) whole.level[part.origin[j]] = plan.level[j];
    Offer(std::move(whole));
  }

  // Exchanges on ever wider openings: few options are quick to combine, many leave less unused.
  void Improve() {
    if (!GoodEnough()) ExchangeInSample();
    for (const Opening& opening : kOpenings) {
      if (GoodEnough() || !Going() || &opening - kOpenings >= effort_.openings) break;
      std::vector<uint8_t> sets;
      const Core open = OpenNear(opening, &sets);
      if (!Going()) return;
      Exchange(open, sets, {.moves = opening.moves, .rounds = opening.rounds, .patience = opening.patience});
      // A few visits, whatever the size: where it is a count that the bound leaves fractional they close the gap.
      if (&opening == kOpenings && !GoodEnough() && Going()) {
        BranchOut(std::min(kFirstVisits, effort_.branch_nodes), kFirstVisitsSize);
      }
    }
    if (!GoodEnough() && Going() && effort_.branch_nodes > 0) MergeOut();
    if (!GoodEnough() && Going()) BranchOut(effort_.branch_nodes, effort_.branch_size);
  }

  // Lists merged over ever wider windows. One that was searched in full either holds the best plan of all or raises the
  // bound by its width.
  void MergeOut() {
    int64_t most = std::min(kMostStates, kStatesPerVisit * effort_.branch_nodes);
    for (const int part : {256, 64, 16, 4, 1}) {
      if (!best_ || GoodEnough() || !Going()) return;
      const Wide window = Useful() / part;
      std::vector<uint8_t> sets;
      const Core open = Open(window, &sets);
      if (!Going() || open.size() > effort_.branch_size) return;
      MergeResult result = MergeLists(open, problem_.capacity, prices_, window, most, stop_);
      if (!result.finished) return;
      most -= result.made;
      if (result.best && result.best->outcome.loss < best_->outcome.loss) {
        result.best->level = Expand(core_, sets, open, result.best->level);
        best_ = std::move(result.best);
        return RaiseBound(best_->outcome.loss);
      }
      RaiseBound(part == 1 ? best_->outcome.loss
                           : std::min(best_->outcome.loss, CeilingOf(certified_ + window + 1, prices_.loss_weight)));
    }
  }

  void BranchOut(int64_t visits, int64_t size) {
    if (visits <= 0) return;
    std::vector<uint8_t> sets;
    const Core open = Open(Useful(), &sets);
    if (!Going()) return;
    if (open.size() > size) return;
    BranchOptions options = {prices_, high_, visits, effort_.target_gap};
    // The best plan so far may use options already dropped; branch and bound only needs its loss.
    std::optional<Plan> found;
    if (best_) found = Plan{{}, best_->outcome};
    const BranchResult result = Branch(open, problem_.capacity, options, stop_, &found);
    branched_ += result.visited;
    if (found && !found->level.empty()) Offer({Expand(core_, sets, open, found->level), found->outcome});
    impossible_ = result.exhausted && !best_;
    if (best_) RaiseBound(std::min(result.bound, best_->outcome.loss));
  }

  absl::StatusOr<Solution> Finish() {
    if (!best_) {
      if (impossible_) return NothingFits();
      if (!Going()) return Stopped();
      return absl::FailedPreconditionError(
          "no plan was found that meets the capacities, though none was proved not to exist");
    }
    if (!done_ && Going()) Polish(core_, problem_, problem_.capacity, &*best_);
    Solution solution;
    solution.level.resize(problem_.size());
    for (int32_t i = 0; i < core_.size(); ++i) {
      solution.level[core_.origin.empty() ? i : core_.origin[i]] = best_->level[i];
    }
    solution.loss = best_->outcome.loss;
    solution.used.assign(best_->outcome.used.begin(), best_->outcome.used.begin() + problem_.resources);
    solution.bound = std::min(bound_, solution.loss);
    solution.proved_optimal = solution.bound == solution.loss;
    solution.interrupted = !done_ && !solution.proved_optimal && !Going();
    for (int k = 0; k < problem_.resources; ++k) {
      solution.price.push_back(static_cast<double>(prices_.per_unit[k]) / static_cast<double>(prices_.loss_weight));
    }
    solution.branched = branched_;
    return solution;
  }

  const Problem& problem_;
  const Effort& effort_;
  const Stop& stop_;
  Core core_;
  bool done_ = false;        // the unlimited plan fits
  bool impossible_ = false;  // branch and bound proved that no plan fits
  Outcome least_, closest_;
  std::optional<Plan> best_;  // of core_, fits
  Plan relaxed_;              // of core_, the cheapest at prices_
  Prices prices_, high_;
  Wide certified_ = 0;  // the dual at prices_, over every node
  int64_t bound_ = 0;
  int64_t branched_ = 0;
};

}  // namespace

double Solution::gap() const {
  return loss == bound ? 0.0 : static_cast<double>(loss - bound) / static_cast<double>(loss);
}

absl::StatusOr<Solution> Solve(const Problem& problem, const Effort& effort, const Stop& stop) {
  if (absl::Status status = Validate(problem); !status.ok()) return status;
  if (!problem.fixed.empty()) return SolveWithFixedCosts(problem, effort, stop);
  return Solver(problem, effort, stop).Run();
}

}  // namespace scantling::budget
