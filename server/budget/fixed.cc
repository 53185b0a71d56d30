// Solve() and LeastUse() with fixed costs: which are paid is decided, the rest is a problem without them.
//
// A state says of each fixed cost whether it is paid, not paid or undecided. Paid: its cost comes off the capacities.
// Not paid: the levels that need it leave the users' masks. Undecided: it is not charged, which only makes the problem
// easier, so that its bound holds. States are taken up best bound first until all are closed.

#include "server/budget/fixed.h"

#include <algorithm>
#include <optional>
#include <queue>
#include <utility>

#include "server/budget/branch.h"
#include "server/budget/fixed_free.h"
#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

absl::Status NothingFits() {
  return absl::FailedPreconditionError("no plan meets the capacities: it is proved that none exists");
}

absl::Status NoPlan() {
  return absl::FailedPreconditionError("the allowed levels admit no plan: some node cannot follow its ancestors");
}

absl::Status Stopped(const Stop& stop) {
  return stop.Cancelled() ? absl::CancelledError("cancelled before any plan was found")
                          : absl::DeadlineExceededError("the deadline passed before any plan was found");
}

struct State {
  int64_t bound = 0;
  int64_t id = 0;
  PaidChoice choice;
};

struct Later {
  bool operator()(const State& a, const State& b) const { return a.bound != b.bound ? a.bound > b.bound : a.id > b.id; }
};

class PaidSearch {
 public:
  PaidSearch(const Problem& problem, const Effort& effort, const Stop& stop, const Problem& bare, int64_t least_loss)
      : problem_(problem), effort_(effort), stop_(stop), bare_(bare) {
    open_.push({least_loss, 0, PaidChoice(problem.fixed.size(), Paid::kUndecided)});
  }

  absl::StatusOr<Solution> Run() {
    int64_t reached = 0;
    int64_t visited = 0;
    while (!open_.empty() && !stop_.Requested()) {
      State state = open_.top();
      reached = std::max(reached, state.bound);
      if (best_ && CloseEnough(state.bound)) break;
      if (visited > 0 && visited >= effort_.branch_nodes) break;
      open_.pop();
      ++visited;
      Visit(std::move(state));
    }
    if (best_) {
      best_->bound = open_.empty() ? std::min(unproved_, best_->loss) : std::min({reached, unproved_, best_->loss});
      best_->proved_optimal = best_->bound == best_->loss;
      best_->interrupted = !best_->proved_optimal && stop_.Requested();
      best_->branched += visited;
      return *std::move(best_);
    }
    if (open_.empty() && !some_unproved_) return NothingFits();
    if (stop_.Requested()) return Stopped(stop_);
    return absl::FailedPreconditionError(
        "no plan was found that meets the capacities, though none was proved not to exist");
  }

 private:
  bool CloseEnough(int64_t bound) const {
    const double loss = static_cast<double>(best_->loss);
    return loss - static_cast<double>(bound) <= effort_.target_gap * std::max(loss, 1.0);
  }

  // False where the state admits no plan at all.
  bool Restrict(const PaidChoice& choice, Problem* restricted) const {
    restricted->allowed = bare_.allowed;
    restricted->capacity = bare_.capacity;
    for (size_t a = 0; a < choice.size(); ++a) {
      const FixedCost& fixed = problem_.fixed[a];
      if (choice[a] == Paid::kNo) {
        for (const FixedCost::User& user : fixed.users) {
          if ((restricted->allowed[user.node] &= ~user.levels) == 0) return false;
        }
      } else if (choice[a] == Paid::kYes) {
        for (int k = 0; k < problem_.resources; ++k) {
          if (restricted->capacity[k] && (*restricted->capacity[k] -= fixed.cost[k]) < 0) return false;
        }
      }
    }
    return true;
  }

  void Visit(State state) {
    Problem restricted = bare_;
    if (!Restrict(state.choice, &restricted)) return;
    const int32_t undecided = FirstUndecided(state.choice);
    Effort effort = effort_;
    if (undecided >= 0) effort.branch_nodes = 0;
    absl::StatusOr<Solution> solution = Solve(restricted, effort, stop_);
    if (solution.ok()) {
      state.bound = std::max(state.bound, solution->bound);
      Offer(*std::move(solution));
    } else if (ProvesNone(restricted)) {
      return;
    }
    if (best_ && state.bound >= best_->loss) return;
    if (undecided < 0) {
      if (!solution.ok()) some_unproved_ = true;
      unproved_ = std::min(unproved_, state.bound);
      return;
    }
    for (const Paid paid : {Paid::kNo, Paid::kYes}) {
      State child = {state.bound, ++pushed_, state.choice};
      child.choice[undecided] = paid;
      open_.push(std::move(child));
    }
  }

  static int32_t FirstUndecided(const PaidChoice& choice) {
    for (size_t a = 0; a < choice.size(); ++a) {
      if (choice[a] == Paid::kUndecided) return static_cast<int32_t>(a);
    }
    return -1;
  }

  // After a Solve() that found nothing: whether there is nothing.
  bool ProvesNone(const Problem& restricted) const {
    Core core = CoreOf(restricted);
    RemoveOversized(restricted.capacity, &core);
    if (!PruneSets(core.parent, core.sets)) return true;
    ReachSets(core.parent, core.sets);
    const Frugal frugal = FindFrugal(core, restricted.capacity, stop_);
    if (frugal.impossible) return true;
    if (core.size() > effort_.branch_size || effort_.branch_nodes == 0) return false;
    BranchOptions options;
    options.high = HighestPrices(core, restricted.capacity, frugal.closest, nullptr);
    options.start.loss_weight = options.high.loss_weight;
    options.nodes = effort_.branch_nodes;
    std::optional<Plan> none;
    return Branch(core, restricted.capacity, options, stop_, &none).exhausted && !none;
  }

  void Offer(Solution solution) {
    SumUp(problem_, &solution);
    for (int k = 0; k < problem_.resources; ++k) {
      if (problem_.capacity[k] && solution.used[k] > *problem_.capacity[k]) return;
    }
    if (!best_ || solution.loss < best_->loss) best_ = std::move(solution);
  }

  const Problem& problem_;
  const Effort& effort_;
  const Stop& stop_;
  const Problem& bare_;
  std::priority_queue<State, std::vector<State>, Later> open_;
  int64_t pushed_ = 0;
  std::optional<Solution> best_;
  int64_t unproved_ = kMaxTotal;  // least bound of decided states that stayed open
  bool some_unproved_ = false;
};

bool Fits(const Problem& problem, const std::vector<int64_t>& used) {
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k] && used[k] > *problem.capacity[k]) return false;
  }
  return true;
}

Problem Bare(const Problem& problem) {
  Problem bare = problem;
  bare.fixed.clear();
  return bare;
}

}  // namespace

absl::StatusOr<Solution> SolveWithFixedCosts(const Problem& problem, const Effort& effort, const Stop& stop) {
  if (stop.Requested()) return Stopped(stop);
  const Problem bare = Bare(problem);
  Core core = CoreOf(bare);
  if (!PruneSets(core.parent, core.sets)) return NoPlan();
  ReachSets(core.parent, core.sets);
  const std::optional<FreePlan> free = LeastLossThenMoney(core, problem, effort.branch_nodes, stop);
  if (!free) return Stopped(stop);
  Solution solution;
  solution.level = free->level;
  SumUp(problem, &solution);
  if (Fits(problem, solution.used)) {
    solution.bound = solution.loss;
    solution.proved_optimal = true;
    solution.price.assign(problem.resources, 0.0);
    return solution;
  }
  return PaidSearch(problem, effort, stop, bare, solution.loss).Run();
}

absl::StatusOr<std::vector<int64_t>> LeastUseWithFixedCosts(const Problem& problem) {
  const Problem bare = Bare(problem);
  Core core = CoreOf(bare);
  if (!PruneSets(core.parent, core.sets)) return NoPlan();
  ReachSets(core.parent, core.sets);
  std::vector<int64_t> least;
  for (int k = 0; k < problem.resources; ++k) least.push_back(LeastUseOf(core, problem, k));
  return least;
}

}  // namespace scantling::budget
