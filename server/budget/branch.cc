// Best-first branch and bound.
//
// An open node is the option sets it leaves (one byte per node of the Core) and the prices its parent ended at.
// Visiting one compacts the Core to what is undecided there, raises the dual from the parent's prices inside a small
// box of prices, and drops every option whose excess rules it out against the best plan. The plans that the relaxed
// optimum mixes differ in a few nodes; the one they disagree on most is split by level into two children.
//
// Everything that closes a node is an exact integer bound, so an exhausted tree is a proof.

#include "server/budget/branch.h"

#include <algorithm>
#include <queue>
#include <utility>
#include <vector>

#include "server/budget/compact.h"

namespace scantling::budget {
namespace {

constexpr int kPasses = 14;          // per visit: more raise the bound too little
constexpr int64_t kBoxPart = 12;     // half-width of the box of prices: this part of the price
constexpr int64_t kFirstTries = 16;  // visits that try to recover a plan; later every kTryEvery-th
constexpr int64_t kTryEvery = 64;
constexpr double kMixed = 1e-7;  // least share of a plan in the mixture, above the rounding of the programme

struct Open {
  Wide bound = 0;
  int64_t id = 0;
  Prices prices;
  std::vector<uint8_t> sets;
  std::vector<Outcome> known;  // totals of plans that are still possible here
};

struct Later {
  bool operator()(const Open& a, const Open& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

struct Split {
  int32_t node = -1;
  int below = 0;  // levels under this against levels from it on
};

class BranchAndBound {
 public:
  BranchAndBound(const Core& core, const Capacities& capacity, const BranchOptions& options, const Stop& stop,
                 std::optional<Plan>* best)
      : core_(core), capacity_(capacity), options_(options), stop_(stop), best_(best), worst_(WorstLoss(core)) {}

  BranchResult Run() {
    Push({0, 0, options_.start, core_.sets, {}});
    Wide reached = 0;
    while (!open_.empty()) {
      if (Closed(open_.top().bound)) {
        open_.pop();
        continue;
      }
      reached = std::max(reached, open_.top().bound);
      if (result_.visited >= options_.nodes || WithinGap(reached)) break;
      Open node = open_.top();
      open_.pop();
      ++result_.visited;
      if (!Visit(std::move(node))) {
        result_.interrupted = true;
        result_.bound = CeilingOf(reached, Weight());
        return result_;
      }
    }
    result_.exhausted = open_.empty();
    result_.bound = result_.exhausted && *best_ ? (*best_)->outcome.loss : CeilingOf(reached, Weight());
    return result_;
  }

 private:
  int64_t Weight() const { return options_.start.loss_weight; }

  // The loss that a plan must stay under to be of use. Before any plan is known: more than any plan has, so that a
  // bound which reaches it proves that there is none.
  int64_t Limit() const { return *best_ ? (*best_)->outcome.loss : worst_ + 1; }

  static int64_t WorstLoss(const Core& core) {
    int64_t total = core.base_loss;
    for (int32_t i = 0; i < core.size(); ++i) total += *std::max_element(core.LossRow(i), core.LossRow(i) + kLevels);
    return total;
  }

  bool Closed(Wide bound) const { return CeilingOf(bound, Weight()) >= Limit(); }

  bool WithinGap(Wide bound) const {
    if (!*best_) return false;
    const double loss = static_cast<double>((*best_)->outcome.loss);
    return loss - static_cast<double>(CeilingOf(bound, Weight())) <= options_.target_gap * std::max(loss, 1.0);
  }

  void Push(Open node) {
    if (!PruneSets(core_.parent, node.sets)) return;
    ReachSets(core_.parent, node.sets);
    node.id = ++pushed_;
    open_.push(std::move(node));
  }

  void Consider(const Open& node, const Core& small, const std::vector<uint8_t>& level, const Outcome& outcome) {
    if (!Fits(outcome, capacity_) || (*best_ && outcome.loss >= (*best_)->outcome.loss)) return;
    *best_ = Plan{Expand(core_, node.sets, small, level), outcome};
  }

  // False where the stop came in.
  bool Visit(Open node) {
    const Core small = Compact(core_, node.sets);
    if (small.size() == 0) {
      Consider(node, small, {}, Total(small, {}));
      return true;
    }
    DualResult dual = Bound(node, small);
    if (dual.interrupted) return false;
    node.bound = std::max(node.bound, dual.bound);
    for (const Cut& cut : dual.cuts) {
      if (!cut.level.empty()) Consider(node, small, cut.level, cut.outcome);
    }
    if (Closed(node.bound)) return true;
    if (result_.visited <= kFirstTries || result_.visited % kTryEvery == 0) TryRecover(node, small, dual);
    if (!Closed(node.bound)) SplitNode(node, small, dual);
    return true;
  }

  void TryRecover(const Open& node, const Core& small, const DualResult& dual) {
    Plan plan;
    for (const Cut& cut : dual.cuts) {
      if (cut.level.empty() || (!plan.level.empty() && cut.share == 0)) continue;
      plan = {cut.level, cut.outcome};
    }
    if (plan.level.empty()) return;
    const RecoverOptions options = {.moves = 80, .rounds = 4, .patience = 1};
    if (Recover(small, capacity_, dual.prices, options, stop_, &plan)) Consider(node, small, plan.level, plan.outcome);
  }

  DualResult Bound(const Open& node, const Core& small) {
    DualOptions options;
    options.start = options.low = options.high = node.prices;
    options.max_passes = kPasses;
    options.keep_plans = true;
    options.known = node.known;
    options.enough = Wide{Limit() - 1} * Weight() + 1;
    DualResult dual;
    int64_t part = kBoxPart;
    for (int widened = 0; widened < 3; ++widened, part /= 4) {
      for (int k = 0; k < core_.resources; ++k) {
        if (!capacity_[k]) continue;
        const int64_t price = options.start.per_unit[k], highest = options_.high.per_unit[k];
        const int64_t half = std::max(price / std::max<int64_t>(part, 1), highest / 4096);
        options.low.per_unit[k] = std::max<int64_t>(0, price - half);
        options.high.per_unit[k] = std::max(price, std::min(highest, price + half));
      }
      dual = MaximiseDual(small, capacity_, options, stop_);
      if (dual.interrupted || Closed(dual.bound) || !OnBorder(dual, options)) break;
      options.start = dual.prices;
    }
    return dual;
  }

  bool OnBorder(const DualResult& dual, const DualOptions& options) const {
    for (int k = 0; k < core_.resources; ++k) {
      const int64_t price = dual.prices.per_unit[k];
      if (price == options.low.per_unit[k] && price > 0) return true;
      if (price == options.high.per_unit[k] && price < options_.high.per_unit[k]) return true;
    }
    return false;
  }

  void SplitNode(const Open& node, const Core& small, const DualResult& dual) {
    std::vector<uint8_t> left = small.sets;
    KeepWithin(small, dual.prices, Wide{Limit() - 1} * Weight() - dual.bound, &left);
    const Split split = ChooseSplit(small, left, dual);
    Open child = {node.bound, 0, dual.prices, node.sets, {}};
    for (int32_t j = 0; j < small.size(); ++j) child.sets[small.origin[j]] &= SpreadMask(AnyLevels(left[j])) | kLone;
    if (split.node < 0) return Push(std::move(child));
    const uint8_t lower = static_cast<uint8_t>((1 << split.below) - 1);
    for (const uint8_t mask : {lower, static_cast<uint8_t>(15 & ~lower)}) {
      Open half = child;
      half.sets[small.origin[split.node]] &= SpreadMask(mask) | kLone;
      for (const Cut& cut : dual.cuts) {
        if (cut.share > kMixed && !cut.level.empty() && ((mask >> cut.level[split.node]) & 1) != 0) {
          half.known.push_back(cut.outcome);
        }
      }
      Push(std::move(half));
    }
  }

  // The node and cut of levels on which the mixed plans disagree most, weighed by what the disagreement is worth.
  Split ChooseSplit(const Core& small, const std::vector<uint8_t>& sets, const DualResult& dual) const {
    Split best;
    double best_score = 0;
    for (int32_t j = 0; j < small.size(); ++j) {
      const int any = AnyLevels(sets[j]);
      if (IsSingle(static_cast<uint8_t>(any))) continue;
      if (best.node < 0) best = {j, OnlyLevel(static_cast<uint8_t>(any)) + 1};
      double share[kLevels] = {};
      for (const Cut& cut : dual.cuts) {
        if (!cut.level.empty() && cut.share > kMixed) share[cut.level[j]] += cut.share;
      }
      double lower = 0, upper = 0;
      for (const double part : share) upper += part;
      for (int below = 1; below < kLevels; ++below) {
        lower += share[below - 1];
        upper -= share[below - 1];
        if ((any & ((1 << below) - 1)) == 0 || (any >> below) == 0) continue;
        const double score = std::min(lower, upper) * LossSpread(small, j, any);
        if (score > best_score) {
          best_score = score;
          best = {j, below};
        }
      }
    }
    return best;
  }

  static double LossSpread(const Core& small, int32_t node, int mask) {
    const int lowest = std::countr_zero(static_cast<unsigned>(mask)), highest = std::bit_width(unsigned(mask)) - 1;
    const int64_t* loss = small.LossRow(node);
    const int64_t spread = loss[lowest] - loss[highest];
    return 1.0 + static_cast<double>(spread < 0 ? -spread : spread);
  }

  const Core& core_;
  const Capacities& capacity_;
  const BranchOptions& options_;
  const Stop& stop_;
  std::optional<Plan>* best_;
  const int64_t worst_;
  std::priority_queue<Open, std::vector<Open>, Later> open_;
  int64_t pushed_ = 0;
  BranchResult result_;
};

}  // namespace

BranchResult Branch(const Core& core, const Capacities& capacity, const BranchOptions& options, const Stop& stop,
                    std::optional<Plan>* best) {
  return BranchAndBound(core, capacity, options, stop, best).Run();
}

}  // namespace scantling::budget
