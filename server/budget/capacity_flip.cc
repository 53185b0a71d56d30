// Bisection of one capacity, to the unit, each step a dual of its own.
//
// Trees of a forest are apart from one another once the prices are known. So a step has two parts: the best prices at
// its capacity, over the whole forest; and the node's level at those prices, over its own tree alone.
//
// Prices. A Core of its own holds the costs in parts of a unit, and a capacity as so many units and a part: no plan is
// there, so a capacity never lies exactly on what a plan uses, where a whole range of prices would be best. The parts
// differ among resources, so that a mixture of too few plans does not meet several either, but by chance. Costs are
// further shifted up until all resources' totals are alike, for prices share one integer scale. As the bracket of
// capacities closes, so does the box of prices between its ends: nodes with one choice over the box are frozen, and
// late steps see a handful of nodes. Prices on the border of the box are looked for again over the whole. Plans met in
// one step are cuts for the next, whatever its capacity.
//
// Levels. At the best prices some node lies between two levels (with one limited resource always, for a part of a unit
// is left). What is within the rounding of the prices counts as a tie, and ties go to the lower level, parents first.
//
// Fixed costs count as even shares of their users: sum over users of w = price * cost is met with equality, so the
// relaxation is valid, if not the closest.

#include <algorithm>
#include <bit>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "server/budget/budget.h"
#include "server/budget/compact.h"
#include "server/budget/core.h"
#include "server/budget/dual.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int kPartBits = 10;    // a unit is cut into 2^10 parts where totals leave room, see CapacityFlipOf
constexpr int64_t kParts = 633;  // the k-th resource's part is (k + 1) * 633 modulo 1024: golden section, all distinct
constexpr int32_t kFreezeAbove = 200;  // nodes below which freezing costs more than it saves
constexpr size_t kMostKnown = 24;      // cuts handed on from step to step
constexpr int kRefineBits = 12;        // each look again at the prices is so much closer
constexpr int kRefinements = 12;       // looks at most
constexpr int64_t kCloseEnough = 256;  // width of a box of prices that needs no closer look: 2^-38 of usual prices
constexpr int kTieBits = 36;           // prices are right to one part in 2^36 or to kTieUnits, whichever is more
constexpr int64_t kTieUnits = 16;
// The highest price looked at is the total loss over the total use, times 2 to one of these. Greater is rarely needed
// and leaves fewer bits below.
constexpr int kHeadroomBits[] = {12, 24, 40};

struct Box {
  Prices low, high;
};

// Where a problem's nodes stand in its Core.
std::vector<int32_t> PlacesIn(const Core& core) {
  std::vector<int32_t> place(static_cast<size_t>(core.size()));
  for (int32_t i = 0; i < core.size(); ++i) place[core.origin.empty() ? i : core.origin[i]] = i;
  return place;
}

// A Core with rows of its own, costs in parts of a unit and shifted, fixed costs shared out.
class Scaled {
 public:
  Scaled(const Problem& problem, int k) : problem_(problem), core_(CoreOf(problem)) {
    core_.own_loss.assign(core_.loss.begin(), core_.loss.end());
    core_.own_cost.assign(core_.cost.begin(), core_.cost.end());
    place_ = PlacesIn(core_);
    for (const FixedCost& fixed : problem.fixed) ShareOut(fixed);
    core_.UseOwnRows();
    SumUp();
    ShiftUp(static_cast<size_t>(k));
  }

  Core& core() { return core_; }
  int32_t place(int64_t node) const { return place_[static_cast<size_t>(node)]; }
  int64_t most(size_t k) const { return most_[k]; }
  double loss_range() const { return loss_range_; }
  double use_range() const { return use_range_; }

  // What stands for a capacity of so many units.
  int64_t Capacity(size_t k, int64_t units) const {
    return ((std::min(units, most_[k]) << bits_) + PartOf(k)) << shift_[k];
  }
  // The least number of units whose capacity is at least so much.
  int64_t UnitsFor(size_t k, Wide amount) const {
    const Wide unit = Wide{1} << (bits_ + shift_[k]);
    const Wide units = (amount - (Wide{PartOf(k)} << shift_[k]) + unit - 1) / unit;
    return static_cast<int64_t>(std::clamp<Wide>(units, 0, kMaxTotal));
  }

 private:
  int64_t PartOf(size_t k) const {
    const int64_t part = static_cast<int64_t>(k + 1) * kParts % (int64_t{1} << kPartBits);
    return std::max<int64_t>(1, part >> (kPartBits - bits_));
  }

  void ShareOut(const FixedCost& fixed) {
    const auto users = static_cast<int64_t>(fixed.users.size());
    for (int64_t u = 0; u < users; ++u) {
      const FixedCost::User& user = fixed.users[static_cast<size_t>(u)];
      for (int level = 0; level < kLevels; ++level) {
        if (((user.levels >> level) & 1) == 0) continue;
        int64_t* row = &core_.own_cost[(int64_t{place_[user.node]} * kLevels + level) * core_.resources];
        for (int k = 0; k < core_.resources; ++k) row[k] += fixed.cost[k] / users + (u < fixed.cost[k] % users ? 1 : 0);
      }
    }
  }

  void SumUp() {
    for (int32_t i = 0; i < core_.size(); ++i) {
      const auto [least, greatest] = std::minmax_element(core_.LossRow(i), core_.LossRow(i) + kLevels);
      loss_range_ += static_cast<double>(*greatest - *least);
      for (int k = 0; k < core_.resources; ++k) {
        int64_t most = 0;
        for (int level = 0; level < kLevels; ++level) most = std::max(most, core_.CostRow(i, level)[k]);
        most_[k] += most;
      }
    }
  }

  void ShiftUp(size_t asked) {
    int64_t largest = 1;
    for (size_t k = 0; k < problem_.capacity.size(); ++k) {
      if (problem_.capacity[k] || k == asked) largest = std::max(largest, most_[k]);
    }
    bits_ = std::clamp(62 - static_cast<int>(std::bit_width(static_cast<uint64_t>(largest))), 1, kPartBits);
    use_range_ = std::ldexp(static_cast<double>(largest), bits_);
    for (size_t k = 0; k < problem_.capacity.size(); ++k) {
      if ((problem_.capacity[k] || k == asked) && most_[k] > 0) {
        while ((most_[k] << shift_[k]) <= largest / 2) ++shift_[k];
      }
    }
    const auto resources = static_cast<size_t>(core_.resources);
    for (size_t j = 0; j < core_.own_cost.size(); ++j) core_.own_cost[j] <<= bits_ + shift_[j % resources];
  }

  const Problem& problem_;
  Core core_;
  std::vector<int32_t> place_;
  PerResource most_{};  // of any plan, in units
  std::array<int, kMaxResources> shift_{};
  int bits_ = 1;
  double loss_range_ = 1, use_range_ = 1;
};

// The tree a node stands in, and the way down to it.
class Tree {
 public:
  Tree(const Core& core, int32_t node) {
    int32_t root = node;
    while (core.parent[root] >= 0) root = core.parent[root];
    std::vector<int32_t> place(static_cast<size_t>(core.size()), -1);
    tree_.resources = core.resources;
    const int64_t row = int64_t{kLevels} * core.resources;
    for (int32_t i = root; i < core.size(); ++i) {
      if (i != root && (core.parent[i] < 0 || place[core.parent[i]] < 0)) continue;
      place[i] = tree_.size();
      tree_.parent.push_back(i == root ? -1 : place[core.parent[i]]);
      tree_.sets.push_back(core.sets[i]);
      tree_.own_loss.insert(tree_.own_loss.end(), core.LossRow(i), core.LossRow(i) + kLevels);
      tree_.own_cost.insert(tree_.own_cost.end(), core.CostRow(i, 0), core.CostRow(i, 0) + row);
    }
    tree_.UseOwnRows();
    NumberNodes(&tree_);
    for (int32_t i = place[node]; i >= 0; i = tree_.parent[i]) way_.insert(way_.begin(), i);
    SumDifferences();
  }

  // The node's level at the prices; nullopt where the stop came in.
  std::optional<uint8_t> LevelAt(const Prices& prices, const Stop& stop) const {
    Wide tie = 0;
    for (int k = 0; k < tree_.resources; ++k) {
      if (prices.per_unit[k] > 0) tie += Wide{kTieUnits + (prices.per_unit[k] >> kTieBits)} * differences_[k];
    }
    std::vector<uint8_t> sets;
    if (!KeepReach(tree_, prices, {tie, tie, 1}, &sets, stop)) return std::nullopt;
    int context = kFree, level = 0;
    for (const int32_t i : way_) {
      level = OnlyLevel(LevelsIn(sets[i], context));  // the lowest bit
      context = ContextOf(level);
    }
    return static_cast<uint8_t>(level);
  }

 private:
  // How much the plans of the tree can differ in use: what an error of one unit of price is worth.
  void SumDifferences() {
    for (int32_t i = 0; i < tree_.size(); ++i) {
      for (int k = 0; k < tree_.resources; ++k) {
        int64_t least = tree_.CostRow(i, 0)[k], most = least;
        for (int level = 1; level < kLevels; ++level) {
          least = std::min(least, tree_.CostRow(i, level)[k]);
          most = std::max(most, tree_.CostRow(i, level)[k]);
        }
        differences_[k] += most - least;
      }
    }
  }

  Core tree_;
  std::vector<int32_t> way_;  // root first
  PerResource differences_{};
};

class FlipSearch {
 public:
  FlipSearch(const Problem& problem, int k, const Scaled& scaled, const Core& core, const Stop& stop)
      : problem_(problem), k_(static_cast<size_t>(k)), scaled_(scaled), core_(core), stop_(stop) {
    for (size_t j = 0; j < problem.capacity.size(); ++j) {
      capacity_.push_back(problem.capacity[j] ? std::optional(scaled.Capacity(j, *problem.capacity[j])) : std::nullopt);
    }
  }

  // The least capacity of k at which the others can be met too, by mixtures of plans; nullopt where the stop came in.
  std::optional<int64_t> LeastCapacity() const {
    constexpr int64_t kUnit = int64_t{1} << 30;
    DualOptions options;
    options.start.loss_weight = options.low.loss_weight = options.high.loss_weight = 0;
    options.start.per_unit[k_] = options.low.per_unit[k_] = options.high.per_unit[k_] = kUnit;
    for (size_t j = 0; j < capacity_.size(); ++j) {
      if (capacity_[j] && j != k_) options.high.per_unit[j] = kMaxWeight / 2;
    }
    Capacities capacity = capacity_;
    capacity[k_] = 0;
    const DualResult dual = MaximiseDual(core_, capacity, options, stop_);
    if (dual.interrupted) return std::nullopt;
    return scaled_.UnitsFor(k_, (dual.bound + kUnit - 1) / kUnit);
  }

  // False where the stop came in.
  bool Run(const Tree& tree, int64_t least, CapacityFlip* flip) {
    for (const int headroom : kHeadroomBits) {
      *flip = CapacityFlip();
      high_ = HighestAt(headroom);
      known_.clear();
      hit_highest_ = false;
      if (!RunBelow(tree, least, flip)) return false;
      if (!hit_highest_) break;
    }
    return true;
  }

 private:
  struct End {
    int64_t capacity = 0;
    Prices prices;
    uint8_t level = 0;
  };

  bool OthersBind() const {
    for (size_t j = 0; j < capacity_.size(); ++j) {
      if (j != k_ && problem_.capacity[j] && *problem_.capacity[j] < scaled_.most(j)) return true;
    }
    return false;
  }

  Prices HighestAt(int headroom) const {
    const double highest =
        std::min(std::ldexp(scaled_.loss_range() / scaled_.use_range(), headroom), scaled_.loss_range());
    Prices high;
    while (high.loss_weight < kMaxWeight && highest * static_cast<double>(high.loss_weight) < 0x1p57) {
      high.loss_weight *= 2;
    }
    for (size_t j = 0; j < capacity_.size(); ++j) {
      if (capacity_[j] || j == k_) {
        high.per_unit[j] = static_cast<int64_t>(highest * static_cast<double>(high.loss_weight)) + 1;
      }
    }
    return high;
  }

  Box Whole() const {
    Box box = {high_, high_};
    box.low.per_unit = {};
    return box;
  }

  bool RunBelow(const Tree& tree, int64_t least, CapacityFlip* flip) {
    const int64_t most = scaled_.most(k_);
    End own = {std::min(problem_.capacity[k_].value_or(most), most), {}, 0};
    if (!Settle(tree, Whole(), &core_, &own)) return false;
    // Where others bind too, one unit above the least: on the very edge of what can be met prices have no limit.
    const int64_t far = std::min(own.capacity, least + (OthersBind() ? 1 : 0));
    if (!Bisect(tree, own, far, &flip->less, &flip->less_level)) return false;
    if (own.prices.per_unit[k_] == 0) return true;  // more of k changes nothing
    return Bisect(tree, own, most, &flip->more, &flip->more_level);
  }

  // Prices and level at end->capacity. `core`: frozen over the box.
  bool Settle(const Tree& tree, const Box& box, const Core* core, End* end) {
    Capacities capacity = capacity_;
    capacity[k_] = scaled_.Capacity(k_, end->capacity);
    if (!FindPricesIn(*core, capacity, box, &end->prices)) return false;
    if (OnBorder(end->prices, box)) {
      if (!FindPricesIn(core_, capacity, Whole(), &end->prices)) return false;
    }
    for (size_t j = 0; j < capacity.size(); ++j) {
      hit_highest_ = hit_highest_ || (high_.per_unit[j] > 0 && end->prices.per_unit[j] >= high_.per_unit[j]);
    }
    const std::optional<uint8_t> level = tree.LevelAt(end->prices, stop_);
    if (level) end->level = *level;
    return level.has_value();
  }

  // On a side of the box that is no side of the whole.
  bool OnBorder(const Prices& prices, const Box& box) const {
    for (size_t j = 0; j < kMaxResources; ++j) {
      if (prices.per_unit[j] <= box.low.per_unit[j] && box.low.per_unit[j] > 0) return true;
      if (prices.per_unit[j] >= box.high.per_unit[j] && box.high.per_unit[j] < high_.per_unit[j]) return true;
    }
    return false;
  }

  // The best prices in the box, and again in closer boxes around them: the programme over the cuts works in doubles, to
  // about 2^-50 of the box it looks at.
  bool FindPricesIn(const Core& core, const Capacities& capacity, const Box& box, Prices* prices) {
    DualOptions options;
    options.low = box.low;
    options.high = box.high;
    options.start = box.low;
    for (size_t j = 0; j < kMaxResources; ++j) {
      options.start.per_unit[j] += (box.high.per_unit[j] - box.low.per_unit[j]) / 2;
    }
    options.tolerance = 0;
    options.known = known_;
    int64_t width = WidthOf(box);
    for (int look = 0; look < kRefinements; ++look) {
      const DualResult dual = MaximiseDual(core, capacity, options, stop_);
      if (dual.interrupted) return false;
      *prices = dual.prices;
      Remember(dual, capacity);
      options.known = known_;
      const bool on_side = look > 0 && OnSide(dual.prices, options, box);
      if (!on_side && width <= kCloseEnough) break;
      width = std::max<int64_t>(on_side ? width << (kRefineBits / 2) : width >> kRefineBits, kCloseEnough / 2);
      Close(box, dual.prices, width, &options);
    }
    return true;
  }

  static int64_t WidthOf(const Box& box) {
    int64_t width = 0;
    for (size_t j = 0; j < kMaxResources; ++j) {
      width = std::max(width, box.high.per_unit[j] - box.low.per_unit[j]);
    }
    return width;
  }

  static void Close(const Box& box, const Prices& at, int64_t width, DualOptions* options) {
    options->start = at;
    for (size_t j = 0; j < kMaxResources; ++j) {
      options->low.per_unit[j] = std::max(box.low.per_unit[j], at.per_unit[j] - width / 2);
      options->high.per_unit[j] = std::min(box.high.per_unit[j], at.per_unit[j] + width / 2);
    }
  }

  // On a side of the closer box that is none of the box around it.
  static bool OnSide(const Prices& prices, const DualOptions& closer, const Box& box) {
    for (size_t j = 0; j < kMaxResources; ++j) {
      const int64_t price = prices.per_unit[j];
      if (price == closer.low.per_unit[j] && price > box.low.per_unit[j]) return true;
      if (price == closer.high.per_unit[j] && price < box.high.per_unit[j]) return true;
    }
    return false;
  }

  // The cuts nearest the best prices serve the next step, whose capacity is near.
  void Remember(const DualResult& dual, const Capacities& capacity) {
    std::vector<std::pair<Wide, Outcome>> cuts;
    for (const Cut& cut : dual.cuts) cuts.push_back({LagrangianOf(dual.prices, cut.outcome, capacity), cut.outcome});
    std::stable_sort(cuts.begin(), cuts.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    known_.clear();
    for (size_t c = 0; c < std::min(kMostKnown, cuts.size()); ++c) known_.push_back(cuts[c].second);
  }

  // Between two ends and a little more.
  Box Around(const Prices& a, const Prices& b) const {
    double relative = 0;
    for (size_t j = 0; j < kMaxResources; ++j) {
      const double most = static_cast<double>(std::max<int64_t>({a.per_unit[j], b.per_unit[j], 1}));
      relative = std::max(relative, static_cast<double>(std::abs(a.per_unit[j] - b.per_unit[j])) / most);
    }
    Box box = Whole();
    for (size_t j = 0; j < kMaxResources; ++j) {
      const auto [low, high] = std::minmax(a.per_unit[j], b.per_unit[j]);
      const auto cross = static_cast<int64_t>(relative * static_cast<double>(high) / 4);
      const int64_t room = (high - low) / 2 + cross + kCloseEnough / 2;
      box.low.per_unit[j] = std::max<int64_t>(0, low - room);
      box.high.per_unit[j] = std::min(high_.per_unit[j], high + room);
    }
    return box;
  }

  static bool Inside(const Box& inner, const Box& outer) {
    for (size_t j = 0; j < kMaxResources; ++j) {
      if (inner.low.per_unit[j] < outer.low.per_unit[j] || inner.high.per_unit[j] > outer.high.per_unit[j])
        return false;
    }
    return true;
  }

  // A Core frozen over a box; the whole one where that is no use.
  struct Frame {
    Box box;
    Core frozen;
    const Core* core = nullptr;
  };

  // False where the stop came in.
  bool Narrow(const Box& box, Frame* frame) const {
    const bool inside = Inside(box, frame->box);
    if (inside && (frame->core->size() <= kFreezeAbove || WidthOf(box) > WidthOf(frame->box) / 2)) return true;
    const Core& from = inside ? *frame->core : core_;
    std::vector<uint8_t> sets;
    if (!KeepCheapestSomewhere(from, box.low, box.high, &sets, stop_)) return false;
    Core frozen = Compact(from, sets);
    frame->frozen = std::move(frozen);
    frame->core = &frame->frozen;
    frame->box = box;
    return true;
  }

  // Between `own` and a capacity `far`: the nearest found capacity at which the level is another.
  bool Bisect(const Tree& tree, const End& own, int64_t far, std::optional<int64_t>* at, uint8_t* to) {
    if (own.capacity == far) return true;
    End same = own, other = {far, {}, 0};
    if (!Settle(tree, Whole(), &core_, &other)) return false;
    if (other.level == own.level) return true;
    Frame frame = {Whole(), {}, &core_};
    while (std::abs(same.capacity - other.capacity) > 1) {
      const Box box = Around(same.prices, other.prices);
      if (!Narrow(box, &frame)) return false;
      End middle = {same.capacity + (other.capacity - same.capacity) / 2, {}, 0};
      if (!Settle(tree, box, frame.core, &middle)) return false;
      (middle.level == own.level ? same : other) = middle;
    }
    *at = other.capacity;
    *to = other.level;
    return true;
  }

  const Problem& problem_;
  const size_t k_;
  const Scaled& scaled_;
  const Core& core_;
  const Stop& stop_;
  Capacities capacity_;  // scaled, as the problem has them
  Prices high_;          // the highest looked at
  bool hit_highest_ = false;
  std::vector<Outcome> known_;
};

absl::Status Stopped(const Stop& stop) {
  return stop.Cancelled() ? absl::CancelledError("cancelled before the flips were found")
                          : absl::DeadlineExceededError("the deadline passed before the flips were found");
}

}  // namespace

absl::StatusOr<CapacityFlip> CapacityFlipOf(const Problem& problem, int64_t node, int k, const Stop& stop) {
  if (absl::Status valid = Validate(problem); !valid.ok()) return valid;
  if (node < 0 || node >= problem.size() || k < 0 || k >= problem.resources) {
    return absl::InvalidArgumentError(absl::StrCat("got node ", node, " and resource ", k, ", want a node below ",
                                                   problem.size(), " and a resource below ", problem.resources));
  }
  Scaled scaled(problem, k);
  Core& core = scaled.core();
  if (!PruneSets(core.parent, core.sets)) {
    return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
  }
  ReachSets(core.parent, core.sets);
  FlipSearch search(problem, k, scaled, core, stop);
  const std::optional<int64_t> least = search.LeastCapacity();
  if (!least) return Stopped(stop);
  if (*least > problem.capacity[static_cast<size_t>(k)].value_or(kMaxTotal)) {
    return absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists");
  }
  CapacityFlip flip;
  if (!search.Run(Tree(core, scaled.place(node)), *least, &flip)) return Stopped(stop);
  return flip;
}

}  // namespace scantling::budget
