// Where to start, and how far to look.
//
// Prices of a problem without fixed costs are quick to find, so a state starts from those of the problem in which its
// guess is decided. The search then looks in a box of prices around them, and in wider ones while the best prices stand
// near the border: a resource that only fixed costs use starts at no price at all.

#include "server/budget/fixed_state.h"

#include <algorithm>
#include <utility>

#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

constexpr int kRounds = 3;            // of guessing and pricing again before the search
constexpr double kNearPrices = 1e-6;  // part of the least loss by which prices to start from may miss the best bound
constexpr int64_t kBorder = 32;       // the border of a box is this part of it wide

// Half-width of the boxes: this part of the price, at least this part of the highest; 0: everything.
struct Box {
  int64_t part, least;
};
constexpr Box kBoxes[] = {{8, 4096}, {2, 128}, {0, 1}};

}  // namespace

bool PaidPricing::FindFrugal(const PaidState& state, std::optional<Plan>* plan) {
  LinkedOptions options;
  options.low.loss_weight = options.high.loss_weight = 0;
  for (int k = 0; k < core_.resources; ++k) {
    if (!capacity_[k]) continue;
    options.high.per_unit[k] = std::max<int64_t>(1, kMaxWeight / std::max<int64_t>(*capacity_[k], 1));
  }
  options.start = options.high;
  options.enough = 1;  // above zero: no mixture of plans fits
  options.guess = state.guess;
  LinkedDual dual = MaximiseLinkedDual(core_, terms_, state.choice, capacity_, options, stop_);
  *plan = std::move(dual.plan);
  return !dual.evaluated || dual.bound <= 0;
}

void PaidPricing::SetScale(const Outcome& least, const Outcome* frugal) {
  high_ = HighestPrices(core_, capacity_, least, frugal);
  tolerance_ = std::max(0.25, kNearPrices * static_cast<double>(least.loss));
}

bool PaidPricing::Priced(const Core& core, const Capacities& capacity, Prices* prices) const {
  PricingOptions options;
  options.high = high_;
  options.tolerance = tolerance_;
  const DualResult dual = FindPrices(core, capacity, options, stop_);
  *prices = dual.prices;
  return !dual.interrupted;
}

// The prices where what the guess leaves unpaid is forbidden and the rest is paid already; false where there are none.
bool PaidPricing::PricedWith(const PaidState& state, const std::vector<uint8_t>& guess, Prices* prices) const {
  PaidChoice choice = state.choice;
  Capacities capacity = capacity_;
  for (size_t a = 0; a < terms_.size(); ++a) {
    if (choice[a] == Paid::kUndecided) choice[a] = guess[a] != 0 ? Paid::kYes : Paid::kNo;
    for (int k = 0; choice[a] == Paid::kYes && k < core_.resources; ++k) {
      if (capacity[k] && (*capacity[k] -= terms_[a].cost[k]) < 0) return false;
    }
  }
  Core restricted = WithSets(core_, core_.sets);
  return RemoveUnpaid(core_, terms_, choice, &restricted.sets) && Priced(restricted, capacity, prices);
}

void PaidPricing::Start(PaidState* state) {
  state->prices.loss_weight = high_.loss_weight;
  if (!Priced(core_, capacity_, &state->prices)) return;  // no term charged at all
  LinkedPass pass(core_, terms_, state->choice);
  for (int round = 1; round < kRounds; ++round) {
    const std::vector<uint8_t> before = state->guess;
    if (!pass.Start(state->prices, stop_, &state->guess) || state->guess == before) return;
    Prices prices;
    if (!PricedWith(*state, state->guess, &prices)) return;
    state->prices = prices;
  }
}

int64_t PaidPricing::WorkOfPass() const {
  int64_t work = core_.size();
  for (const Term& term : terms_) work += static_cast<int64_t>(term.users.size());
  return work;
}

LinkedDual PaidPricing::Bound(const PaidState& state, const Core& core, const Search& search) {
  LinkedOptions options;
  options.start = options.low = options.high = state.prices;
  options.max_passes = search.passes;
  options.steps = search.steps;
  options.enough = search.enough;
  options.guess = state.guess;
  options.known = state.known;
  options.w = w_;
  LinkedDual dual;
  for (const Box& box : kBoxes) {
    for (int k = 0; k < core_.resources; ++k) {
      if (!capacity_[k]) continue;
      const int64_t price = options.start.per_unit[k], highest = high_.per_unit[k];
      const int64_t half = box.part == 0 ? highest : std::max(price / box.part, highest / box.least);
      options.low.per_unit[k] = std::max<int64_t>(0, price - half);
      options.high.per_unit[k] = std::max(price, std::min(highest, price + half));
    }
    dual = MaximiseLinkedDual(core, terms_, state.choice, capacity_, options, stop_);
    work_ += dual.passes * WorkOfPass();
    if (dual.interrupted || (search.enough && dual.bound >= *search.enough) || !OnBorder(dual, options)) break;
    options.start = dual.prices;
    options.guess = dual.guess;
    options.known = dual.cuts;
    options.w = dual.w;
  }
  return dual;
}

// Or near it: the search seldom goes all the way.
bool PaidPricing::OnBorder(const LinkedDual& dual, const LinkedOptions& options) const {
  for (int k = 0; k < core_.resources; ++k) {
    const int64_t price = dual.prices.per_unit[k], low = options.low.per_unit[k], high = options.high.per_unit[k];
    const int64_t near = (high - low) / kBorder;
    if (price <= low + near && low > 0) return true;
    if (price >= high - near && high < high_.per_unit[k]) return true;
  }
  return false;
}

}  // namespace scantling::budget
