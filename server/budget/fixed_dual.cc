// Cutting planes on the prices.
//
// As in dual.cc: a small linear programme over the cuts gives the point where they allow most, written in differences
// from the best prices so that it stays well conditioned; the next pass is made part of the way there. Cuts are plans
// that pay what w suggests: the levels of unpaid terms are taken away and the rest picks its cheapest rows, paid terms
// being free by then. Where w leaves some node without a level, the fewest of the terms least dear are paid besides.

#include "server/budget/fixed_dual.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "server/budget/small_lp.h"

namespace scantling::budget {
namespace {

constexpr double kStep = 0.6;    // part of the way from the best prices to the programme's, with two or more prices
constexpr double kDeepFrom = 3;  // times what multipliers may bring, see Search()
constexpr int kIdlePart = 50;    // a pass that brings less than this part of that is idle
constexpr int kMostIdle = 3;
constexpr size_t kMostCuts = 60;  // cuts kept; the slackest go first
constexpr size_t kCutsKept = 40;

class LinkedSearch {
 public:
  LinkedSearch(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice, const Capacities& capacity,
               const LinkedOptions& options, const Stop& stop)
      : core_(core),
        terms_(terms),
        choice_(choice),
        capacity_(capacity),
        options_(options),
        stop_(stop),
        pass_(core, terms, choice),
        restricted_(WithSets(core, core.sets)) {
    for (int k = 0; k < core.resources; ++k) {
      if (capacity[k] && options.high.per_unit[k] > 0) priced_.push_back(k);
    }
    result_.prices = options.start;
    result_.cuts = options.known;
    result_.guess = options.guess;
    result_.w = options.w;
    result_.if_paid.assign(terms.size(), -kNever);
    result_.if_unpaid.assign(terms.size(), -kNever);
  }

  LinkedDual Run() {
    if (Evaluate(options_.start)) Search();
    return std::move(result_);
  }

 private:
  void Search() {
    const double first = priced_.size() < 2 ? 1.0 : kStep;
    double step = first;
    int idle = 0;  // deep passes that brought next to nothing
    while (result_.passes < options_.max_passes && !Enough()) {
      Prices top = result_.prices;
      if (!HighestPoint(&top)) break;
      Prices next = Between(top, step);
      if (next.per_unit == result_.prices.per_unit) next = top;
      if (next.per_unit == result_.prices.per_unit) break;
      // While other prices promise more than other multipliers could bring here, prices come first.
      deep_ = gain_ <= kDeepFrom * static_cast<double>(Uncertain());
      const size_t cuts = cuts_made_;
      const Wide bound = result_.bound;
      if (!Evaluate(next)) return;
      const bool gained = result_.bound - bound > Uncertain() / kIdlePart;
      idle = deep_ && !gained ? idle + 1 : 0;
      if (idle >= kMostIdle) break;
      if (cuts_made_ != cuts) {
        step = first;
      } else if (next.per_unit == top.per_unit && !gained) {
        break;  // nothing was learnt at the programme's own point
      } else {
        step = 1.0;
      }
    }
    deep_ = true;
    if (!Same(deep_at_, result_.prices)) Evaluate(result_.prices);
  }

  static bool Same(const std::optional<Prices>& a, const Prices& b) { return a && a->per_unit == b.per_unit; }

  // How much the multipliers may still raise the bound at the best prices: what the least cut there is above it.
  Wide Uncertain() const {
    Wide least = kNever;
    for (const LinkedCut& cut : result_.cuts) least = std::min(least, SlackOf(cut));
    return least >= kNever ? 0 : least;
  }

  bool Enough() const { return options_.enough && result_.bound >= *options_.enough; }

  Wide CapacityPriced(const Prices& prices) const {
    Wide priced = 0;
    for (int k = 0; k < core_.resources; ++k) {
      if (capacity_[k]) priced += Wide{prices.per_unit[k]} * *capacity_[k];
    }
    return priced;
  }

  // One pass at `prices`; false where the stop came first.
  bool Evaluate(const Prices& prices) {
    ++result_.passes;
    std::vector<uint8_t> guess = result_.guess;
    if (!pass_.Start(prices, stop_, &guess)) return Interrupted();
    if (!result_.w.empty() && !pass_.Try(result_.w, stop_)) return Interrupted();
    if (!MakeCut(prices, guess)) return false;
    const Wide room = CapacityPriced(prices);
    if (deep_ && !Deepen(prices, room, &guess)) return false;
    if (!result_.evaluated || pass_.bound() - room >= result_.bound) {
      result_.bound = pass_.bound() - room;
      result_.prices = prices;
      result_.guess = guess;
      result_.w = pass_.multipliers();
      result_.evaluated = true;
      if (deep_) deep_at_ = prices;
    }
    return true;
  }

  // Raises the bound, finds those of each term's two sides, and one more plan from them.
  bool Deepen(const Prices& prices, Wide room, std::vector<uint8_t>* guess) {
    if (options_.steps > 0 && !result_.cuts.empty()) {
      if (!pass_.Raise(LeastPriced(prices), options_.steps, stop_)) return Interrupted();
    }
    LinkedBound here;
    if (!pass_.Finish(*guess, stop_, &here)) return Interrupted();
    std::vector<uint8_t> suggested = *guess;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (choice_[a] != Paid::kUndecided) continue;
      suggested[a] = here.if_paid[a] <= here.if_unpaid[a] ? 1 : 0;
      result_.if_paid[a] = std::max(result_.if_paid[a], Less(here.if_paid[a], room));
      result_.if_unpaid[a] = std::max(result_.if_unpaid[a], Less(here.if_unpaid[a], room));
    }
    const Wide before = LeastPriced(prices);
    if (suggested == *guess) return true;
    if (!MakeCut(prices, suggested)) return false;
    if (LeastPriced(prices) < before) *guess = std::move(suggested);
    return true;
  }

  // The least priced loss of the plans known.
  Wide LeastPriced(const Prices& prices) const {
    Wide least = kNever;
    for (const LinkedCut& cut : result_.cuts) least = std::min(least, PricedLoss(prices, cut.outcome, core_.resources));
    return least;
  }

  static Wide Less(Wide bound, Wide room) { return bound >= kNever ? kNever : bound - room; }

  bool Interrupted() {
    result_.interrupted = true;
    return false;
  }

  bool MakeCut(const Prices& prices, std::vector<uint8_t> guess) {
    if (!Restrict(guess) && !Repair(prices, &guess)) return true;
    Outcome rows;
    if (!PricePass(restricted_, prices, stop_, &buffers_, &rows)) return Interrupted();
    LinkedCut cut = {rows, {}, 0};
    for (size_t a = 0; a < terms_.size(); ++a) {
      cut.paid.push_back(choice_[a] == Paid::kYes || Pays(terms_[a], buffers_.level) ? 1 : 0);
      if (cut.paid[a] == 0) continue;
      cut.outcome.loss += terms_[a].loss;
      for (int k = 0; k < core_.resources; ++k) cut.outcome.used[k] += terms_[a].cost[k];
    }
    const bool known = std::any_of(result_.cuts.begin(), result_.cuts.end(), [&](const LinkedCut& old) {
      return old.outcome.loss == cut.outcome.loss && old.outcome.used == cut.outcome.used;
    });
    if (known) return true;
    if (Fits(cut.outcome, capacity_) && (!result_.plan || cut.outcome.loss < result_.plan->outcome.loss)) {
      result_.plan = Plan{buffers_.level, cut.outcome};
    }
    result_.cuts.push_back(std::move(cut));
    ++cuts_made_;
    if (result_.cuts.size() > kMostCuts) DropSlackCuts();
    return true;
  }

  // Sets restricted_ to the plans that pay no more than the guess and the choice. False where there are none.
  bool Restrict(const std::vector<uint8_t>& guess) {
    PaidChoice choice = choice_;
    for (size_t a = 0; a < choice.size(); ++a) {
      if (choice[a] == Paid::kUndecided) choice[a] = guess[a] != 0 ? Paid::kYes : Paid::kNo;
    }
    restricted_.sets = core_.sets;
    return RemoveUnpaid(core_, terms_, choice, &restricted_.sets);
  }

  // Adds terms to the guess, the least dear first, until a plan is left.
  bool Repair(const Prices& prices, std::vector<uint8_t>* guess) {
    std::vector<int32_t> unpaid;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (choice_[a] == Paid::kUndecided && (*guess)[a] == 0) unpaid.push_back(static_cast<int32_t>(a));
    }
    const auto price = [&](int32_t a) {
      return PricedRow(prices, terms_[a].loss, terms_[a].cost.data(), core_.resources);
    };
    std::stable_sort(unpaid.begin(), unpaid.end(), [&](int32_t a, int32_t b) { return price(a) < price(b); });
    const auto with = [&](size_t count) {
      std::vector<uint8_t> more = *guess;
      for (size_t j = 0; j < count; ++j) more[unpaid[j]] = 1;
      return more;
    };
    size_t fewest = 0, enough = unpaid.size();
    while (fewest < enough) {
      const size_t middle = fewest + (enough - fewest) / 2;
      if (Restrict(with(middle))) {
        enough = middle;
      } else {
        fewest = middle + 1;
      }
    }
    *guess = with(enough);
    return Restrict(*guess);
  }

  // How far a cut lies above the bound at the best prices; >= 0.
  Wide SlackOf(const LinkedCut& cut) const {
    return LagrangianOf(result_.prices, cut.outcome, capacity_) - result_.bound;
  }

  void DropSlackCuts() {
    std::stable_sort(result_.cuts.begin(), result_.cuts.end(),
                     [this](const LinkedCut& a, const LinkedCut& b) { return SlackOf(a) < SlackOf(b); });
    result_.cuts.resize(kCutsKept);
  }

  double Width(int k) const {
    const int64_t best = result_.prices.per_unit[k];
    return std::max(1.0,
                    static_cast<double>(std::max(options_.high.per_unit[k] - best, best - options_.low.per_unit[k])));
  }

  // Columns: gain, then for each priced resource its rise and its fall from the best prices, in widths. Rows: one per
  // cut, then the box. `scale` is the unit of gain.
  SmallLp Programme(double scale) const {
    SmallLp lp(1 + 2 * static_cast<int>(priced_.size()));
    lp.objective[0] = 1;
    std::vector<double> row(lp.objective.size(), 0.0);
    for (const LinkedCut& cut : result_.cuts) {
      row[0] = 1;
      for (size_t j = 0; j < priced_.size(); ++j) {
        const int k = priced_[j];
        const double slope = static_cast<double>(cut.outcome.used[k] - *capacity_[k]) * Width(k) / scale;
        row[1 + 2 * j] = -slope;
        row[2 + 2 * j] = slope;
      }
      lp.AddRow(row, static_cast<double>(SlackOf(cut)) / scale);
    }
    for (size_t j = 0; j < priced_.size(); ++j) {
      const int k = priced_[j];
      const int64_t best = result_.prices.per_unit[k];
      std::fill(row.begin(), row.end(), 0.0);
      row[1 + 2 * j] = 1;
      lp.AddRow(row, static_cast<double>(options_.high.per_unit[k] - best) / Width(k));
      std::fill(row.begin(), row.end(), 0.0);
      row[2 + 2 * j] = 1;
      lp.AddRow(row, static_cast<double>(best - options_.low.per_unit[k]) / Width(k));
    }
    return lp;
  }

  // The unit of gain: what the last programme still promised, at first the largest slope times the box.
  double Scale() const {
    if (gain_ > 0) return gain_;
    double scale = 1;
    for (const LinkedCut& cut : result_.cuts) {
      double reach = 0;
      for (const int k : priced_) {
        reach += std::fabs(static_cast<double>(cut.outcome.used[k] - *capacity_[k])) * Width(k);
      }
      scale = std::max(scale, reach);
    }
    return scale;
  }

  // Where the cuts allow the highest bound. False where that is no more than the tolerance above the best.
  bool HighestPoint(Prices* top) {
    if (result_.cuts.empty()) return false;
    const double scale = Scale();
    const SmallLpSolution solution = Maximise(Programme(scale));
    if (!solution.bounded) return false;
    gain_ = std::max(solution.value * scale, 1.0);
    for (size_t c = 0; c < result_.cuts.size(); ++c) result_.cuts[c].share = solution.shadow_price[c];
    if (solution.value * scale <= options_.tolerance * static_cast<double>(options_.low.loss_weight)) return false;
    for (size_t j = 0; j < priced_.size(); ++j) {
      const double move = (solution.x[1 + 2 * j] - solution.x[2 + 2 * j]) * Width(priced_[j]);
      Move(priced_[j], move, top);
    }
    return true;
  }

  void Move(int k, double move, Prices* prices) const {
    const int64_t to = prices->per_unit[k] + static_cast<int64_t>(std::llround(move));
    prices->per_unit[k] = std::clamp(to, options_.low.per_unit[k], options_.high.per_unit[k]);
  }

  Prices Between(const Prices& top, double step) const {
    if (step == 1.0) return top;
    Prices next = result_.prices;
    for (const int k : priced_) Move(k, step * static_cast<double>(top.per_unit[k] - next.per_unit[k]), &next);
    return next;
  }

  const Core& core_;
  const std::vector<Term>& terms_;
  const PaidChoice& choice_;
  const Capacities& capacity_;
  const LinkedOptions& options_;
  const Stop& stop_;
  LinkedPass pass_;
  Core restricted_;  // core_ without the levels of what the last guess leaves unpaid
  std::vector<int> priced_;
  PassBuffers buffers_;
  LinkedDual result_;
  double gain_ = 0;
  bool deep_ = false;              // whether passes raise the bound, or only look where it may be
  std::optional<Prices> deep_at_;  // the best prices, where a pass did
  size_t cuts_made_ = 0;
};

}  // namespace

LinkedDual MaximiseLinkedDual(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice,
                              const Capacities& capacity, const LinkedOptions& options, const Stop& stop) {
  return LinkedSearch(core, terms, choice, capacity, options, stop).Run();
}

}  // namespace scantling::budget
