// Boxes of prices, and exchanges on what a box leaves open.
//
// Exchanges start small: where the relaxed plan is near, combinations of a few dozen moves close the gap in a fifth of
// a millisecond; each further attempt goes on from the best plan with more moves, or starts from prices a little lower
// or higher, where a long chain of nodes is on one side or the other as a whole.

#include "server/budget/boxed.h"

#include <algorithm>
#include <utility>

#include "server/budget/compact.h"

namespace scantling::budget {
namespace {

constexpr double kOpenWanted = 1'500;  // see UsualShare
constexpr double kLeastShare = 0.002;  // a box narrower than this is left at the first change
constexpr double kSlackPart = 0.1;     // a price of 0 is widened by so much of what prices of the others would give
constexpr double kPriceShare = 0.02;   // part of the target gap that the prices may miss the best bound by
constexpr int64_t kMargin = 4;         // one part in so many more than Solve() left open is excused
constexpr int64_t kNearby = 4'096;     // prices a little off the best ones are off by one part in so many

struct Attempt {
  int moves, rounds, patience;
  int64_t shift;
};
constexpr Attempt kAttempts[] = {{64, 12, 3, 0},  {64, 12, 3, -1}, {64, 12, 3, 1},
                                 {200, 20, 4, 0}, {200, 20, 4, 1}, {400, 8, 3, 0}};

int64_t Clip(double value) { return static_cast<int64_t>(std::clamp(value, 0.0, static_cast<double>(kMaxWeight))); }

}  // namespace

PriceBox BoxAround(const Prices& a, const Prices& b) {
  PriceBox box = {a, a};
  for (int k = 0; k < kMaxResources; ++k) {
    box.low.per_unit[k] = std::min(a.per_unit[k], b.per_unit[k]);
    box.high.per_unit[k] = std::max(a.per_unit[k], b.per_unit[k]);
  }
  return box;
}

void Widen(const Capacities& capacity, double share, PriceBox* box) {
  double worth = 0;  // what the capacities cost at the highest prices
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (capacity[k]) worth += static_cast<double>(box->high.per_unit[k]) * static_cast<double>(*capacity[k]);
  }
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k]) continue;
    const double low = static_cast<double>(box->low.per_unit[k]), high = static_cast<double>(box->high.per_unit[k]);
    const double usual = kSlackPart * worth / (static_cast<double>(*capacity[k]) + 1);
    const double room = share * std::max(high - low + high, usual) + 1;
    box->low.per_unit[k] = std::min(box->low.per_unit[k], Clip(low - room));
    box->high.per_unit[k] = std::max(box->high.per_unit[k], Clip(high + room));
  }
}

double UsualShare(int64_t nodes) {
  return std::clamp(kOpenWanted / static_cast<double>(std::max<int64_t>(nodes, 1)), kLeastShare, 1.0);
}

bool Covers(const PriceBox& box, const Capacities& capacity) {
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k] && box.low.per_unit[k] > 0) return false;
  }
  return true;
}

bool OnBorder(const Prices& prices, const PriceBox& box, const Prices& highest, const Capacities& capacity) {
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k]) continue;
    const int64_t price = prices.per_unit[k];
    if (price <= box.low.per_unit[k] && price > 0) return true;
    if (price >= box.high.per_unit[k] && price < highest.per_unit[k]) return true;
  }
  return false;
}

bool FreezeOver(const Core& core, const PriceBox& box, const Nearby& nearby, std::vector<uint8_t>* sets,
                const Stop& stop) {
  if (!KeepCheapestSomewhere(core, box.low, box.high, sets, stop)) return false;
  if (nearby.within < 0) return true;
  std::vector<uint8_t> near;
  if (!KeepReach(core, nearby.at, {nearby.within, nearby.within, 1}, &near, stop)) return false;
  for (size_t i = 0; i < near.size(); ++i) (*sets)[i] |= near[i];
  ReachSets(core.parent, *sets);
  return true;
}

DualResult PriceInBox(const Core& core, const Capacities& capacity, const BoxedSearch& search, const Stop& stop) {
  DualOptions options;
  options.start = search.start;
  options.low = search.box.low;
  options.high = search.box.high;
  for (int k = 0; k < kMaxResources; ++k) {
    if (k >= core.resources || !capacity[k]) options.low.per_unit[k] = options.high.per_unit[k] = 0;
    options.start.per_unit[k] =
        std::clamp(options.start.per_unit[k], options.low.per_unit[k], options.high.per_unit[k]);
  }
  options.tolerance = search.tolerance;
  options.known = search.known;
  return MaximiseDual(core, capacity, options, stop);
}

double ToleranceOf(double target_gap, int64_t loss) {
  return std::max(0.25, kPriceShare * target_gap * static_cast<double>(loss));
}

int64_t EnoughFor(int64_t bound, double target_gap) {
  const double gap = std::clamp(target_gap, 0.0, 1.0);
  return bound + static_cast<int64_t>(gap * static_cast<double>(std::max<int64_t>(bound, 1)));
}

void Excuse::Note(const Solution& solved, double target_gap) {
  open_ = solved.loss > EnoughFor(solved.bound, target_gap) ? solved.loss - solved.bound : 0;
}

int64_t Excuse::EnoughWith(int64_t bound, double target_gap) const {
  return std::max(EnoughFor(bound, target_gap), bound + open_ + open_ / kMargin);
}

bool ExchangeNear(const Core& core, const Capacities& capacity, const Prices& prices, int64_t enough, const Stop& stop,
                  Plan* plan) {
  bool found = false;
  for (const Attempt& attempt : kAttempts) {
    if (found && plan->outcome.loss <= enough) break;
    if (attempt.shift != 0 && !core.has_trees) continue;
    Plan next;
    if (found && attempt.shift == 0) {
      next = *plan;
    } else {
      Prices nearby = prices;
      for (int64_t& price : nearby.per_unit) price += attempt.shift * (price / kNearby);
      PassBuffers buffers;
      if (!PricePass(core, nearby, stop, &buffers, &next.outcome)) break;
      next.level = std::move(buffers.level);
    }
    const RecoverOptions options = {attempt.moves, attempt.rounds, attempt.patience, enough};
    if (!Recover(core, capacity, prices, options, stop, &next)) continue;
    if (found && next.outcome.loss >= plan->outcome.loss) continue;
    *plan = std::move(next);
    found = true;
  }
  return found;
}

}  // namespace scantling::budget
