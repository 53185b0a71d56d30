// Meet in the middle over the cheapest moves.
//
// The moves of least excess are dealt into two hands, tree by tree, so that a combination from one hand never touches
// the other's. From each hand come all single moves, all pairs neither of which is below the other, and nothing. For
// every combination of the first hand the best partner of the second is the one of least loss among those that still
// fit: with two limited resources that is a sweep over the first resource with a Fenwick tree of least losses over the
// second; with more the pairs are tried in the order of what they cost at the prices, which ends early. So the best of
// some 10^8 exchanges of up to four choices is found in 10^4 steps of a logarithm. The deal changes from round to
// round, and every other round pairs of the cheapest moves meet single moves of a far wider choice.
//
// A plan too far out for four changes to mend is first brought in greedily: always the move of least excess per unit of
// excess use it takes away.

#include "server/budget/recover.h"

#include <algorithm>
#include <cstddef>
#include <limits>
#include <numeric>
#include <tuple>

#include "server/budget/moves.h"

namespace scantling::budget {
namespace {

constexpr int64_t kNone = std::numeric_limits<int64_t>::max();
constexpr int64_t kBringInWork = 50'000'000;  // nodes looked at to bring a plan in: about two seconds
constexpr size_t kMostTried = 2'000'000;      // pairs tried one by one where three or more resources bind

// Up to two moves of one hand.
struct Combination {
  int32_t first = -1, second = -1;  // into the hand
  int64_t loss = 0;
  PerResource used{};
  Wide excess = 0;
};

// Least (loss, index) over a prefix of ranks.
class PrefixLeast {
 public:
  explicit PrefixLeast(size_t ranks) : best_(ranks + 1, {kNone, -1}) {}
  void Add(size_t rank, std::pair<int64_t, int32_t> entry) {
    for (size_t i = rank + 1; i < best_.size(); i += i & (~i + 1)) best_[i] = std::min(best_[i], entry);
  }
  std::pair<int64_t, int32_t> UpTo(size_t ranks) const {
    std::pair<int64_t, int32_t> least = {kNone, -1};
    for (size_t i = ranks; i > 0; i -= i & (~i + 1)) least = std::min(least, best_[i]);
    return least;
  }

 private:
  std::vector<std::pair<int64_t, int32_t>> best_;
};

struct Found {
  int32_t left = -1, right = -1;
  int64_t loss = kNone;
};

class Recovery {
 public:
  Recovery(const Core& core, const Capacities& capacity, const Prices& prices, const Stop& stop)
      : core_(core), capacity_(capacity), prices_(prices), stop_(stop), maker_(core, prices, stop) {
    for (size_t k = 0; k < capacity.size(); ++k) {
      if (capacity[k]) limited_.push_back(static_cast<int>(k));
    }
  }

  bool Run(const RecoverOptions& options, Plan* plan) {
    int idle = 0;
    for (int round = 0; round < options.rounds && idle < options.patience && !stop_.Requested(); ++round) {
      const bool fits = Fits(plan->outcome, capacity_);
      if (fits && plan->outcome.loss <= options.enough) return true;
      if (Exchange(options.moves, round, plan)) {
        idle = 0;
      } else if (!fits) {
        if (!BringIn(plan)) return false;
      } else {
        ++idle;
      }
    }
    return Fits(plan->outcome, capacity_);
  }

 private:
  int64_t RoomFor(const Plan& plan, int k) const { return *capacity_[k] - plan.outcome.used[k]; }

  // One meet in the middle. True where the plan was improved, or made to fit.
  bool Exchange(int most, int round, Plan* plan) {
    std::vector<Move> moves = maker_.All(*plan);
    // Equals in mixed order: along a chain of alike nodes all cuts cost the same, and those at one end would be all
    // alike.
    const auto before = [](const Move& a, const Move& b) {
      if (a.excess != b.excess) return a.excess < b.excess;
      if (a.node != b.node) return Mix(static_cast<uint64_t>(a.node)) < Mix(static_cast<uint64_t>(b.node));
      return a.level < b.level;
    };
    // In every other round the second hand holds many moves, to be used singly: the cheapest moves alone may all be of
    // one size (alike assets) and then fit no gap but their own.
    const bool wide = round % 2 == 1;
    const size_t near = std::min<size_t>(moves.size(), most);
    const size_t kept = std::min<size_t>(moves.size(), wide ? size_t(most) * most / 4 : most);
    std::partial_sort(moves.begin(), moves.begin() + kept, moves.end(), before);
    std::vector<Move> hands[2];
    for (size_t m = 0; m < kept; ++m) {
      const int hand = Mix(static_cast<uint64_t>(moves[m].tree) * 64 + round) & 1;
      if (hand == 1 || m < near) hands[hand].push_back(moves[m]);
    }
    const std::vector<Combination> left = Combine(hands[0], true), right = Combine(hands[1], !wide);
    binding_ = Binding(*plan, left, right);
    const Found found = binding_.size() <= 2 ? Sweep(*plan, left, right) : TryCheapest(*plan, left, right);
    if (found.left < 0) return false;
    if (Fits(plan->outcome, capacity_) && found.loss >= 0) return false;
    for (const int32_t m : {left[found.left].first, left[found.left].second}) {
      if (m >= 0) maker_.Apply(hands[0][m], plan);
    }
    for (const int32_t m : {right[found.right].first, right[found.right].second}) {
      if (m >= 0) maker_.Apply(hands[1][m], plan);
    }
    return true;
  }

  void Add(const Move& move, Combination* to) const {
    to->loss += move.loss;
    to->excess += move.excess;
    for (int k = 0; k < core_.resources; ++k) to->used[k] += move.used[k];
  }

  std::vector<Combination> Combine(const std::vector<Move>& hand, bool pairs) const {
    std::vector<Combination> all(1);
    for (size_t i = 0; i < hand.size(); ++i) {
      Combination one;
      one.first = static_cast<int32_t>(i);
      Add(hand[i], &one);
      all.push_back(one);
      for (size_t j = i + 1; pairs && j < hand.size(); ++j) {
        if (!Apart(hand[i], hand[j])) continue;
        Combination two = one;
        two.second = static_cast<int32_t>(j);
        Add(hand[j], &two);
        all.push_back(two);
      }
    }
    return all;
  }

  Found Sweep(const Plan& plan, const std::vector<Combination>& left, const std::vector<Combination>& right) const {
    const int x = binding_.empty() ? 0 : binding_.front(), y = binding_.empty() ? 0 : binding_.back();
    const int64_t room_x = binding_.empty() ? kNone / 2 : RoomFor(plan, x);
    const int64_t room_y = binding_.empty() ? kNone / 2 : RoomFor(plan, y);
    std::vector<int32_t> by_x(left.size()), partners(right.size());
    for (size_t i = 0; i < by_x.size(); ++i) by_x[i] = static_cast<int32_t>(i);
    for (size_t i = 0; i < partners.size(); ++i) partners[i] = static_cast<int32_t>(i);
    std::sort(by_x.begin(), by_x.end(), [&](int32_t a, int32_t b) { return left[a].used[x] > left[b].used[x]; });
    std::sort(partners.begin(), partners.end(),
              [&](int32_t a, int32_t b) { return right[a].used[x] < right[b].used[x]; });
    std::vector<int64_t> ranks(right.size());
    for (size_t i = 0; i < right.size(); ++i) ranks[i] = right[i].used[y];
    std::sort(ranks.begin(), ranks.end());
    PrefixLeast least(ranks.size());
    Found best;
    size_t entered = 0;
    for (const int32_t l : by_x) {  // from the greatest use of x: the partners that fit only grow
      for (; entered < partners.size() && right[partners[entered]].used[x] <= room_x - left[l].used[x]; ++entered) {
        const Combination& partner = right[partners[entered]];
        const auto rank = std::lower_bound(ranks.begin(), ranks.end(), partner.used[y]) - ranks.begin();
        least.Add(rank, {partner.loss, partners[entered]});
      }
      const auto fitting = std::upper_bound(ranks.begin(), ranks.end(), room_y - left[l].used[y]) - ranks.begin();
      const auto [loss, r] = least.UpTo(fitting);
      if (r < 0) continue;
      if (std::tie(best.loss, best.left, best.right) > std::make_tuple(left[l].loss + loss, l, r)) {
        best = {l, r, left[l].loss + loss};
      }
    }
    return best;
  }

  // Pairs in the order of what they cost at the prices. One that fits loses at least its excess less the price of all
  // the room, so from some excess on none can beat the best found.
  Found TryCheapest(const Plan& plan, const std::vector<Combination>& left,
                    const std::vector<Combination>& right) const {
    Wide room = 0;
    for (const int k : limited_) room += Wide{prices_.per_unit[k]} * std::max<int64_t>(0, RoomFor(plan, k));
    const std::vector<int32_t> lefts = ByExcess(left), rights = ByExcess(right);
    // A plan that fits is only to be bettered.
    const int64_t to_beat = Fits(plan.outcome, capacity_) ? 0 : kNone / 2;
    Found best;
    best.loss = to_beat;
    size_t tried = 0;
    for (const int32_t l : lefts) {
      const Combination& a = left[l];
      for (const int32_t r : rights) {
        const Combination& b = right[r];
        if (a.excess + b.excess - room >= Wide{prices_.loss_weight} * best.loss || ++tried > kMostTried) break;
        if (a.loss + b.loss >= best.loss) continue;
        const bool fits = std::all_of(binding_.begin(), binding_.end(),
                                      [&](int k) { return a.used[k] + b.used[k] <= RoomFor(plan, k); });
        if (fits) best = {l, r, a.loss + b.loss};
      }
      if (tried > kMostTried) break;
    }
    return best;
  }

  static std::vector<int32_t> ByExcess(const std::vector<Combination>& all) {
    std::vector<int32_t> order(all.size());
    std::iota(order.begin(), order.end(), 0);
    std::sort(order.begin(), order.end(),
              [&](int32_t a, int32_t b) { return std::tie(all[a].excess, a) < std::tie(all[b].excess, b); });
    return order;
  }

  // The limited resources that some exchange of these moves could exceed: a keep share with room to spare is none.
  std::vector<int> Binding(const Plan& plan, const std::vector<Combination>& left,
                           const std::vector<Combination>& right) const {
    std::vector<int> binding;
    for (const int k : limited_) {
      const auto most = [k](const std::vector<Combination>& all) {
        int64_t greatest = 0;  // the empty combination is among them
        for (const Combination& one : all) greatest = std::max(greatest, one.used[k]);
        return greatest;
      };
      if (most(left) + most(right) > RoomFor(plan, k)) binding.push_back(k);
    }
    return binding;
  }

  // Use beyond the capacities, each in parts of its capacity.
  double Beyond(const Plan& plan, const Move* move) const {
    double beyond = 0;
    for (const int k : limited_) {
      const int64_t over = (move == nullptr ? 0 : move->used[k]) - RoomFor(plan, k);
      if (over > 0) beyond += static_cast<double>(over) / static_cast<double>(std::max<int64_t>(*capacity_[k], 1));
    }
    return beyond;
  }

  // Greedy; false where no single move helps any more.
  bool BringIn(Plan* plan) {
    const int64_t most = std::min(int64_t{4} * core_.size(), kBringInWork / std::max(core_.size(), 1) + 1);
    for (int64_t steps = 0; steps < most && !stop_.Requested(); ++steps) {
      const double beyond = Beyond(*plan, nullptr);
      if (beyond == 0) return true;
      const std::vector<Move> moves = maker_.All(*plan);
      const Move* best = nullptr;
      double best_rate = std::numeric_limits<double>::infinity();
      for (const Move& move : moves) {
        const double gain = beyond - Beyond(*plan, &move);
        if (gain <= 1e-12 * beyond) continue;  // rounding of the sum, not a gain
        const double rate = static_cast<double>(std::max<Wide>(move.excess, 0)) / gain;
        if (rate < best_rate) {
          best_rate = rate;
          best = &move;
        }
      }
      if (best == nullptr) return false;
      maker_.Apply(*best, plan);
    }
    return Fits(plan->outcome, capacity_);
  }

  const Core& core_;
  const Capacities& capacity_;
  const Prices& prices_;
  const Stop& stop_;
  MoveMaker maker_;
  std::vector<int> limited_;  // resources with a capacity
  std::vector<int> binding_;  // those the exchange at hand could exceed
};

}  // namespace

bool Recover(const Core& core, const Capacities& capacity, const Prices& prices, const RecoverOptions& options,
             const Stop& stop, Plan* plan) {
  return Recovery(core, capacity, prices, stop).Run(options, plan);
}

}  // namespace scantling::budget
