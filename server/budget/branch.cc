// Best-first branch and bound.
//
// An open node is the option sets it leaves (one byte per node of the Core) and the prices its parent ended at.
// Visiting one compacts the Core to what is undecided there, raises the dual from the parent's prices inside a small
// box of prices, and drops every option whose excess rules it out against the best plan. The plans that the relaxed
// optimum mixes differ in a few nodes; the one they disagree on most is split by level into two children. Where the
// mixture takes a level at a fractional number of like nodes, that number is split instead, if it has been seen to
// raise bounds faster: each split is remembered by the rise it brought per unit it moved (pseudo-costs), and one that
// was never tried is tried first on both sides.
//
// Everything that closes a node is an exact integer bound, so an exhausted tree is a proof.

#include "server/budget/branch.h"

#include <algorithm>
#include <cmath>
#include <queue>
#include <utility>
#include <vector>

#include "server/budget/compact.h"
#include "server/budget/counts.h"

namespace scantling::budget {
namespace {

constexpr int kPasses = 14;          // per visit: more raise the bound too little
constexpr int64_t kBoxPart = 12;     // half-width of the box of prices: this part of the price
constexpr int64_t kFirstTries = 16;  // visits that try to recover a plan; later every kTryEvery-th
constexpr int64_t kTryEvery = 64;
constexpr int kDeepTries = 12;  // of them with many moves, where less than this part of the loss is left to prove
constexpr int64_t kDeepPart = 200'000;
constexpr int kTrialPasses = 8;   // per side of a trial
constexpr int kTrialsAtOnce = 9;  // candidates tried in one visit
constexpr int64_t kMostTrials = 150;
constexpr double kCountsMustGain = 100;  // times a node's split (product of both sides): each limit is one more price
constexpr double kLeastFraction = 0.02;  // a count nearer to a whole number is taken for one
constexpr double kMixed = 1e-7;          // least share of a plan in the mixture, above the rounding of the programme

struct Open {
  Wide bound = 0;
  int64_t id = 0;
  Prices prices;
  std::vector<uint8_t> sets;
  std::vector<Outcome> known;  // totals of plans that are still possible here
  std::vector<CountLimit> limits;
  int32_t came_by = -1;  // key of the split that made it, see Record
  int side = 0;
  double moved = 0;  // units the split moved on this side
  Wide from = 0;     // the parent's bound
};

struct Later {
  bool operator()(const Open& a, const Open& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

struct Split {
  int32_t node = -1;  // -1: a count
  int below = 0;      // levels under this against levels from it on
  CountLimit limit;   // at most so many, against one more at least
  int32_t key = 0;    // 0: any node; else kind * kLevels + level + 1
  double moved[2] = {0, 0};
};

// What splits by one key brought so far, per side.
struct Record {
  double rise[2] = {0, 0}, moved[2] = {0, 0};
  bool tried = false;

  double Expected(const Split& split) const {
    double product = 1;
    for (int side = 0; side < 2; ++side) {
      const double rate = moved[side] > 0 ? rise[side] / moved[side] : 0;
      product *= std::max(rate * split.moved[side], 1e-9);
    }
    return product;
  }
};

class BranchAndBound {
 public:
  BranchAndBound(const Core& core, const Capacities& capacity, const BranchOptions& options, const Stop& stop,
                 std::optional<Plan>* best)
      : core_(core),
        capacity_(capacity),
        options_(options),
        stop_(stop),
        best_(best),
        worst_(WorstLoss(core)),
        kinds_(core),
        records_(static_cast<size_t>(kinds_.size()) * kLevels + 1) {}

  BranchResult Run() {
    Open root;
    root.prices = options_.start;
    root.sets = core_.sets;
    Push(std::move(root));
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
    std::fill(best_->value().outcome.used.begin() + core_.resources, best_->value().outcome.used.end(), 0);
  }

  // The Core of what is undecided at a node, its count limits as further resources.
  Core Reduce(const Open& node) const {
    if (node.limits.empty()) return Compact(core_, node.sets);
    return Compact(kinds_.WithLimits(core_, node.limits, Unit()), node.sets);
  }

  // What a node counts to a limit: so much that the highest price on it stays under 2^58.
  int64_t Unit() const {
    const double highest = static_cast<double>(kinds_.most_loss(0)) * static_cast<double>(Weight());
    int64_t unit = 1;
    while (highest / static_cast<double>(unit) > 0x1p58) unit *= 2;
    return unit;
  }

  Capacities CapacitiesOf(const Open& node) const {
    Capacities all = capacity_;
    for (const CountLimit& limit : node.limits) all.push_back(limit.most * Unit());
    return all;
  }

  // False where the stop came in.
  bool Visit(Open node) {
    const Core small = Reduce(node);
    if (small.size() == 0) {
      Consider(node, small, {}, Total(small, {}));
      return true;
    }
    DualResult dual = Bound(node, small, kPasses);
    if (dual.interrupted) return false;
    Learn(node, dual.bound);
    node.bound = std::max(node.bound, dual.bound);
    for (const Cut& cut : dual.cuts) {
      if (!cut.level.empty()) Consider(node, small, cut.level, cut.outcome);
    }
    if (Closed(node.bound)) return true;
    const bool try_now = result_.visited <= kFirstTries || result_.visited % kTryEvery == 0;
    if (try_now && !WithinGap(node.bound)) TryRecover(node, small, dual);
    if (!Closed(node.bound)) SplitNode(node, small, dual);
    return true;
  }

  void Learn(const Open& node, Wide bound) {
    if (node.came_by < 0) return;
    Record& record = records_[node.came_by];
    const Wide most = Wide{Limit()} * Weight();  // a closed side has risen enough
    record.rise[node.side] += static_cast<double>(std::max<Wide>(0, std::min(bound, most) - node.from));
    record.moved[node.side] += node.moved;
  }

  void TryRecover(const Open& node, const Core& small, const DualResult& dual) {
    Plan plan;
    for (const Cut& cut : dual.cuts) {
      if (cut.level.empty() || (!plan.level.empty() && cut.share == 0)) continue;
      plan = {cut.level, cut.outcome};
    }
    if (plan.level.empty()) return;
    RecoverOptions options = {.moves = 80, .rounds = 4, .patience = 1};
    // Where only a few units are left a wide search for them costs less than the visits that would prove them.
    if (deep_tries_ < kDeepTries && Limit() - CeilingOf(node.bound, Weight()) < Limit() / kDeepPart) {
      options = {.moves = 400, .rounds = 6, .patience = 4};
      ++deep_tries_;
    }
    if (Recover(small, capacity_, dual.prices, options, stop_, &plan)) Consider(node, small, plan.level, plan.outcome);
  }

  DualResult Bound(const Open& node, const Core& small, int passes) {
    const Capacities capacity = CapacitiesOf(node);
    DualOptions options;
    options.start = options.low = options.high = node.prices;
    options.max_passes = passes;
    options.keep_plans = true;
    options.known = node.known;
    options.enough = Wide{Limit() - 1} * Weight() + 1;
    DualResult dual;
    int64_t part = kBoxPart;
    for (int widened = 0; widened < 3; ++widened, part /= 4) {
      for (int k = 0; k < small.resources; ++k) {
        if (!capacity[k]) continue;
        const int64_t price = options.start.per_unit[k], highest = HighestOf(node, k);
        const int64_t half = std::max(price / std::max<int64_t>(part, 1), highest / (k < core_.resources ? 4096 : 64));
        options.low.per_unit[k] = std::max<int64_t>(0, price - half);
        options.high.per_unit[k] = std::max(price, std::min(highest, price + half));
      }
      dual = MaximiseDual(small, capacity, options, stop_);
      if (dual.interrupted || Closed(dual.bound) || !OnBorder(node, dual, options)) break;
      options.start = dual.prices;
    }
    return dual;
  }

  int64_t HighestOf(const Open& node, int k) const {
    if (k < core_.resources) return options_.high.per_unit[k];
    const int32_t kind = node.limits[k - core_.resources].kind;
    return static_cast<int64_t>(Wide{kinds_.most_loss(kind)} * Weight() / Unit());
  }

  bool OnBorder(const Open& node, const DualResult& dual, const DualOptions& options) const {
    const int resources = core_.resources + static_cast<int>(node.limits.size());
    for (int k = 0; k < resources; ++k) {
      const int64_t price = dual.prices.per_unit[k];
      if (price == options.low.per_unit[k] && price > 0) return true;
      if (price == options.high.per_unit[k] && price < HighestOf(node, k)) return true;
    }
    return false;
  }

  void SplitNode(const Open& node, const Core& small, const DualResult& dual) {
    std::vector<uint8_t> left = small.sets;
    KeepWithin(small, dual.prices, Wide{Limit() - 1} * Weight() - dual.bound, &left);
    Open child = {node.bound, 0, dual.prices, node.sets, {}, node.limits, -1, 0, 0, node.bound};
    for (int32_t j = 0; j < small.size(); ++j) child.sets[small.origin[j]] &= SpreadMask(AnyLevels(left[j])) | kLone;
    const Split by_node = ChooseSplit(small, left, dual);
    if (by_node.node < 0) return Push(std::move(child));
    const std::vector<Mixed> mixed = MixedPlans(node, small, dual);
    const Split split = Best(child, small, by_node, CountSplits(mixed), mixed);
    for (const int side : {0, 1}) Push(Child(child, small, split, side, mixed));
  }

  // A plan of the relaxed mixture, of the whole Core.
  struct Mixed {
    double share;
    Outcome outcome;
    std::vector<uint8_t> level;
  };

  std::vector<Mixed> MixedPlans(const Open& node, const Core& small, const DualResult& dual) const {
    std::vector<Mixed> mixed;
    for (const Cut& cut : dual.cuts) {
      if (cut.share <= kMixed || cut.level.empty()) continue;
      mixed.push_back({cut.share, cut.outcome, Expand(core_, node.sets, small, cut.level)});
    }
    return mixed;
  }

  Open Child(const Open& from, const Core& small, const Split& split, int side, const std::vector<Mixed>& mixed) const {
    Open half = from;
    half.came_by = split.key;
    half.side = side;
    half.moved = split.moved[side];
    if (split.node >= 0) {
      const int lower = (1 << split.below) - 1, mask = side == 0 ? lower : 15 & ~lower;
      const int32_t at = small.origin[split.node];
      half.sets[at] &= SpreadMask(static_cast<uint8_t>(mask)) | kLone;
      for (const Mixed& plan : mixed) {
        if (((mask >> plan.level[at]) & 1) != 0) half.known.push_back(plan.outcome);
      }
      return half;
    }
    CountLimit limit = split.limit;
    limit.below = side == 1;
    if (side == 1) limit.most = kinds_.nodes(limit.kind) - split.limit.most - 1;
    const auto same =
        std::find_if(half.limits.begin(), half.limits.end(), [&](const CountLimit& old) { return old.SameAs(limit); });
    const size_t k = core_.resources + (same - half.limits.begin());
    if (same != half.limits.end()) {
      same->most = std::min(same->most, limit.most);
    } else {
      half.limits.push_back(limit);
      half.prices.per_unit[k] = 0;
    }
    for (const Mixed& plan : mixed) {
      const int64_t use = kinds_.Use(limit, plan.level);
      if (use > limit.most) continue;
      half.known.push_back(plan.outcome);
      half.known.back().used[k] = use * Unit();
    }
    return half;
  }

  // Splits of numbers that the mixture leaves fractional.
  std::vector<Split> CountSplits(const std::vector<Mixed>& mixed) const {
    std::vector<Split> splits;
    std::vector<double> counts;
    double shares = 0;
    for (const Mixed& plan : mixed) shares += plan.share;
    if (shares <= 0) return splits;
    for (const Mixed& plan : mixed) kinds_.Count(plan.level, plan.share / shares, &counts);
    for (size_t at = 0; at < counts.size(); ++at) {
      const double whole = std::floor(counts[at]), fraction = counts[at] - whole;
      if (at % kLevels == 0 || fraction < kLeastFraction || fraction > 1 - kLeastFraction) continue;
      Split split;
      split.limit = {static_cast<int32_t>(at / kLevels), static_cast<int>(at % kLevels), false,
                     static_cast<int64_t>(whole)};
      split.key = static_cast<int32_t>(at) + 1;
      split.moved[0] = fraction;
      split.moved[1] = 1 - fraction;
      splits.push_back(split);
    }
    return splits;
  }

  // The split that promises most; those not yet tried are tried, the ones of most fraction first.
  Split Best(const Open& from, const Core& small, const Split& by_node, std::vector<Split> counts,
             const std::vector<Mixed>& mixed) {
    if (core_.resources + static_cast<int>(from.limits.size()) >= kMaxResources) return by_node;
    std::stable_sort(counts.begin(), counts.end(), [](const Split& a, const Split& b) {
      return std::min(a.moved[0], a.moved[1]) > std::min(b.moved[0], b.moved[1]);
    });
    counts.insert(counts.begin(), by_node);
    int tried = 0;
    for (const Split& split : counts) {
      if (records_[split.key].tried || tried == kTrialsAtOnce || trials_ >= kMostTrials) continue;
      if (counts.size() == 1) break;  // nothing to choose between
      Try(from, small, split, mixed);
      ++tried;
    }
    Split best = by_node;
    double most = kCountsMustGain * records_[by_node.key].Expected(by_node);
    for (const Split& split : counts) {
      const double expected = split.node >= 0 ? 0 : records_[split.key].Expected(split);
      if (expected <= most) continue;
      most = expected;
      best = split;
    }
    return best;
  }

  void Try(const Open& from, const Core& small, const Split& split, const std::vector<Mixed>& mixed) {
    records_[split.key].tried = true;
    ++trials_;
    for (const int side : {0, 1}) {
      Open child = Child(from, small, split, side, mixed);
      Wide bound = Wide{Limit()} * Weight();
      if (PruneSets(core_.parent, child.sets)) {
        ReachSets(core_.parent, child.sets);
        const Core reduced = Reduce(child);
        ++result_.visited;
        if (reduced.size() > 0) bound = Bound(child, reduced, kTrialPasses).bound;
      }
      Learn(child, bound);
    }
  }

  // The node and cut of levels on which the mixed plans disagree most, weighed by what the disagreement is worth.
  Split ChooseSplit(const Core& small, const std::vector<uint8_t>& sets, const DualResult& dual) const {
    Split best;
    double best_score = 0;
    for (int32_t j = 0; j < small.size(); ++j) {
      const int any = AnyLevels(sets[j]);
      if (IsSingle(static_cast<uint8_t>(any))) continue;
      if (best.node < 0) best = {j, OnlyLevel(static_cast<uint8_t>(any)) + 1, {}, 0, {1, 1}};
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
          best = {j, below, {}, 0, {0, 0}};
          best.moved[0] = upper * LossSpread(small, j, any);
          best.moved[1] = lower * LossSpread(small, j, any);
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
  const Kinds kinds_;
  std::vector<Record> records_;  // by key of a split
  int64_t trials_ = 0;
  int deep_tries_ = 0;
  int64_t pushed_ = 0;
  BranchResult result_;
};

}  // namespace

BranchResult Branch(const Core& core, const Capacities& capacity, const BranchOptions& options, const Stop& stop,
                    std::optional<Plan>* best) {
  return BranchAndBound(core, capacity, options, stop, best).Run();
}

}  // namespace scantling::budget
