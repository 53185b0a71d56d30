// Where to start, and how far to look.
//
// Prices of a problem without fixed costs are quick to find, so a state starts from those of the problem in which every
// user pays a share of each fixed cost in its rows: even shares at first, then those of w at the prices found. The
// search then looks in a box of prices around them, and in wider ones while the best prices stand near the border.

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

// `share`: per user of every term, in their order.
bool PaidPricing::PricedByShares(const PaidState& state, const std::vector<double>& share, Prices* prices) const {
  Core shared = WithSets(core_, core_.sets);
  shared.own_loss.assign(core_.loss.begin(), core_.loss.end());
  shared.own_cost.assign(core_.cost.begin(), core_.cost.end());
  size_t place = 0;
  for (size_t a = 0; a < terms_.size(); ++a) {
    for (const FixedCost::User& user : terms_[a].users) {
      const double part = share[place++];
      if (state.choice[a] != Paid::kUndecided || part == 0) continue;
      for (int level = 0; level < kLevels; ++level) {
        if (((user.levels >> level) & 1) == 0) continue;
        int64_t* cost = &shared.own_cost[(int64_t{user.node} * kLevels + level) * core_.resources];
        for (int k = 0; k < core_.resources; ++k) {
          cost[k] += static_cast<int64_t>(part * static_cast<double>(terms_[a].cost[k]));
        }
      }
    }
  }
  shared.UseOwnRows();
  PricingOptions options;
  options.high = high_;
  options.tolerance = tolerance_;
  const DualResult dual = FindPrices(shared, capacity_, options, stop_);
  *prices = dual.prices;
  return !dual.interrupted;
}

std::vector<double> PaidPricing::SharesOf(const Prices& prices, const Multipliers& w) const {
  std::vector<double> share(w.size(), 0.0);
  size_t place = 0;
  for (const Term& term : terms_) {
    const Wide due = PricedRow(prices, term.loss, term.cost.data(), core_.resources);
    for (size_t u = 0; u < term.users.size(); ++u, ++place) {
      if (due > 0) share[place] = static_cast<double>(w[place]) / static_cast<double>(due);
    }
  }
  return share;
}

void PaidPricing::Start(PaidState* state) {
  state->prices.loss_weight = high_.loss_weight;
  std::vector<double> share;
  for (const Term& term : terms_)
    share.insert(share.end(), term.users.size(), 1.0 / static_cast<double>(term.users.size()));
  LinkedPass pass(core_, terms_, state->choice);
  for (int round = 0; round < kRounds; ++round) {
    Prices prices;
    if (!PricedByShares(*state, share, &prices)) return;
    state->prices = prices;
    if (round + 1 == kRounds || !pass.Start(prices, stop_, &state->guess)) return;
    share = SharesOf(prices, pass.multipliers());
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
  options.tolerance = search.tolerance;
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
