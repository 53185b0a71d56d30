// One figure per row and one per fixed cost, and the least sum of them: money among the plans of least loss, or the use
// of one resource.
//
// The plans of least loss are exactly those made of options of excess 0 at prices 0, context by context, so they are
// the plans of a Core with those sets. Which fixed costs are paid is branched on, best bound first. The bound is one
// key, figure * weight + sum of levels with the weight above any sum of levels, so that levels are settled in the same
// search; whole plans of one key are compared node by node in the order of ties.

#include "server/budget/fixed_free.h"

#include <algorithm>
#include <queue>
#include <utility>

#include "server/budget/compact.h"
#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int64_t kLeastUseVisits = 20'000;

// A problem of one figure: its loss is the figure, its only resource counts levels.
struct Figures {
  Problem problem;
  std::vector<int64_t> fixed;  // per fixed cost
};

template <typename Figure>
Figures FiguresOf(const Problem& from, Figure figure) {
  Figures figures;
  Problem& to = figures.problem;
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
  for (const FixedCost& fixed : from.fixed) figures.fixed.push_back(figure(fixed.cost.data()));
  return figures;
}

struct State {
  Wide bound = 0;
  int64_t id = 0;
  PaidChoice choice;
};

struct Later {
  bool operator()(const State& a, const State& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

class FreeSearch {
 public:
  FreeSearch(const Problem& problem, Figures figures, const std::vector<uint8_t>& sets, const Stop& stop)
      : problem_(problem), figures_(std::move(figures)), stop_(stop), core_(CoreOf(figures_.problem)) {
    core_.sets = sets;
    place_ = PlacesOf(core_);
    prices_.loss_weight = int64_t{3} * core_.size() + 1;
    prices_.per_unit[0] = 1;
  }

  // False where the stop came before any plan.
  bool Run(int64_t visits) {
    PaidChoice choice(problem_.fixed.size(), Paid::kUndecided);
    for (size_t a = 0; a < choice.size(); ++a) {
      if (figures_.fixed[a] == 0) choice[a] = Paid::kYes;
    }
    open_.push({0, 0, std::move(choice)});
    for (int64_t visited = 0; !open_.empty() && !stop_.Requested(); ++visited) {
      if (best_ && (open_.top().bound > best_key_ || visited >= visits)) break;
      State state = open_.top();
      open_.pop();
      if (!Visit(std::move(state))) break;
    }
    return best_.has_value();
  }

  const std::vector<uint8_t>& level() const { return *best_; }  // per node of the Core
  int64_t figure() const { return static_cast<int64_t>(best_key_ / prices_.loss_weight); }
  bool proved() const { return open_.empty() || open_.top().bound > best_key_; }
  int64_t bound() const {
    const Wide key = open_.empty() ? best_key_ : std::min(best_key_, open_.top().bound);
    return static_cast<int64_t>(key / prices_.loss_weight);
  }

 private:
  bool Visit(State state) {
    std::vector<uint8_t> sets = core_.sets;
    if (!RemoveUnpaid(core_, problem_.fixed, place_, state.choice, &sets)) return true;
    std::swap(core_.sets, sets);
    std::vector<uint8_t> level;
    const bool ran = LexicographicPass(core_, figures_.problem, stop_, &level);
    std::swap(core_.sets, sets);
    if (!ran) return false;
    const Outcome outcome = Total(core_, level);
    Wide key = PricedLoss(prices_, outcome, 1);
    for (size_t a = 0; a < state.choice.size(); ++a) {
      if (state.choice[a] == Paid::kYes) key += Wide{figures_.fixed[a]} * prices_.loss_weight;
    }
    state.bound = std::max(state.bound, key);
    const int32_t split = Consider(outcome, std::move(level), state.choice);
    if (split < 0 || state.bound > best_key_) return true;
    for (const Paid paid : {Paid::kNo, Paid::kYes}) {
      State child = {state.bound, ++pushed_, state.choice};
      child.choice[split] = paid;
      open_.push(std::move(child));
    }
    return true;
  }

  // Keeps the plan where it comes before the best. Returns the undecided fixed cost that charges it most, else any
  // undecided one, -1: none.
  int32_t Consider(const Outcome& outcome, std::vector<uint8_t> level, const PaidChoice& choice) {
    std::vector<uint8_t> in_problem(level.size());
    for (size_t i = 0; i < place_.size(); ++i) in_problem[i] = level[place_[i]];
    const std::vector<uint8_t> paid = PaidBy(problem_, in_problem);
    Wide key = PricedLoss(prices_, outcome, 1);
    int32_t split = -1;
    int64_t most = -1;
    for (size_t a = 0; a < choice.size(); ++a) {
      if (paid[a] != 0) key += Wide{figures_.fixed[a]} * prices_.loss_weight;
      const int64_t weight = paid[a] != 0 ? figures_.fixed[a] : 0;
      if (choice[a] != Paid::kUndecided || weight <= most) continue;
      most = weight;
      split = static_cast<int32_t>(a);
    }
    if (!best_ || key < best_key_ || (key == best_key_ && ComesBefore(level, *best_))) {
      best_key_ = key;
      best_ = std::move(level);
    }
    return split;
  }

  bool ComesBefore(const std::vector<uint8_t>& ours, const std::vector<uint8_t>& theirs) const {
    const Problem& p = figures_.problem;
    int32_t decider = -1;
    for (int32_t i = 0; i < p.size(); ++i) {
      if (ours[place_[i]] != theirs[place_[i]] && (decider < 0 || p.tie[i] < p.tie[decider])) decider = i;
    }
    return decider >= 0 && ours[place_[decider]] < theirs[place_[decider]];
  }

  const Problem& problem_;
  const Figures figures_;
  const Stop& stop_;
  Core core_;
  std::vector<int32_t> place_;
  Prices prices_;
  std::priority_queue<State, std::vector<State>, Later> open_;
  int64_t pushed_ = 0;
  std::optional<std::vector<uint8_t>> best_;
  Wide best_key_ = 0;
};

}  // namespace

std::vector<uint8_t> PaidBy(const Problem& problem, const std::vector<uint8_t>& level) {
  std::vector<uint8_t> paid;
  for (const FixedCost& fixed : problem.fixed) {
    paid.push_back(std::any_of(fixed.users.begin(), fixed.users.end(), [&](const FixedCost::User& user) {
      return ((user.levels >> level[user.node]) & 1) != 0;
    }));
  }
  return paid;
}

void SumUp(const Problem& problem, Solution* solution) {
  solution->loss = 0;
  solution->used.assign(problem.resources, 0);
  for (int64_t i = 0; i < problem.size(); ++i) {
    const int64_t row = i * kLevels + solution->level[i];
    solution->loss += problem.loss[row];
    for (int k = 0; k < problem.resources; ++k) solution->used[k] += problem.cost[row * problem.resources + k];
  }
  solution->paid = PaidBy(problem, solution->level);
  for (size_t a = 0; a < problem.fixed.size(); ++a) {
    if (solution->paid[a] == 0) continue;
    for (int k = 0; k < problem.resources; ++k) solution->used[k] += problem.fixed[a].cost[k];
  }
}

bool RemoveUnpaid(const Core& core, const std::vector<FixedCost>& fixed, const std::vector<int32_t>& place,
                  const PaidChoice& choice, std::vector<uint8_t>* sets) {
  for (size_t a = 0; a < choice.size(); ++a) {
    if (choice[a] != Paid::kNo) continue;
    for (const FixedCost::User& user : fixed[a].users) {
      (*sets)[place[user.node]] &= static_cast<uint8_t>(~(SpreadMask(user.levels) & ~kLone));
    }
  }
  if (!PruneSets(core.parent, *sets)) return false;
  ReachSets(core.parent, *sets);
  return true;
}

std::vector<int32_t> PlacesOf(const Core& core) {
  std::vector<int32_t> place(core.size());
  for (int32_t i = 0; i < core.size(); ++i) place[core.origin.empty() ? i : core.origin[i]] = i;
  return place;
}

std::optional<FreePlan> LeastLossThenMoney(const Core& core, const Problem& problem, int64_t visits, const Stop& stop) {
  std::vector<uint8_t> sets;
  if (!KeepReach(core, Prices(), Reach(), &sets, stop)) return std::nullopt;
  FreeSearch search(problem,
                    FiguresOf(problem,
                              [&](const int64_t* cost) {
                                int64_t money = 0;
                                for (int k = 0; k < problem.resources; ++k) money += problem.money[k] * cost[k];
                                return money;
                              }),
                    sets, stop);
  if (!search.Run(visits)) return std::nullopt;
  FreePlan plan;
  plan.proved = search.proved();
  for (const int32_t place : PlacesOf(core)) plan.level.push_back(search.level()[place]);
  return plan;
}

int64_t LeastUseOf(const Core& core, const Problem& problem, int k) {
  const Stop never;
  FreeSearch search(problem, FiguresOf(problem, [k](const int64_t* cost) { return cost[k]; }), core.sets, never);
  search.Run(kLeastUseVisits);
  return search.bound();
}

}  // namespace scantling::budget
