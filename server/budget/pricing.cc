// The scale of prices, and pricing by sample.
//
// Prices are integers per_unit[k] / loss_weight with the weight a power of two, as large as keeps the highest price of
// interest under 2^59: finer than any difference that can matter, and exact in 128-bit sums.
//
// A large Core is first priced on a sample of whole trees with capacities in proportion. Two more prices of the sample,
// with capacities a few standard errors lower and higher, give the box in which the real prices are looked for. Nothing
// rests on the box being right: prices found on its border start a search without it, and bounds are exact anywhere.

#include "server/budget/pricing.h"

#include <algorithm>
#include <cmath>

#include "server/budget/compact.h"

namespace scantling::budget {
namespace {

constexpr int32_t kSampleAbove = 12'000;  // nodes from which pricing by sample pays
constexpr int32_t kSampleNodes = 6'000;   // about so many in a sample, or of very large Cores
constexpr int32_t kSamplePart = 50;  // one node in so many: three pricings of it cost less than the wider box would
constexpr double kErrors = 4;        // the box spans so many standard errors of the sample's use, each way

uint64_t SampleStep(const Core& core) {
  return static_cast<uint64_t>(core.size() / std::max(kSampleNodes, core.size() / kSamplePart));
}

// Capacities in proportion to the number of nodes, times `factor`.
Capacities Proportional(const Core& core, const Capacities& capacity, const Core& sample, double factor) {
  Capacities scaled(capacity.size());
  const double part = static_cast<double>(sample.size()) / core.size();
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k]) continue;
    const double room = static_cast<double>(*capacity[k] - core.base_used[k]) * part * factor;
    scaled[k] = static_cast<int64_t>(std::max(0.0, room));
  }
  return scaled;
}

DualOptions WholeBox(const PricingOptions& options) {
  DualOptions dual;
  dual.start.loss_weight = dual.low.loss_weight = options.high.loss_weight;
  dual.high = options.high;
  dual.tolerance = options.tolerance;
  dual.known = options.known;
  return dual;
}

bool OnBorder(const DualResult& dual, const DualOptions& box, const Prices& high) {
  for (int k = 0; k < kMaxResources; ++k) {
    const int64_t price = dual.prices.per_unit[k];
    if (box.low.per_unit[k] == box.high.per_unit[k]) continue;
    if (price == box.low.per_unit[k] && price > 0) return true;
    if (price == box.high.per_unit[k] && price < high.per_unit[k]) return true;
  }
  return false;
}

// A box of prices from three pricings of a sample; nullopt where the stop came in.
std::optional<DualOptions> SampledBox(const Core& core, const Capacities& capacity, const PricingOptions& options,
                                      const Stop& stop) {
  const Core sample = SampleOf(core, SampleStep(core));
  if (sample.size() == 0) return WholeBox(options);
  DualOptions search = WholeBox(options);
  search.known.clear();
  search.tolerance = 0;
  search.max_passes = 60;
  DualOptions box = WholeBox(options);
  const double error = kErrors / std::sqrt(static_cast<double>(sample.size()));
  for (const double factor : {1.0, 1.0 - error, 1.0 + error}) {
    const DualResult dual = MaximiseDual(sample, Proportional(core, capacity, sample, factor), search, stop);
    if (dual.interrupted) return std::nullopt;
    for (int k = 0; k < core.resources; ++k) {
      const int64_t price = dual.prices.per_unit[k];
      if (factor == 1.0) {
        box.start.per_unit[k] = box.low.per_unit[k] = box.high.per_unit[k] = price;
      } else {
        box.low.per_unit[k] = std::min(box.low.per_unit[k], price);
        box.high.per_unit[k] = std::max(box.high.per_unit[k], price);
      }
    }
    search.start = dual.prices;
  }
  for (int k = 0; k < core.resources; ++k) {  // room for the cross effects of one capacity on another's price
    const int64_t low = box.low.per_unit[k], high = box.high.per_unit[k], room = (high - low) / 2;
    box.low.per_unit[k] = std::max<int64_t>(0, low - room);
    box.high.per_unit[k] = std::min(options.high.per_unit[k], high + room);
  }
  return box;
}

}  // namespace

Core SampleOf(const Core& core, uint64_t step) {
  Core sample;
  sample.resources = core.resources;
  const int64_t row = int64_t{kLevels} * core.resources;
  std::vector<int32_t> place(core.has_trees ? core.size() : 0, -1);
  for (int32_t i = 0; i < core.size(); ++i) {
    const int32_t above = core.parent[i];
    if (above < 0 ? Mix(static_cast<uint64_t>(i)) % step != 0 : place[above] < 0) continue;
    if (core.has_trees) place[i] = sample.size();
    sample.parent.push_back(above < 0 ? -1 : place[above]);
    sample.sets.push_back(core.sets[i]);
    sample.origin.push_back(i);
    sample.own_loss.insert(sample.own_loss.end(), core.LossRow(i), core.LossRow(i) + kLevels);
    sample.own_cost.insert(sample.own_cost.end(), core.CostRow(i, 0), core.CostRow(i, 0) + row);
  }
  sample.UseOwnRows();
  NumberNodes(&sample);
  return sample;
}

Prices HighestPrices(const Core& core, const Capacities& capacity, const Outcome& least, const Outcome* frugal) {
  int64_t most_loss = core.base_loss;
  for (int32_t i = 0; i < core.size(); ++i) {
    most_loss += *std::max_element(core.LossRow(i), core.LossRow(i) + kLevels);
  }
  const double range = static_cast<double>((frugal == nullptr ? most_loss : frugal->loss) - least.loss) + 1;
  double highest = 0;
  std::array<double, kMaxResources> high{};
  for (int k = 0; k < core.resources; ++k) {
    if (!capacity[k]) continue;
    const int64_t room = frugal == nullptr ? 1 : *capacity[k] - frugal->used[k];
    high[k] = range / static_cast<double>(std::max<int64_t>(room, 1));
    highest = std::max(highest, high[k]);
  }
  Prices prices;
  while (prices.loss_weight < kMaxWeight && highest * static_cast<double>(prices.loss_weight) < 0x1p58) {
    prices.loss_weight *= 2;
  }
  for (int k = 0; k < core.resources; ++k) {
    const double price = high[k] * static_cast<double>(prices.loss_weight) + 1;
    if (capacity[k]) prices.per_unit[k] = static_cast<int64_t>(std::min(price, 0x1p60));
  }
  return prices;
}

DualResult FindPrices(const Core& core, const Capacities& capacity, const PricingOptions& options, const Stop& stop) {
  const DualOptions whole = WholeBox(options);
  if (core.size() < kSampleAbove) return MaximiseDual(core, capacity, whole, stop);
  const std::optional<DualOptions> box = SampledBox(core, capacity, options, stop);
  std::vector<uint8_t> sets;
  if (!box || !KeepCheapestSomewhere(core, box->low, box->high, &sets, stop)) {
    DualResult none;
    none.interrupted = true;
    none.prices = whole.start;
    return none;
  }
  const Core small = Compact(core, sets);
  DualResult dual = MaximiseDual(small, capacity, *box, stop);
  if (dual.interrupted || !OnBorder(dual, *box, options.high)) return dual;
  DualOptions again = whole;
  again.start = dual.prices;
  for (const Cut& cut : dual.cuts) again.known.push_back(cut.outcome);
  return MaximiseDual(core, capacity, again, stop);
}

Wide ExcessOf(const Core& core, const Prices& prices, int64_t options) {
  const bool sampled = core.size() >= kSampleAbove;
  const Core sample = sampled ? SampleOf(core, static_cast<uint64_t>(core.size() / kSampleNodes)) : Core();
  const Core& from = sampled && sample.size() > 0 ? sample : core;
  std::vector<Wide> excesses = Excesses(from, prices);
  const int64_t rank = from.size() + options * from.size() / std::max(core.size(), 1);
  if (rank >= static_cast<int64_t>(excesses.size())) return Wide{1} << 125;
  std::nth_element(excesses.begin(), excesses.begin() + rank, excesses.end());
  return excesses[rank];
}

}  // namespace scantling::budget
