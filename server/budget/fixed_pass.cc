// Dual ascent on w, term by term.
//
// A user's worth of a level is how much dearer the least total becomes where it may not take it; charged exactly that,
// the user is indifferent and the least total has risen by as much. A term whose users are worth more than it costs
// takes from each in proportion (it is paid); otherwise it takes all of it (not paid). Either is the best choice for
// this term alone with the others as they are.
//
// Terms taken one after the other can block one another: where a user may have level 3 on one rig or level 2 on
// another, neither level is worth much beside the other one for free. So what is paid is guessed first, block by block.
// The terms left unpaid start at their full price for every user; those that are paid are settled among what is left,
// and then the unpaid ones are let down to what they are worth. Where a term takes only part, it takes first what a
// user would also be worth with all unpaid terms free. What that leaves is raised by subgradient steps over all users
// at once, along a mean of the last slopes, of the length that would reach a known plan's priced loss (Polyak).
// Sources: Polyak 1969, Minimization of unsmooth functionals, USSR Comp. Math. 9, 14-29; Erlenkotter 1978, A dual-based
// procedure for uncapacitated facility location, Operations Research 26, 992-1009.

#include "server/budget/fixed_pass.h"

#include <algorithm>
#include <bit>
#include <utility>

namespace scantling::budget {
namespace {

// Of the subgradient steps.
constexpr double kFresh = 0.3;        // weight of the newest slope in the mean that is followed
constexpr double kLongestStep = 1.8;  // part of the way to the target, were the function linear
constexpr double kLonger = 1.1, kShorter = 0.6;
constexpr int kPatience = 4;  // steps without gain before they are made shorter

int BitsOf(Wide value) {
  const uint64_t high = static_cast<uint64_t>(value >> 64);
  return high != 0 ? 64 + std::bit_width(high) : std::bit_width(static_cast<uint64_t>(value));
}

// value * part / whole, or a little less; 0 <= value, part <= whole.
Wide Portion(Wide value, Wide part, Wide whole) {
  const int shift = std::max(0, BitsOf(whole) - 61);
  return (((value >> shift) * (part >> shift)) / ((whole >> shift) + (shift > 0 ? 1 : 0))) << shift;
}

}  // namespace

LinkedPass::LinkedPass(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice)
    : core_(core), terms_(terms), choice_(choice), blocks_(core, terms, choice), forest_(core) {
  ListShares();
}

void LinkedPass::ListShares() {
  std::vector<int32_t> last(core_.size(), -1);  // per node: its latest share
  for (size_t a = 0; a < terms_.size(); ++a) {
    first_.push_back(shares_.size());
    for (const FixedCost::User& user : terms_[a].users) {
      const int32_t place = static_cast<int32_t>(users_++);
      const uint8_t levels = user.levels & AnyLevels(core_.sets[user.node]);
      if (levels == 0 || choice_[a] != Paid::kUndecided) continue;
      const int32_t id = static_cast<int32_t>(shares_.size());
      shares_.push_back({user.node, levels, static_cast<int32_t>(a), id, place, 0, 0});
      int32_t& before = last[user.node];
      if (before >= 0) shares_[id].next = std::exchange(shares_[before].next, id);
      before = id;
    }
  }
  first_.push_back(shares_.size());
}

void LinkedPass::PriceTerms(const Prices& prices) {
  due_.assign(terms_.size(), 0);
  paid_ = 0;
  for (size_t a = 0; a < terms_.size(); ++a) {
    due_[a] = PricedRow(prices, terms_[a].loss, terms_[a].cost.data(), core_.resources);
    if (choice_[a] == Paid::kYes) paid_ += due_[a];
  }
}

void LinkedPass::Charge(Share* share, Wide w) {
  forest_.Add(share->node, share->levels, w - share->w);
  share->w = w;
}

// What the user is worth to its term, and how much of that it is with all unpaid terms free of charge. kNever where it
// must take one of the levels.
Wide LinkedPass::WorthOf(Share* share, const std::vector<uint8_t>& guess) {
  Wide excess[kLevels];
  forest_.Excess(share->node, excess);
  const auto worth = [&] {
    Wide with = kNever, without = kNever;
    for (int level = 0; level < kLevels; ++level) {
      Wide& least = ((share->levels >> level) & 1) != 0 ? with : without;
      least = std::min(least, excess[level]);
    }
    return without >= kNever ? kNever : std::max<Wide>(0, without - with);
  };
  const Wide all = worth();
  for (int32_t s = share->next; &shares_[s] != share; s = shares_[s].next) {
    if (guess[shares_[s].term] != 0) continue;
    for (int level = 0; level < kLevels; ++level) {
      if (((shares_[s].levels >> level) & 1) != 0 && excess[level] < kNever) excess[level] -= shares_[s].w;
    }
  }
  share->free = std::min(all, worth());
  return all;
}

// Charges every user its worth; the sum, or kNever where one must take a level (it is then charged the whole).
Wide LinkedPass::Collect(size_t term, const std::vector<uint8_t>& guess) {
  Wide sum = 0;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    const Wide worth = WorthOf(&shares_[s], guess);
    if (worth >= kNever) {
      for (size_t before = first_[term]; before < s; ++before) Charge(&shares_[before], 0);
      Charge(&shares_[s], due_[term]);
      return kNever;
    }
    Charge(&shares_[s], worth);
    sum += worth;
  }
  return sum;
}

// Gives back what was collected beyond the price: of what is free each user keeps its part, and of the rest only where
// that is not enough.
void LinkedPass::Give(size_t term, Wide collected) {
  Wide free = 0;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) free += shares_[s].free;
  const Wide due = due_[term];
  const auto kept = [&](const Share& share) {
    if (free >= due) return free == 0 ? Wide{0} : Portion(share.free, due, free);
    return share.free + Portion(share.w - share.free, due - free, collected - free);
  };
  Wide left = due;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) left -= kept(shares_[s]);
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) {
    const Wide w = kept(shares_[s]);
    const Wide more = std::min(left, shares_[s].w - w);  // what rounding left over
    left -= more;
    Charge(&shares_[s], w + more);
  }
}

// Chooses w of one term anew, the others as they are.
void LinkedPass::Settle(size_t term, const std::vector<uint8_t>& guess, LinkedBound* result) {
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) Charge(&shares_[s], 0);
  const Wide before = forest_.total() + paid_;
  const Wide collected = Collect(term, guess);
  if (result != nullptr) {
    result->if_paid[term] = std::max(result->if_paid[term], before + due_[term]);
    result->if_unpaid[term] = std::max(result->if_unpaid[term], collected >= kNever ? kNever : before + collected);
  }
  if (collected > due_[term] && collected < kNever) Give(term, collected);
}

// Settles what is expected to be paid, then the rest.
bool LinkedPass::Sweep(const Stop& stop, const std::vector<uint8_t>& guess, LinkedBound* result) {
  for (const uint8_t expected : {1, 0}) {
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (choice_[a] != Paid::kUndecided || guess[a] != expected) continue;
      if (stop.Requested()) return false;
      Settle(a, guess, result);
    }
  }
  return true;
}

// Charges every share what `to` says, and sums up anew.
template <typename To>
bool LinkedPass::ChargeAll(To to, const Stop& stop) {
  for (Share& share : shares_) {
    const Wide w = to(share);
    forest_.AddToRow(share.node, share.levels, w - share.w);
    share.w = w;
  }
  return forest_.SumUp(stop);
}

bool LinkedPass::Start(const Prices& prices, const Stop& stop, std::vector<uint8_t>* guess) {
  PriceTerms(prices);
  forest_.PriceRows(prices);
  for (Share& share : shares_) share.w = 0;
  const Wide most = (Wide{1} << 124) / static_cast<Wide>(shares_.size() + 1);  // all together stay under kNever
  std::vector<Wide> charge;
  for (const Wide due : due_) charge.push_back(std::min(most, due));
  const auto unpaid = [&](const Share& share) { return (*guess)[share.term] != 0 ? Wide{0} : charge[share.term]; };
  if (!ChargeAll(unpaid, stop)) return false;
  blocks_.Improve(due_, charge, &forest_, guess);
  for (Share& share : shares_) share.w = unpaid(share);
  return Sweep(stop, *guess, nullptr);
}

// Charges these, cut down where a term would take more than it costs.
bool LinkedPass::Set(const Multipliers& w, const Stop& stop) {
  std::vector<Wide> taken(terms_.size(), 0);
  for (const Share& share : shares_) taken[share.term] += w[share.place];
  const auto within = [&](const Share& share) {
    const Wide due = due_[share.term], all = taken[share.term];
    return all <= due ? w[share.place] : Portion(w[share.place], due, all);
  };
  return ChargeAll(within, stop);
}

bool LinkedPass::Try(const Multipliers& w, const Stop& stop) {
  const Wide before = bound();
  const Multipliers own = multipliers();
  if (!Set(w, stop)) return false;
  return bound() >= before || Set(own, stop);
}

bool LinkedPass::Finish(const std::vector<uint8_t>& guess, const Stop& stop, LinkedBound* result) {
  result->bound = bound();
  result->if_paid.assign(terms_.size(), 0);
  result->if_unpaid.assign(terms_.size(), 0);
  if (!Sweep(stop, guess, result)) return false;
  result->bound = std::max(result->bound, bound());
  return true;
}

Multipliers LinkedPass::multipliers() const {
  Multipliers w(users_, 0);
  for (const Share& share : shares_) w[share.place] = share.w;
  return w;
}

Wide LinkedPass::TakenBy(size_t term) const {
  Wide taken = 0;
  for (size_t s = first_[term]; s < first_[term + 1]; ++s) taken += shares_[s].w;
  return taken;
}

// The bound where terms may take more than they cost.
Wide LinkedPass::Relaxed() const {
  Wide value = bound();
  for (size_t a = 0; a < terms_.size(); ++a) value += std::min<Wide>(0, due_[a] - TakenBy(a));
  return value;
}

// Per share: 1 where the plan takes a level of the term, less 1 where the term takes more than it costs. Returns
// nothing of use where all is 0: then the plan pays what it takes, and the bound is the best.
double LinkedPass::Slope(const std::vector<uint8_t>& level, std::vector<double>* slope) const {
  double square = 0;
  for (size_t a = 0; a < terms_.size(); ++a) {
    const double paid = TakenBy(a) > due_[a] ? 1 : 0;
    for (size_t s = first_[a]; s < first_[a + 1]; ++s) {
      const double uses = ((shares_[s].levels >> level[shares_[s].node]) & 1) != 0 ? 1 : 0;
      const double fresh = uses - paid;
      double& mean = (*slope)[s];
      mean = (1 - kFresh) * mean + kFresh * fresh;
      if (mean < 0 && shares_[s].w == 0) continue;
      square += mean * mean;
    }
  }
  return square;
}

bool LinkedPass::Raise(Wide target, int steps, const Stop& stop) {
  Wide best = Relaxed();
  Multipliers best_w = multipliers();
  std::vector<uint8_t> level;
  std::vector<double> slope(shares_.size(), 0.0);
  int idle = 0;
  for (int step = 0; step < steps && best < target; ++step) {
    forest_.Plan(&level);
    const double square = Slope(level, &slope);
    if (square <= 0) break;
    const double length = part_ * static_cast<double>(target - Relaxed()) / square;
    const auto moved = [&](const Share& share) {
      const double w = static_cast<double>(share.w) + length * slope[&share - shares_.data()];
      return w <= 0 ? Wide{0} : static_cast<Wide>(w);
    };
    if (!ChargeAll(moved, stop)) return false;
    const Wide value = Relaxed();
    if (value > best) {
      best = value;
      best_w = multipliers();
      idle = 0;
      part_ = std::min(part_ * kLonger, kLongestStep);
    } else if (++idle >= kPatience) {
      idle = 0;
      part_ *= kShorter;
    }
  }
  return Set(best_w, stop);
}

}  // namespace scantling::budget
