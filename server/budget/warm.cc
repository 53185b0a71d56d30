// When to trust what was saved, and when to start from scratch.
//
// A change is checked before anything is touched. Then either the saved state takes it (WarmCore), which costs work in
// proportion to the trees that changed and to the few thousand nodes left open, or, where much changed or the saved
// state says it is of no use, Solve() starts from scratch and the state is prepared anew. Where the warm answer misses
// the target gap Solve() tries as well; the better plan and the higher bound stand, so answers are never worse than
// those of Solve() with the same effort.

#include "server/budget/warm.h"

#include <algorithm>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "server/budget/trees.h"
#include "server/budget/warm_state.h"

namespace scantling::budget {
namespace {

constexpr int64_t kMostChanged = 10;    // one part in so many of the nodes may be in changed trees
constexpr int64_t kAlwaysWarm = 1'000;  // but so many always may
constexpr size_t kFaultsListed = 20;    // faults spelt out; more are only counted

absl::Status FaultsOf(const std::vector<std::string>& faults) {
  if (faults.empty()) return absl::OkStatus();
  const size_t listed = std::min(faults.size(), kFaultsListed);
  std::string text = absl::StrJoin(faults.begin(), faults.begin() + static_cast<int64_t>(listed), "; ");
  if (faults.size() > listed) absl::StrAppend(&text, "; and ", faults.size() - listed, " more");
  return absl::InvalidArgumentError(text);
}

bool TooMany(int64_t changed, int64_t nodes) { return changed > std::max(kAlwaysWarm, nodes / kMostChanged); }

// Sums over nodes of each node's largest figure, as Validate() takes them.
struct Totals {
  Wide loss = 0;
  std::array<Wide, kMaxResources> cost{};

  void Add(int64_t sign, const int64_t* loss_row, const int64_t* cost_row, int resources) {
    loss += sign * *std::max_element(loss_row, loss_row + kLevels);
    for (int k = 0; k < resources; ++k) {
      int64_t most = 0;
      for (int level = 0; level < kLevels; ++level) most = std::max(most, cost_row[level * resources + k]);
      cost[k] += sign * most;
    }
  }
};

Totals TotalsOf(const Problem& problem) {
  Totals totals;
  const int64_t row = int64_t{kLevels} * problem.resources;
  for (int64_t i = 0; i < problem.size(); ++i) {
    totals.Add(1, problem.loss.data() + i * kLevels, problem.cost.data() + i * row, problem.resources);
  }
  for (const FixedCost& fixed : problem.fixed) {
    for (int k = 0; k < problem.resources; ++k) totals.cost[k] += fixed.cost[k];
  }
  return totals;
}

void CheckChange(const Problem& problem, const RowChange& change, size_t number, std::vector<std::string>* faults) {
  const std::string name = absl::StrCat("changes[", number, "]");
  if (change.node < 0 || change.node >= problem.size()) {
    faults->push_back(absl::StrCat(name, ".node: got ", change.node, ", want 0 to ", problem.size() - 1));
  }
  if (change.allowed == 0 || change.allowed > 15) {
    faults->push_back(absl::StrCat(name, ".allowed: got ", int{change.allowed}, ", want 1 to 15"));
  }
  for (int level = 0; level < kLevels; ++level) {
    if (change.loss[level] >= 0) continue;
    faults->push_back(absl::StrCat(name, ".loss[", level, "]: got ", change.loss[level], ", want 0 or more"));
  }
  const size_t want = size_t{kLevels} * problem.resources;
  if (change.cost.size() != want) {
    faults->push_back(absl::StrCat(name, ".cost: got ", change.cost.size(), " entries, want ", want));
  }
  for (size_t c = 0; c < change.cost.size(); ++c) {
    if (change.cost[c] >= 0) continue;
    faults->push_back(absl::StrCat(name, ".cost[", c, "]: got ", change.cost[c], ", want 0 or more"));
  }
}

void CheckTwice(std::span<const RowChange> changes, std::vector<std::string>* faults) {
  std::vector<int32_t> nodes;
  for (const RowChange& change : changes) nodes.push_back(change.node);
  std::sort(nodes.begin(), nodes.end());
  for (size_t i = 1; i < nodes.size(); ++i) {
    if (nodes[i] != nodes[i - 1] || (i > 1 && nodes[i] == nodes[i - 2])) continue;
    faults->push_back(absl::StrCat("changes: got node ", nodes[i], " more than once, want each node once"));
  }
}

void CheckCapacity(const std::vector<std::optional<int64_t>>& capacity, int resources,
                   std::vector<std::string>* faults) {
  if (capacity.size() != static_cast<size_t>(resources)) {
    faults->push_back(absl::StrCat("capacity: got ", capacity.size(), " entries, want ", resources));
  }
  for (size_t k = 0; k < capacity.size(); ++k) {
    if (!capacity[k] || *capacity[k] >= 0) continue;
    faults->push_back(absl::StrCat("capacity[", k, "]: got ", *capacity[k], ", want 0 or more"));
  }
}

void CheckTotals(const Totals& totals, const Problem& problem, std::vector<std::string>* faults) {
  const auto too_much = [faults](const std::string& name) {
    faults->push_back(absl::StrCat(name, ": the largest total exceeds 2^61, want coarser units"));
  };
  if (totals.loss > kMaxTotal) too_much("loss");
  Wide money = 0;
  for (int k = 0; k < problem.resources; ++k) {
    if (totals.cost[k] > kMaxTotal) return too_much(absl::StrCat("cost of resource ", k));
    money += totals.cost[k] * problem.money[k];
    if (money > kMaxTotal) return too_much(absl::StrCat("money up to resource ", k));
  }
}

absl::Status CheckWas(const Problem& next, std::span<const int32_t> was, const Problem& old) {
  std::vector<std::string> faults;
  if (static_cast<int64_t>(was.size()) != next.size()) {
    faults.push_back(absl::StrCat("was: got ", was.size(), " entries, want ", next.size()));
    return FaultsOf(faults);
  }
  std::vector<uint8_t> seen(old.size(), 0);
  for (size_t i = 0; i < was.size(); ++i) {
    if (was[i] < -1 || was[i] >= old.size()) {
      faults.push_back(absl::StrCat("was[", i, "]: got ", was[i], ", want -1 or a node below ", old.size()));
    } else if (was[i] >= 0 && seen[was[i]]++ == 1) {
      faults.push_back(absl::StrCat("was: got node ", was[i], " more than once, want each node once"));
    }
  }
  return FaultsOf(faults);
}

}  // namespace

struct WarmSolver::State {
  Problem problem;
  Effort effort;
  Solution solution;
  Totals totals;
  WarmCore warm;       // points into problem
  bool ready = false;  // warm holds for the problem as it is
  Excuse excuse;       // from the last fresh solve

  absl::Status CheckChanges(std::span<const RowChange> changes,
                            const std::vector<std::optional<int64_t>>& capacity) const {
    std::vector<std::string> faults;
    for (size_t i = 0; i < changes.size(); ++i) CheckChange(problem, changes[i], i, &faults);
    CheckTwice(changes, &faults);
    CheckCapacity(capacity, problem.resources, &faults);
    if (faults.empty()) CheckTotals(TotalsWith(changes), problem, &faults);
    return FaultsOf(faults);
  }

  Totals TotalsWith(std::span<const RowChange> changes) const {
    Totals after = totals;
    const int64_t row = int64_t{kLevels} * problem.resources;
    for (const RowChange& change : changes) {
      after.Add(-1, problem.loss.data() + int64_t{change.node} * kLevels, problem.cost.data() + change.node * row,
                problem.resources);
      after.Add(1, change.loss.data(), change.cost.data(), problem.resources);
    }
    return after;
  }

  void Apply(std::span<const RowChange> changes, const std::vector<std::optional<int64_t>>& capacity) {
    totals = TotalsWith(changes);
    const int64_t row = int64_t{kLevels} * problem.resources;
    for (const RowChange& change : changes) {
      problem.allowed[change.node] = change.allowed;
      std::copy(change.loss.begin(), change.loss.end(), problem.loss.begin() + int64_t{change.node} * kLevels);
      std::copy(change.cost.begin(), change.cost.end(), problem.cost.begin() + change.node * row);
    }
    problem.capacity = capacity;
  }

  // Takes the changes into the saved state; false where it is then of no use.
  bool ApplyWarm(std::span<const RowChange> changes, const std::vector<std::optional<int64_t>>& capacity) {
    std::vector<int32_t> nodes;
    for (const RowChange& change : changes) nodes.push_back(change.node);
    if (!ready || TooMany(warm.NodesIn(nodes), problem.size())) {
      Apply(changes, capacity);
      return false;
    }
    warm.TakeOut(nodes);
    Apply(changes, capacity);
    return warm.PutBack(problem);
  }

  absl::Status SolveFromScratch(const Stop& stop) {
    ready = false;
    absl::StatusOr<Solution> solved = Solve(problem, effort, stop);
    if (!solved.ok()) {
      solution = Solution();
      return solved.status();
    }
    solution = *std::move(solved);
    excuse.Note(solution, effort.target_gap);
    ready = problem.fixed.empty() && !stop.Requested() && warm.Prepare(problem, solution, stop);
    return absl::OkStatus();
  }

  absl::Status SolveWarm(const Stop& stop) {
    std::optional<Solution> found = warm.Solve(problem, effort, excuse, stop);
    if (!found) return SolveFromScratch(stop);
    if (found->loss <= excuse.EnoughWith(found->bound, effort.target_gap) || stop.Requested()) {
      solution = *std::move(found);
      return absl::OkStatus();
    }
    if (!SolveFromScratch(stop).ok()) {
      solution = *std::move(found);
      return absl::OkStatus();
    }
    const int64_t bound = std::max(found->bound, solution.bound);
    if (found->loss < solution.loss) {
      found->branched = solution.branched;
      solution = *std::move(found);
    }
    solution.bound = std::min(bound, solution.loss);
    solution.proved_optimal = solution.bound == solution.loss;
    solution.interrupted = stop.Requested() && solution.loss > EnoughFor(solution.bound, effort.target_gap);
    excuse.Note(solution, effort.target_gap);
    return absl::OkStatus();
  }
};

WarmSolver::WarmSolver(std::unique_ptr<State> state) : state_(std::move(state)) {}
WarmSolver::WarmSolver(WarmSolver&&) noexcept = default;
WarmSolver& WarmSolver::operator=(WarmSolver&&) noexcept = default;
WarmSolver::~WarmSolver() = default;

const Problem& WarmSolver::problem() const { return state_->problem; }
const Solution& WarmSolver::solution() const { return state_->solution; }
void WarmSolver::SetEffort(const Effort& effort) { state_->effort = effort; }

absl::StatusOr<WarmSolver> WarmSolver::Start(Problem problem, const Effort& effort, const Stop& stop) {
  auto state = std::make_unique<State>();
  state->problem = std::move(problem);
  state->effort = effort;
  if (absl::Status status = state->SolveFromScratch(stop); !status.ok()) return status;
  state->totals = TotalsOf(state->problem);
  return WarmSolver(std::move(state));
}

absl::Status WarmSolver::Resolve(std::span<const RowChange> changes,
                                 const std::vector<std::optional<int64_t>>& capacity, const Stop& stop) {
  State& state = *state_;
  if (absl::Status status = state.CheckChanges(changes, capacity); !status.ok()) return status;
  return state.ApplyWarm(changes, capacity) ? state.SolveWarm(stop) : state.SolveFromScratch(stop);
}

absl::Status WarmSolver::Rebase(Problem next, std::span<const int32_t> was, const Stop& stop) {
  if (absl::Status status = Validate(next); !status.ok()) return status;
  if (absl::Status status = CheckWas(next, was, state_->problem); !status.ok()) return status;
  auto state = std::make_unique<State>();
  state->effort = state_->effort;
  state->excuse = state_->excuse;
  state->problem = std::move(next);
  state->totals = TotalsOf(state->problem);
  const Problem &now = state->problem, &then = state_->problem;
  if (state_->ready && now.fixed.empty() && now.resources == then.resources && now.money == then.money) {
    const std::vector<uint8_t> changed = ChangedTrees(now, was, then);
    state->ready = !TooMany(std::count(changed.begin(), changed.end(), 1), now.size()) &&
                   state->warm.TakeOver(now, changed, was, state_->warm);
  }
  state_ = std::move(state);
  return state_->ready ? state_->SolveWarm(stop) : state_->SolveFromScratch(stop);
}

}  // namespace scantling::budget
