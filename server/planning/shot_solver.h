// Solves a shot's choice within all its limits.
//
// Hours are limited by the budgets; what of a crowd must stay, and what memory a frame may need, by limits of which
// most shots have many that never bind. So those are added as they turn out to be violated, the worst first, and the
// problem is solved again: a bound proved with fewer limits holds with more, and the last plan meets them all.

#ifndef SCANTLING_SERVER_PLANNING_SHOT_SOLVER_H_
#define SCANTLING_SERVER_PLANNING_SHOT_SOLVER_H_

#include <cstdint>
#include <functional>
#include <optional>
#include <set>
#include <tuple>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/budget/budget.h"
#include "server/budget/stable.h"
#include "server/planning/plan_shot.h"

namespace scantling {

// A way of solving in place of budget::Solve's, for who knows something of the problem already. Not used where alike
// groups are merged.
using SolveWith = std::function<absl::StatusOr<budget::Solution>(const budget::Problem&, const budget::Effort&)>;

// Losses of the problem by phi scale; budgets; earlier decisions.
struct SolveWish {
  int phi = kPhiAsGiven;
  Budgets budgets;
  double target_gap = 1e-6;
  const budget::Earlier* earlier = nullptr;  // by node; none: nothing is kept to
  SolveWith with = nullptr;                  // none: budget::Solve
};

class ShotSolver {
 public:
  // Adds limits to shot.choice as it goes; shot is otherwise read. All must outlive it.
  ShotSolver(PlannedShot& shot, const Stop& stop);

  // The solution's resources are shot.choice.resources as they stand after the call. `free` equals `solution` where
  // nothing is kept to. Errors: FAILED_PRECONDITION where no plan meets the limits (those found so far stand in the
  // choice, with their capacities), INVALID_ARGUMENT where more limits bind than a problem may have; as budget::Solve.
  // A frame whose memory no resource was left for goes over its limit.
  absl::StatusOr<budget::StableSolution> Solve(const SolveWish& wish);

  // Adds limits of crowds that bounded an earlier plan of the shot, as far as there are such crowds and room.
  void AddAgain(const std::vector<Resource>& limits);

  // Sets the hours' and the frames' capacities; those of crowds always stand.
  void SetCapacities(const Budgets& budgets);

  // Adds what the plan violates. True where it added some; false where nothing is violated that can be added.
  absl::StatusOr<bool> AddViolated(const budget::Solution& solution, const Budgets& budgets);

 private:
  // Solves the problem as it stands, alike groups honoured.
  absl::StatusOr<budget::Solution> SolveOnce(const budget::Problem& problem, const SolveWish& wish) const;

  using LimitKey = std::tuple<LimitKind, uint32_t, int32_t>;  // kind; crowd; cell or frame

  bool Has(LimitKind kind, uint32_t crowd, int32_t cell_or_frame) const;
  bool MakeRoom(const budget::Solution& solution);
  std::vector<LimitKey> Violated(const budget::Solution& solution, const Budgets& budgets);
  void FindShortCrowds(const budget::Solution& solution, std::vector<LimitKey>& violated);
  void FindShortCells(const budget::Solution& solution, uint32_t crowd, std::vector<LimitKey>& violated);
  void FindFullestFrames(const budget::Solution& solution, double most_mb, std::vector<LimitKey>& violated) const;
  void Add(const LimitKey& limit, const Budgets& budgets);

  PlannedShot& shot_;
  const Stop& stop_;
  std::set<LimitKey> dropped_;  // once each at most
};

// The tier of every object, by row.
std::vector<Tier> TiersByRow(const Choice& choice, const budget::Solution& solution);

// How hard to search a problem.
budget::Effort EffortFor(const budget::Problem& problem, double target_gap);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_SHOT_SOLVER_H_
