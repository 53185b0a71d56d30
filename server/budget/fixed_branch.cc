// Best-first branching, each state deciding some terms.
//
// Visiting a state raises its bound from its parent's prices, decides every other term one side of which is ruled out,
// and splits on the term that the relaxed optimum mixes most, weighed by its price. Where all is decided the rest is
// solved as a problem without fixed costs, and its bound is the state's. Every state that is closed leaves its bound
// behind; the least of them is proved.

#include "server/budget/fixed_branch.h"

#include <algorithm>
#include <queue>
#include <utility>

namespace scantling::budget {
namespace {

constexpr int64_t kWork = 40'000'000;  // nodes and users looked at by passes, at most
constexpr int64_t kFirstTries = 32;    // states that try a plan; later every kTryEvery-th
constexpr int64_t kTryEvery = 8;
constexpr double kMixed = 1e-7;      // least share of a plan in the mixture, above the rounding of the programme
constexpr double kMixedFirst = 1e6;  // a mixed term goes before any that is not

struct Later {
  bool operator()(const PaidState& a, const PaidState& b) const {
    return a.bound != b.bound ? a.bound > b.bound : a.id > b.id;
  }
};

class Branching {
 public:
  Branching(const PaidSearchSpace& space, const Effort& effort, const Stop& stop)
      : core_(space.core),
        terms_(space.terms),
        effort_(effort),
        stop_(stop),
        pricing_(space.pricing),
        plans_(space.plans) {}

  PaidBranching Run(const PaidState& root, const LinkedDual& dual) {
    const int64_t before = pricing_.work();
    visited_ = 1;
    Split(root, dual);
    while (!open_.empty()) {
      if (Useless(open_.top().bound)) {
        Close(open_.top().bound);
        open_.pop();
        continue;
      }
      if (stop_.Requested() || visited_ >= effort_.branch_nodes || pricing_.work() - before > kWork) break;
      PaidState state = open_.top();
      open_.pop();
      ++visited_;
      Visit(std::move(state));
    }
    PaidBranching result;
    result.exhausted = open_.empty();
    if (!open_.empty()) Close(open_.top().bound);
    result.bound = closed_;
    result.visited = visited_;
    return result;
  }

 private:
  int64_t Loss(Wide bound) const { return CeilingOf(bound, pricing_.highest().loss_weight); }
  bool Useless(Wide bound) const { return bound >= kNever || Loss(bound) >= plans_.Limit(effort_.target_gap); }

  // Remembers the bound of plans that are not looked at any more.
  void Close(Wide bound) {
    if (bound < kNever) closed_ = std::min(closed_, Loss(bound));
  }

  void Visit(PaidState state) {
    Core core = WithSets(core_, core_.sets);
    if (!RemoveUnpaid(core_, terms_, state.choice, &core.sets)) return;
    PaidPricing::Search search;
    search.enough = Wide{plans_.Limit(effort_.target_gap) - 1} * pricing_.highest().loss_weight + 1;
    LinkedDual dual = pricing_.Bound(state, core, search);
    if (dual.interrupted || !dual.evaluated) return Close(state.bound);
    state.bound = std::max(state.bound, dual.bound);
    state.prices = dual.prices;
    state.guess = dual.guess;
    state.known = dual.cuts;
    if (dual.plan) plans_.Offer(dual.plan->level);
    if (visited_ <= kFirstTries || visited_ % kTryEvery == 0) plans_.Try(state.guess, Modest());
    Split(std::move(state), dual);
  }

  void Split(PaidState state, const LinkedDual& dual) {
    if (Useless(state.bound)) return Close(state.bound);
    Decide(dual, &state);
    const int32_t split = ChooseSplit(state, dual);
    if (split < 0) return Settle(state);
    for (const Paid paid : {Paid::kNo, Paid::kYes}) {
      const Wide bound = paid == Paid::kYes ? dual.if_paid[split] : dual.if_unpaid[split];
      if (bound >= kNever) continue;
      PaidState child = state;
      child.choice[split] = paid;
      child.guess[split] = paid == Paid::kYes ? 1 : 0;
      child.bound = std::max(state.bound, bound);
      std::erase_if(child.known, [&](const LinkedCut& cut) { return !Allows(child.choice, cut); });
      child.id = ++pushed_;
      open_.push(std::move(child));
    }
  }

  static bool Allows(const PaidChoice& choice, const LinkedCut& cut) {
    for (size_t a = 0; a < choice.size(); ++a) {
      if (choice[a] != Paid::kUndecided && (choice[a] == Paid::kYes) != (cut.paid[a] != 0)) return false;
    }
    return true;
  }

  // Decides the terms of which one side is of no use.
  void Decide(const LinkedDual& dual, PaidState* state) {
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state->choice[a] != Paid::kUndecided) continue;
      const bool no = Useless(dual.if_paid[a]), yes = Useless(dual.if_unpaid[a]);
      if (no) Close(dual.if_paid[a]);
      if (yes) Close(dual.if_unpaid[a]);
      if (no || yes) state->choice[a] = no ? Paid::kNo : Paid::kYes;
    }
  }

  // -1: all is decided.
  int32_t ChooseSplit(const PaidState& state, const LinkedDual& dual) const {
    int32_t best = -1;
    double best_score = -1;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state.choice[a] != Paid::kUndecided) continue;
      double yes = 0, no = 0;
      for (const LinkedCut& cut : state.known) {
        if (cut.share > kMixed) (cut.paid[a] != 0 ? yes : no) += cut.share;
      }
      const double price =
          static_cast<double>(PricedRow(state.prices, terms_[a].loss, terms_[a].cost.data(), core_.resources));
      const Wide apart = dual.if_paid[a] - dual.if_unpaid[a];
      const double unsure = price / (1 + static_cast<double>(apart < 0 ? -apart : apart));
      const double score = std::min(yes, no) * price * kMixedFirst + unsure;
      if (score <= best_score) continue;
      best_score = score;
      best = static_cast<int32_t>(a);
    }
    return best;
  }

  Effort Modest() const {
    Effort effort = effort_;
    effort.branch_nodes = 0;
    return effort;
  }

  // All is decided: first without branching, which is often enough to close the state.
  void Settle(const PaidState& state) {
    std::vector<uint8_t> paid;
    for (const Paid choice : state.choice) paid.push_back(choice == Paid::kYes ? 1 : 0);
    const PaidPlans::Proof quick = plans_.Try(paid, Modest());
    if (quick.none) return;
    const int64_t bound = std::max(quick.bound, Loss(state.bound));
    if (bound >= plans_.Limit(effort_.target_gap)) {
      closed_ = std::min(closed_, bound);
      return;
    }
    Effort effort = effort_;
    effort.branch_nodes = std::max<int64_t>(1, effort_.branch_nodes - visited_);
    const PaidPlans::Proof proof = plans_.Try(paid, effort);
    visited_ += proof.branched;
    if (!proof.none) closed_ = std::min(closed_, std::max(proof.bound, bound));
  }

  const Core& core_;
  const std::vector<Term>& terms_;
  const Effort& effort_;
  const Stop& stop_;
  PaidPricing& pricing_;
  PaidPlans& plans_;
  std::priority_queue<PaidState, std::vector<PaidState>, Later> open_;
  int64_t closed_ = kMaxTotal;  // least bound of what was left unsearched
  int64_t pushed_ = 0, visited_ = 0;
};

}  // namespace

PaidBranching BranchOnPaid(const PaidSearchSpace& space, const PaidState& root, const LinkedDual& dual,
                           const Effort& effort, const Stop& stop) {
  return Branching(space, effort, stop).Run(root, dual);
}

}  // namespace scantling::budget
