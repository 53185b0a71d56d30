// Cutting planes, zoomed and stabilised.
//
// Each round solves a linear programme over the cuts: the highest point under all of them inside the box of prices. The
// next pass is made between the best prices so far and that point (in-out separation), for cuts at extreme prices teach
// little. The programme is written in differences from the best prices, each resource scaled by the width of the box
// and the value by what is still to be gained, so it stays well conditioned as the box shrinks to a few units: the
// small differences themselves are exact integers.
//
// Zoom: every few rounds the box is cut to the hull of the prices that can still beat the best bound, and the Core is
// replaced by the smaller one in which nodes of constant choice over that box are frozen. The passes are exact integers
// on any of these Cores, so the bound needs no tolerance. Sources: Kelley 1960, The cutting-plane method; Ben-Ameur &
// Neto 2007, Acceleration of cutting-plane and column generation algorithms.

#include "server/budget/dual.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <utility>

#include "server/budget/compact.h"
#include "server/budget/small_lp.h"

namespace scantling::budget {
namespace {

constexpr int kZoomAtLeast = 300;  // nodes below which freezing costs more than it saves
constexpr int kZoomEvery = 4;      // passes between two looks at the hull
constexpr double kZoomGain = 0.6;  // the box must shrink to this part of itself for a freeze to pay
constexpr size_t kMostCuts = 72;   // cuts kept; the slackest go first
constexpr size_t kCutsKept = 48;
constexpr double kStep = 0.6;  // part of the way from the best prices to the programme's, with two or more prices

class DualSearch {
 public:
  DualSearch(const Core& core, const Capacities& capacity, const DualOptions& options, const Stop& stop)
      : core_(&core), capacity_(capacity), options_(options), stop_(stop), low_(options.low), high_(options.high) {
    for (int k = 0; k < core.resources; ++k) {
      if (capacity[k] && high_.per_unit[k] > 0) priced_.push_back(k);
    }
    result_.prices = options.start;
    for (const Outcome& outcome : options.known) result_.cuts.push_back({outcome, {}, 0});
  }

  DualResult Run() {
    if (Evaluate(options_.start)) Search();
    return std::move(result_);
  }

 private:
  void Search() {
    double step = priced_.size() < 2 ? 1.0 : kStep;
    for (int pass = 1; pass < options_.max_passes && !Enough(); ++pass) {
      Prices top = result_.prices;
      if (!HighestPoint(&top)) return;
      Prices next = Between(top, step);
      if (Same(next, result_.prices)) next = top;
      if (Same(next, result_.prices)) return;
      const size_t before = cuts_made_;
      if (!Evaluate(next)) return;
      if (cuts_made_ == before) {
        // An old plan is best here too: at the programme's own point that proves the bound is the highest.
        if (step == 1.0 || Same(next, top)) return;
        step = 1.0;
        continue;
      }
      step = priced_.size() < 2 ? 1.0 : kStep;
      if (cuts_made_ % kZoomEvery == 0 && core_->size() >= kZoomAtLeast && !options_.keep_plans) Zoom();
    }
  }

  bool Enough() const { return options_.enough && result_.bound >= *options_.enough; }

  // One pass at `prices`; false where the stop came first.
  bool Evaluate(const Prices& prices) {
    Cut cut;
    if (!PricePass(*core_, prices, stop_, &buffers_, &cut.outcome)) {
      result_.interrupted = true;
      return false;
    }
    const Wide value = LagrangianOf(prices, cut.outcome, capacity_);
    if (!result_.evaluated || value > result_.bound) {
      result_.bound = value;
      result_.prices = prices;
      result_.evaluated = true;
    }
    const bool known = std::any_of(result_.cuts.begin(), result_.cuts.end(), [&](const Cut& old) {
      return old.outcome.loss == cut.outcome.loss && old.outcome.used == cut.outcome.used;
    });
    if (known) return true;
    if (options_.keep_plans) cut.level = buffers_.level;
    result_.cuts.push_back(std::move(cut));
    ++cuts_made_;
    if (result_.cuts.size() > kMostCuts) DropSlackCuts();
    return true;
  }

  // How far a cut lies above the bound at the best prices; >= 0.
  Wide SlackOf(const Cut& cut) const { return LagrangianOf(result_.prices, cut.outcome, capacity_) - result_.bound; }

  void DropSlackCuts() {
    std::stable_sort(result_.cuts.begin(), result_.cuts.end(),
                     [this](const Cut& a, const Cut& b) { return SlackOf(a) < SlackOf(b); });
    result_.cuts.resize(kCutsKept);
  }

  double Width(int k) const {
    const int64_t best = result_.prices.per_unit[k];
    return static_cast<double>(std::max(high_.per_unit[k] - best, best - low_.per_unit[k]));
  }

  // Columns: gain, then for each priced resource its rise and its fall from the best prices, in widths. Rows: one per
  // cut, then the box. `scale` is the unit of gain.
  SmallLp Programme(double scale) const {
    const int columns = 1 + 2 * static_cast<int>(priced_.size());
    SmallLp lp(columns);
    std::vector<double> row(columns, 0.0);
    for (const Cut& cut : result_.cuts) {
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
      const double width = std::max(1.0, Width(k));
      std::fill(row.begin(), row.end(), 0.0);
      row[1 + 2 * j] = 1;
      lp.AddRow(row, static_cast<double>(high_.per_unit[k] - result_.prices.per_unit[k]) / width);
      std::fill(row.begin(), row.end(), 0.0);
      row[2 + 2 * j] = 1;
      lp.AddRow(row, static_cast<double>(result_.prices.per_unit[k] - low_.per_unit[k]) / width);
    }
    return lp;
  }

  // The unit of gain: what the last programme still promised, at first the largest slope times the box.
  double Scale() const {
    if (gain_ > 0) return gain_;
    double scale = 1;
    for (const Cut& cut : result_.cuts) {
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
    const double scale = Scale();
    SmallLp lp = Programme(scale);
    lp.objective[0] = 1;
    const SmallLpSolution solution = Maximise(lp);
    if (!solution.bounded) return false;
    gain_ = std::max(solution.value * scale, 1.0);
    for (size_t c = 0; c < result_.cuts.size(); ++c) result_.cuts[c].share = solution.shadow_price[c];
    if (solution.value * scale <= options_.tolerance * static_cast<double>(low_.loss_weight)) return false;
    for (size_t j = 0; j < priced_.size(); ++j) {
      const int k = priced_[j];
      const double move = (solution.x[1 + 2 * j] - solution.x[2 + 2 * j]) * Width(k);
      top->per_unit[k] = Clip(k, result_.prices.per_unit[k] + static_cast<int64_t>(std::llround(move)));
    }
    return true;
  }

  int64_t Clip(int k, int64_t value) const { return std::clamp(value, low_.per_unit[k], high_.per_unit[k]); }

  Prices Between(const Prices& top, double step) const {
    if (step == 1.0) return top;
    Prices next = result_.prices;
    for (const int k : priced_) {
      const double move = step * static_cast<double>(top.per_unit[k] - next.per_unit[k]);
      next.per_unit[k] = Clip(k, next.per_unit[k] + static_cast<int64_t>(std::llround(move)));
    }
    return next;
  }

  bool Same(const Prices& a, const Prices& b) const { return a.per_unit == b.per_unit; }

  // The furthest the price of the j-th priced resource can rise (or fall) and still beat the best bound, in units.
  double Reach(const SmallLp& programme, size_t j, bool rise) const {
    SmallLp lp = programme;
    lp.objective[1 + 2 * j] = rise ? 1 : -1;
    lp.objective[2 + 2 * j] = rise ? -1 : 1;
    const SmallLpSolution solution = Maximise(lp);
    if (!solution.bounded) return Width(priced_[j]);
    // A thousandth more, and two units, for the rounding of the programme; the hull only steers, it proves nothing.
    return std::max(0.0, solution.value) * 1.001 * Width(priced_[j]) + 2;
  }

  void Zoom() {
    const SmallLp programme = Programme(Scale());
    Prices low = low_, high = high_;
    bool pays = false;
    for (size_t j = 0; j < priced_.size(); ++j) {
      const int k = priced_[j];
      const int64_t best = result_.prices.per_unit[k];
      const double most = 1e18;
      high.per_unit[k] = Clip(k, best + static_cast<int64_t>(std::min(most, Reach(programme, j, true))));
      low.per_unit[k] = Clip(k, best - static_cast<int64_t>(std::min(most, Reach(programme, j, false))));
      const double before = static_cast<double>(high_.per_unit[k] - low_.per_unit[k]);
      const double after = static_cast<double>(high.per_unit[k] - low.per_unit[k]);
      pays = pays || after < kZoomGain * before;
    }
    if (!pays) return;
    low_ = low;
    high_ = high;
    std::vector<uint8_t> sets;
    KeepCheapestSomewhere(*core_, low_, high_, &sets);
    small_ = std::make_unique<Core>(Compact(*core_, sets));
    core_ = small_.get();
    buffers_ = {};
  }

  const Core* core_;
  std::unique_ptr<Core> small_;
  const Capacities& capacity_;
  const DualOptions& options_;
  const Stop& stop_;
  Prices low_, high_;
  std::vector<int> priced_;
  PassBuffers buffers_;
  DualResult result_;
  double gain_ = 0;
  size_t cuts_made_ = 0;
};

}  // namespace

DualResult MaximiseDual(const Core& core, const Capacities& capacity, const DualOptions& options, const Stop& stop) {
  return DualSearch(core, capacity, options, stop).Run();
}

Wide LagrangianOf(const Prices& prices, const Outcome& outcome, const Capacities& capacity) {
  Wide value = Wide{prices.loss_weight} * outcome.loss;
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (capacity[k]) value += Wide{prices.per_unit[k]} * (outcome.used[k] - *capacity[k]);
  }
  return value;
}

bool Fits(const Outcome& outcome, const Capacities& capacity) {
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (capacity[k] && outcome.used[k] > *capacity[k]) return false;
  }
  return true;
}

int64_t CeilingOf(Wide value, int64_t weight) {
  const Wide quotient = value / weight;
  return static_cast<int64_t>(value > quotient * weight ? quotient + 1 : quotient);
}

}  // namespace scantling::budget
