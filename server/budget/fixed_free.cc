// One figure per row and one per fixed cost, and the least sum of them: money among the plans of least loss, or the use
// of one resource.
//
// The plans of least loss are exactly those made of options of excess 0 at prices 0, context by context, so they are
// the plans of a Core with those sets. Which terms are paid is branched on, best bound first. The bound is one key,
// figure * weight + sum of levels with the weight above any sum of levels, so that levels are settled in the same
// search; whole plans of one key are compared node by node in the order of ties. States are closed only where their
// bound is above the best key: one of the same key may still hold a plan that comes first.

#include "server/budget/fixed_free.h"

#include <algorithm>
#include <queue>
#include <utility>

#include "server/budget/compact.h"
#include "server/budget/fixed_pass.h"
#include "server/budget/fixed_terms.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int64_t kLeastUseVisits = 20'000;
constexpr int64_t kWork = 40'000'000;  // nodes and users looked at by all visits together, at most
constexpr int kRounds = 3;             // passes per state, each with the guess of the one before

// The problem of one figure: its loss is the figure, its only resource counts levels.
template <typename Figure>
Problem FiguresOf(const Problem& from, Figure figure) {
  Problem to;
  to.resources = 1;
  to.parent = from.parent;
  to.allowed = from.allowed;
  to.tie = from.tie;
  to.capacity.resize(1);
  to.money = {0};
  to.loss.resize(from.loss.size());
  to.cost.resize(from.loss.size());
  for (size_t row = 0; row < from.loss.size(); ++row) {
    to.loss[row] = figure(from.cost.data() + row * from.resources);
    to.cost[row] = static_cast<int64_t>(row % kLevels);
  }
  return to;
}

// The terms of that problem: a loss, no cost.
template <typename Figure>
std::vector<Term> FigureTerms(const Problem& from, const std::vector<int32_t>& place, Figure figure) {
  std::vector<Term> terms = TermsOf(from, place);
  for (Term& term : terms) {
    term.loss = figure(term.cost.data());
    term.cost.fill(0);
  }
  return Merged(std::move(terms));
}

struct State {
  Wide bound = 0;
  int64_t id = 0;
  PaidChoice choice;
  std::vector<uint8_t> guess;
};

struct Later {
  bool operator()(const State& a, const State& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

class FreeSearch {
 public:
  FreeSearch(const Problem& figures, std::vector<Term> terms, const std::vector<uint8_t>& sets, const Stop& stop)
      : problem_(figures), terms_(std::move(terms)), stop_(stop), core_(CoreOf(figures)), place_(PlacesOf(core_)) {
    core_.sets = sets;
    prices_.loss_weight = int64_t{3} * core_.size() + 1;
    prices_.per_unit[0] = 1;
  }

  // False where the stop came before any plan.
  bool Run(int64_t visits) {
    int64_t work = core_.size();
    for (const Term& term : terms_) work += static_cast<int64_t>(term.users.size());
    const int64_t most = std::min(visits, kWork / std::max<int64_t>(work, 1));
    open_.push({0, 0, PaidChoice(terms_.size(), Paid::kUndecided), std::vector<uint8_t>(terms_.size(), 1)});
    for (int64_t visited = 0; !open_.empty(); ++visited) {
      if (stop_.Requested() || (best_ && (open_.top().bound > best_key_ || visited > most))) break;
      State state = open_.top();
      open_.pop();
      Visit(std::move(state));
    }
    return best_.has_value();
  }

  const std::vector<uint8_t>& level() const { return *best_; }  // per node of the Core
  bool proved() const { return open_.empty() || open_.top().bound > best_key_; }
  int64_t bound() const {
    const Wide key = open_.empty() ? best_key_ : std::min(best_key_, open_.top().bound);
    return static_cast<int64_t>(key / prices_.loss_weight);
  }

 private:
  // Where the stop comes in the state goes back: it is not searched.
  void Visit(State state) {
    Core core = WithSets(core_, core_.sets);
    if (!RemoveUnpaid(core_, terms_, state.choice, &core.sets)) return;
    LinkedPass pass(core, terms_, state.choice);
    LinkedBound bound;
    for (int round = 0; round < kRounds; ++round) {
      const std::vector<uint8_t> before = state.guess;
      if (!pass.Start(prices_, stop_, &state.guess) || !Plan(state) || !pass.Finish(state.guess, stop_, &bound)) {
        return open_.push(std::move(state));
      }
      state.bound = std::max(state.bound, bound.bound);
      if (before == state.guess || state.bound > best_key_) break;
    }
    Decide(bound, &state);
    if (best_ && state.bound > best_key_) return;
    const int32_t split = ChooseSplit(state, bound);
    if (split < 0) {  // all is decided, some of it only now: the plan of this very choice counts
      if (!Plan(state)) open_.push(std::move(state));
      return;
    }
    for (const Paid paid : {Paid::kNo, Paid::kYes}) {
      State child = state;
      child.id = ++pushed_;
      child.choice[split] = paid;
      child.guess[split] = paid == Paid::kYes ? 1 : 0;
      child.bound = std::max(child.bound, paid == Paid::kYes ? bound.if_paid[split] : bound.if_unpaid[split]);
      if (child.bound < kNever) open_.push(std::move(child));
    }
  }

  void Decide(const LinkedBound& bound, State* state) const {
    if (!best_) return;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state->choice[a] != Paid::kUndecided) continue;
      if (bound.if_paid[a] > best_key_) state->choice[a] = Paid::kNo;
      if (bound.if_unpaid[a] > best_key_) state->choice[a] = Paid::kYes;
    }
  }

  // The first plan among those that pay what the state has decided and guesses; where there is none, what is undecided
  // is all paid. False where the stop came.
  bool Plan(const State& state) {
    PaidChoice choice = state.choice;
    for (size_t a = 0; a < choice.size(); ++a) {
      if (choice[a] == Paid::kUndecided && state.guess[a] == 0) choice[a] = Paid::kNo;
    }
    Core core = WithSets(core_, core_.sets);
    if (!RemoveUnpaid(core_, terms_, choice, &core.sets)) {
      core.sets = core_.sets;
      if (!RemoveUnpaid(core_, terms_, state.choice, &core.sets)) return true;
    }
    std::vector<uint8_t> level;
    if (!LexicographicPass(core, problem_, stop_, &level)) return false;
    Outcome outcome = Total(core, level);
    AddPaid(terms_, level, &outcome);
    const Wide key = PricedLoss(prices_, outcome, 1);
    if (!best_ || key < best_key_ || (key == best_key_ && ComesBefore(level, *best_))) {
      best_key_ = key;
      best_ = std::move(level);
    }
    return true;
  }

  // The undecided term about which w is least sure; -1: none.
  int32_t ChooseSplit(const State& state, const LinkedBound& bound) const {
    int32_t split = -1;
    Wide least = 0;
    for (size_t a = 0; a < terms_.size(); ++a) {
      if (state.choice[a] != Paid::kUndecided) continue;
      Wide apart = bound.if_paid[a] - bound.if_unpaid[a];
      if (apart < 0) apart = -apart;
      if (split >= 0 && apart >= least) continue;
      least = apart;
      split = static_cast<int32_t>(a);
    }
    return split;
  }

  bool ComesBefore(const std::vector<uint8_t>& ours, const std::vector<uint8_t>& theirs) const {
    int32_t decider = -1;
    for (int32_t i = 0; i < problem_.size(); ++i) {
      if (ours[place_[i]] == theirs[place_[i]]) continue;
      if (decider < 0 || problem_.tie[i] < problem_.tie[decider]) decider = i;
    }
    return decider >= 0 && ours[place_[decider]] < theirs[place_[decider]];
  }

  const Problem& problem_;
  const std::vector<Term> terms_;
  const Stop& stop_;
  Core core_;
  const std::vector<int32_t> place_;
  Prices prices_;
  std::priority_queue<State, std::vector<State>, Later> open_;
  int64_t pushed_ = 0;
  std::optional<std::vector<uint8_t>> best_;
  Wide best_key_ = 0;
};

}  // namespace

std::optional<FreePlan> LeastLossThenMoney(const Core& core, const Problem& problem, int64_t visits, const Stop& stop) {
  std::vector<uint8_t> sets;
  if (!KeepReach(core, Prices(), Reach(), &sets, stop)) return std::nullopt;
  const std::vector<int32_t> place = PlacesOf(core);
  const auto money_of = [&](const int64_t* cost) {
    int64_t money = 0;
    for (int k = 0; k < problem.resources; ++k) money += problem.money[k] * cost[k];
    return money;
  };
  const Problem figures = FiguresOf(problem, money_of);
  FreeSearch search(figures, FigureTerms(problem, place, money_of), sets, stop);
  if (!search.Run(visits)) return std::nullopt;
  FreePlan plan;
  plan.proved = search.proved();
  for (const int32_t at : place) plan.level.push_back(search.level()[at]);
  return plan;
}

int64_t LeastUseOf(const Core& core, const Problem& problem, int k) {
  const Stop never;
  const auto use_of = [k](const int64_t* cost) { return cost[k]; };
  const Problem figures = FiguresOf(problem, use_of);
  FreeSearch search(figures, FigureTerms(problem, PlacesOf(core), use_of), core.sets, never);
  search.Run(kLeastUseVisits);
  return search.bound();
}

}  // namespace scantling::budget
