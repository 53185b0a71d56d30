// Points by halves, answers in order.
//
// Between two points whose best prices are known the prices of the points in between are looked for in a box around
// both, on the Core frozen over that box: a part of the nodes that halves with every halving of the stretch. So each
// point costs a few passes over a few thousand nodes instead of some tens over all of them. Nothing rests on prices
// lying between those of their neighbours: bounds are exact inside a box, and a price found on its border is looked for
// again on the whole Core. The stretches are walked depth first, left before middle before right, so that answers come
// in order and only one Core per halving is alive.
//
// A point's plan comes from exchanges on the Core of its stretch. Where those leave more than the target gap Solve()
// tries as well, and the better plan and the higher bound stand; so small problems, where only branching closes the
// gap, are solved by it. Only where it missed the target too at the last point it was asked for, and did hardly better
// than the sweep, is about as large a gap taken without it.
//
// Points between which the options that alone exceed a capacity are the same share all this; others start anew.

#include "server/budget/frontier.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/budget/boxed.h"
#include "server/budget/compact.h"
#include "server/budget/oversize.h"
#include "server/budget/polish.h"
#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

constexpr int32_t kMostOpen = 8'000;  // nodes above which a stretch's Core is narrowed before exchanges
constexpr double kStillMany = 0.7;    // a Core frozen to more than this part is not worth a copy
constexpr size_t kCutsHandedOn = 8;   // the last cuts of a point: those nearest to its best prices
constexpr size_t kMostFrugal = 4;     // plans of little use kept
constexpr double kHullShare = 0.01;   // least room around the prices of two ends
constexpr int64_t kWorthAsking = 5;   // Solve() was of use where it closed one part in so many of what was open
constexpr size_t kFaultsListed = 20;  // faults spelt out; more are only counted

enum class Kind : uint8_t { kSlack, kImpossible, kAlone, kPriced };

// A point for which prices are looked for.
struct Target {
  int64_t point = 0;
  Prices highest;  // no better price above; where it could not be held in the common scale the greatest number
  Prices prices;   // the best found
  Wide bound = 0;  // at them
  std::vector<Outcome> cuts;
  bool outside = false;  // not in the box of its stretch
  bool alone = false;    // not to be priced in the common scale
};

// A Core frozen over a box, and what it was frozen from.
struct Layer {
  const Layer* above = nullptr;
  const Core* core = nullptr;
  PriceBox box;
  std::vector<uint8_t> sets;  // of above->core
  Core own;
};

class Sweep {
 public:
  Sweep(Problem problem, std::span<const CapacityPoint> points, const Effort& effort, const Stop& stop)
      : problem_(std::move(problem)),
        points_(points),
        effort_(effort),
        stop_(stop),
        core_(CoreOf(problem_)),
        masks_(core_.sets) {}

  absl::Status Run(const FrontierSink& sink) {
    sink_ = &sink;
    std::vector<uint8_t> sets = masks_;
    const bool one_by_one = !problem_.fixed.empty() || !PruneSets(core_.parent, sets);
    while (Going() && next_ < Points()) {
      if (one_by_one) {
        Deliver(SolveAlone(next_));
      } else {
        RunFrom(next_);
      }
    }
    if (ended_ || next_ >= Points()) return failure_;
    if (!failure_.ok()) return failure_;
    return stop_.Cancelled() ? absl::CancelledError("cancelled before the last point")
                             : absl::DeadlineExceededError("the deadline passed before the last point");
  }

 private:
  int64_t Points() const { return static_cast<int64_t>(points_.size()); }
  bool Going() const { return !ended_ && failure_.ok() && !stop_.Requested(); }
  const Capacities& CapacityOf(int64_t point) const { return points_[point]; }

  // Hands the next point's answer on.
  void Deliver(const absl::StatusOr<Solution>& solution) {
    if (!solution.ok() && !absl::IsFailedPrecondition(solution.status())) {
      failure_ = solution.status();
      return;
    }
    if (!(*sink_)(next_++, solution)) ended_ = true;
  }

  absl::StatusOr<Solution> SolveAlone(int64_t point) {
    problem_.capacity = points_[point];
    return Solve(problem_, effort_, stop_);
  }

  // The points from `first` on that share a Core.
  void RunFrom(int64_t first) {
    core_.sets = masks_;
    Oversize oversize;
    oversize.Remove(CapacityOf(first), &core_);
    int64_t last = first + 1;
    while (last < Points() && oversize.StillRight(CapacityOf(last))) ++last;
    first_ = first;
    kinds_.assign(last - first, Kind::kImpossible);
    targets_.clear();
    frugal_.clear();
    if (PruneSets(core_.parent, core_.sets)) {
      ReachSets(core_.parent, core_.sets);
      if (!LexicographicPass(core_, problem_, stop_, &least_plan_.level)) return;
      least_plan_.outcome = Total(core_, least_plan_.level);
      for (int64_t point = first; point < last && Going(); ++point) Classify(point);
      if (!Going()) return;
      PriceAndDeliver();
    }
    DeliverUpTo(last);
  }

  void Classify(int64_t point) {
    const Capacities& capacity = CapacityOf(point);
    Kind& kind = kinds_[point - first_];
    if (Fits(least_plan_.outcome, capacity)) {
      kind = Kind::kSlack;
      return;
    }
    const Outcome* frugal = FrugalFor(capacity, &kind);
    if (frugal == nullptr) return;
    Target target;
    target.point = point;
    const Prices highest = HighestPrices(core_, capacity, least_plan_.outcome, frugal);
    if (targets_.empty()) weight_ = highest.loss_weight;
    target.highest.loss_weight = weight_;
    for (int k = 0; k < problem_.resources; ++k) {
      const double price = static_cast<double>(highest.per_unit[k]) / static_cast<double>(highest.loss_weight) *
                           static_cast<double>(weight_);
      const bool held = price < static_cast<double>(kMaxWeight);
      target.highest.per_unit[k] = held ? static_cast<int64_t>(price) + 1 : std::numeric_limits<int64_t>::max();
      if (!capacity[k]) target.highest.per_unit[k] = 0;
    }
    kind = Kind::kPriced;
    targets_.push_back(std::move(target));
  }

  // Totals of some plan that fits; nullptr with *kind set where none is at hand.
  const Outcome* FrugalFor(const Capacities& capacity, Kind* kind) {
    for (const Outcome& frugal : frugal_) {
      if (Fits(frugal, capacity)) return &frugal;
    }
    const Frugal found = FindFrugal(core_, capacity, stop_);
    *kind = found.impossible ? Kind::kImpossible : Kind::kAlone;
    if (!found.plan) return nullptr;
    if (frugal_.size() >= kMostFrugal) frugal_.erase(frugal_.begin());
    frugal_.push_back(found.plan->outcome);
    return &frugal_.back();
  }

  void PriceAndDeliver() {
    if (targets_.empty()) return;
    Layer whole;
    whole.core = &core_;
    const size_t last = targets_.size() - 1;
    PriceWhole(&targets_[0]);
    if (last > 0) PriceWhole(&targets_[last]);
    Answer(&targets_[0], whole, whole);
    Between(0, last, whole, whole);
    if (last > 0) Answer(&targets_[last], whole, whole);
  }

  // The targets between two priced ones, the ends not included. `layer`: the Core of the stretch around.
  void Between(size_t first, size_t last, const Layer& layer, const Layer& whole) {
    if (last - first < 2 || !Going()) return;
    const Target &left = targets_[first], &right = targets_[last];
    PriceBox box = BoxAround(left.prices, right.prices);
    Widen(CapacityOf(left.point), kHullShare, &box);
    Widen(CapacityOf(right.point), UsualShare(core_.size()), &box);
    Layer narrow;
    const Layer& own = Narrow(layer, box, &narrow) ? narrow : layer;
    if (!Going()) return;
    const size_t middle = first + (last - first) / 2;
    PriceIn(own, left, right, &targets_[middle]);
    Between(first, middle, own, whole);
    Answer(&targets_[middle], own, whole);
    Between(middle, last, own, whole);
  }

  // False where the box leaves so much open that the layer above does as well, or where it is not inside that layer's.
  bool Narrow(const Layer& above, const PriceBox& box, Layer* narrow) const {
    PriceBox inside = box;
    if (above.above != nullptr) {
      for (int k = 0; k < problem_.resources; ++k) {
        inside.low.per_unit[k] = std::max(box.low.per_unit[k], above.box.low.per_unit[k]);
        inside.high.per_unit[k] = std::min(box.high.per_unit[k], above.box.high.per_unit[k]);
        if (inside.low.per_unit[k] > inside.high.per_unit[k]) return false;
      }
    }
    if (!FreezeOver(*above.core, inside, {}, &narrow->sets, stop_)) return false;
    const auto open =
        std::count_if(narrow->sets.begin(), narrow->sets.end(), [](uint8_t set) { return !IsSingle(AnyLevels(set)); });
    if (static_cast<double>(open) > kStillMany * above.core->size()) return false;
    narrow->above = &above;
    narrow->box = inside;
    narrow->own = Compact(*above.core, narrow->sets);
    narrow->core = &narrow->own;
    return true;
  }

  double Tolerance() const { return ToleranceOf(effort_.target_gap, least_plan_.outcome.loss); }

  void Accept(const DualResult& dual, Target* target) {
    target->prices = dual.prices;
    target->bound = dual.bound;
    const size_t from = dual.cuts.size() - std::min(dual.cuts.size(), kCutsHandedOn);
    for (size_t c = from; c < dual.cuts.size(); ++c) target->cuts.push_back(dual.cuts[c].outcome);
  }

  void PriceIn(const Layer& layer, const Target& left, const Target& right, Target* target) {
    const Capacities& capacity = CapacityOf(target->point);
    if (layer.above == nullptr || !Covers(layer.box, capacity)) return PriceWhole(target);
    BoxedSearch search;
    search.box = layer.box;
    search.start.loss_weight = weight_;
    for (int k = 0; k < problem_.resources; ++k) {
      search.start.per_unit[k] = left.prices.per_unit[k] / 2 + right.prices.per_unit[k] / 2;
    }
    search.tolerance = Tolerance();
    search.known = left.cuts;
    search.known.insert(search.known.end(), right.cuts.begin(), right.cuts.end());
    const DualResult dual = PriceInBox(*layer.core, capacity, search, stop_);
    if (dual.interrupted) return;
    if (OnBorder(dual.prices, layer.box, target->highest, capacity)) return PriceWhole(target);
    Accept(dual, target);
  }

  void PriceWhole(Target* target) {
    if (!Going()) return;
    const Capacities& capacity = CapacityOf(target->point);
    target->outside = true;
    PricingOptions options;
    options.high = target->highest;
    for (int64_t& price : options.high.per_unit) price = std::min(price, kMaxWeight);
    options.tolerance = Tolerance();
    options.known = frugal_;
    options.known.push_back(least_plan_.outcome);
    const DualResult dual = FindPrices(core_, capacity, options, stop_);
    Accept(dual, target);
    target->alone = !dual.evaluated || OnBorder(dual.prices, {Prices(), options.high}, target->highest, capacity);
  }

  // Finds and delivers the plan of a priced target, after the answers before it.
  void Answer(Target* target, const Layer& layer, const Layer& whole) {
    DeliverUpTo(target->point);
    if (!Going()) return;
    Deliver(SolveTarget(*target, target->outside ? whole : layer));
    target->cuts.clear();
    target->cuts.shrink_to_fit();
  }

  // The next points up to `end`, not included; none of them is priced.
  void DeliverUpTo(int64_t end) {
    while (next_ < end && Going()) {
      const Kind kind = kinds_[next_ - first_];
      if (kind == Kind::kSlack) {
        Deliver(SolutionOf(least_plan_, least_plan_.outcome.loss, Prices()));
      } else if (kind == Kind::kImpossible) {
        Deliver(absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists"));
      } else {
        Deliver(SolveAlone(next_));
      }
    }
  }

  absl::StatusOr<Solution> SolveTarget(const Target& target, const Layer& layer) {
    if (target.alone) return SolveAlone(target.point);
    const int64_t bound = std::max(CeilingOf(target.bound, weight_), least_plan_.outcome.loss);
    const int64_t enough = EnoughFor(bound, effort_.target_gap);
    const int64_t excused = excuse_.EnoughWith(bound, effort_.target_gap);
    Plan plan;
    const bool found = FindPlan(target, layer, enough, &plan);
    if (!found || (plan.outcome.loss > excused && Going())) {
      const int64_t open = plan.outcome.loss - bound;
      absl::StatusOr<Solution> better = BetterOf(found, std::move(plan), bound, target);
      excuse_ = Excuse();
      const bool futile = found && better.ok() && better->loss - better->bound >= open - open / kWorthAsking;
      if (futile) excuse_.Note(*better, effort_.target_gap);
      return better;
    }
    Solution solution = SolutionOf(plan, bound, target.prices);
    solution.interrupted = plan.outcome.loss > enough && !Going();
    return solution;
  }

  // A plan of the whole Core for the target, its ties settled where the Core of the stretch leaves a choice: what is
  // frozen takes the lower level at equal price already.
  bool FindPlan(const Target& target, const Layer& layer, int64_t enough, Plan* plan) {
    const Capacities& capacity = CapacityOf(target.point);
    Layer narrow;
    const Layer* use = &layer;
    if (layer.core->size() > kMostOpen || layer.above == nullptr) {
      PriceBox box = {target.prices, target.prices};
      Widen(capacity, UsualShare(core_.size()), &box);
      if (Narrow(layer, box, &narrow)) use = &narrow;
    }
    if (!ExchangeNear(*use->core, capacity, target.prices, enough, stop_, plan)) return false;
    Polish(*use->core, problem_, capacity, plan);
    for (; use->above != nullptr; use = use->above) {
      plan->level = Expand(*use->above->core, use->sets, *use->core, plan->level);
    }
    return true;
  }

  // Solve()'s answer, or what the sweep has where that is better; the higher bound in any case.
  absl::StatusOr<Solution> BetterOf(bool found, Plan plan, int64_t bound, const Target& target) {
    absl::StatusOr<Solution> solved = SolveAlone(target.point);
    if (!found) {
      if (solved.ok()) solved->bound = std::min(solved->loss, std::max(solved->bound, bound));
      if (solved.ok()) solved->proved_optimal = solved->bound == solved->loss;
      return solved;
    }
    if (!solved.ok()) return SolutionOf(plan, bound, target.prices);
    Solution& best = *solved;
    const int64_t proved = std::max(best.bound, bound);
    if (plan.outcome.loss < best.loss) {
      Solution ours = SolutionOf(plan, proved, target.prices);
      ours.branched = best.branched;
      ours.interrupted = best.interrupted;
      return ours;
    }
    best.bound = std::min(best.loss, proved);
    best.proved_optimal = best.bound == best.loss;
    return solved;
  }

  Solution SolutionOf(const Plan& plan, int64_t bound, const Prices& prices) const {
    Solution solution;
    if (core_.origin.empty()) {
      solution.level = plan.level;
    } else {
      solution.level.resize(plan.level.size());
      for (size_t i = 0; i < plan.level.size(); ++i) solution.level[core_.origin[i]] = plan.level[i];
    }
    solution.loss = plan.outcome.loss;
    solution.used.assign(plan.outcome.used.begin(), plan.outcome.used.begin() + problem_.resources);
    solution.bound = std::min(bound, solution.loss);
    solution.proved_optimal = solution.bound == solution.loss;
    for (int k = 0; k < problem_.resources; ++k) {
      solution.price.push_back(static_cast<double>(prices.per_unit[k]) / static_cast<double>(prices.loss_weight));
    }
    return solution;
  }

  Problem problem_;  // its capacities are those of the point last solved alone
  std::span<const CapacityPoint> points_;
  const Effort& effort_;
  const Stop& stop_;
  Core core_;
  const std::vector<uint8_t> masks_;  // the Core's sets before anything was removed
  const FrontierSink* sink_ = nullptr;
  int64_t next_ = 0;  // the point whose answer is handed on next
  bool ended_ = false;
  absl::Status failure_;
  Excuse excuse_;  // from the last point Solve() was asked for

  // Of the points that share a Core.
  int64_t first_ = 0;
  Plan least_plan_;
  std::vector<Kind> kinds_;
  std::vector<Target> targets_;
  std::vector<Outcome> frugal_;  // totals of plans of little use
  int64_t weight_ = 1;           // loss_weight of all prices
};

absl::Status CheckPoints(std::span<const CapacityPoint> points, int resources) {
  std::vector<std::string> faults;
  for (size_t i = 0; i < points.size(); ++i) {
    if (points[i].size() != static_cast<size_t>(resources)) {
      faults.push_back(absl::StrCat("points[", i, "]: got ", points[i].size(), " capacities, want ", resources));
    }
    for (size_t k = 0; k < points[i].size(); ++k) {
      if (!points[i][k] || *points[i][k] >= 0) continue;
      faults.push_back(absl::StrCat("points[", i, "][", k, "]: got ", *points[i][k], ", want 0 or more"));
    }
  }
  if (faults.empty()) return absl::OkStatus();
  std::string text = faults[0];
  for (size_t f = 1; f < std::min(faults.size(), kFaultsListed); ++f) absl::StrAppend(&text, "; ", faults[f]);
  if (faults.size() > kFaultsListed) absl::StrAppend(&text, "; and ", faults.size() - kFaultsListed, " more");
  return absl::InvalidArgumentError(text);
}

}  // namespace

absl::Status TraceFrontier(const Problem& problem, std::span<const CapacityPoint> points, const Effort& effort,
                           const Stop& stop, const FrontierSink& sink) {
  Problem open = problem;
  open.capacity.assign(std::clamp(problem.resources, 0, kMaxResources), std::nullopt);
  if (absl::Status status = Validate(open); !status.ok()) return status;
  if (absl::Status status = CheckPoints(points, problem.resources); !status.ok()) return status;
  return Sweep(std::move(open), points, effort, stop).Run(sink);
}

}  // namespace scantling::budget
