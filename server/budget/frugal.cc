// Is there a plan at all?
//
// The relaxed question is a dual of its own: weights on the resources, no loss. If at some weights even the plan of
// least weighted use exceeds the weighted capacities, no mixture of plans fits. The weights start at one over the
// capacity each, which answers at once unless two capacities are tight together.

#include <algorithm>

#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

constexpr int kPasses = 100;  // a resource or two takes a handful; ten take some dozens

Prices WeightsOf(const Capacities& capacity) {
  Prices weights;
  weights.loss_weight = 0;
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (capacity[k]) weights.per_unit[k] = std::max<int64_t>(1, kMaxWeight / std::max<int64_t>(*capacity[k], 1));
  }
  return weights;
}

}  // namespace

Frugal FindFrugal(const Core& core, const Capacities& capacity, const Stop& stop) {
  Frugal frugal;
  const Prices weights = WeightsOf(capacity);
  PassBuffers buffers;
  Outcome outcome;
  if (!PricePass(core, weights, stop, &buffers, &outcome)) {
    frugal.interrupted = true;
    return frugal;
  }
  frugal.closest = outcome;
  if (Fits(outcome, capacity)) {
    frugal.plan = Plan{std::move(buffers.level), outcome};
    return frugal;
  }
  DualOptions options;
  options.start = options.high = weights;
  options.low.loss_weight = 0;
  options.max_passes = kPasses;
  options.enough = 1;  // above zero: no mixture fits
  options.keep_plans = true;
  DualResult dual = MaximiseDual(core, capacity, options, stop);
  frugal.interrupted = dual.interrupted;
  frugal.impossible = dual.evaluated && dual.bound > 0;
  for (Cut& cut : dual.cuts) {
    if (frugal.plan || !Fits(cut.outcome, capacity)) continue;
    frugal.plan = Plan{std::move(cut.level), cut.outcome};
  }
  return frugal;
}

}  // namespace scantling::budget
