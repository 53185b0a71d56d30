// Where no plan fits: what would, and what stands in the way.

#ifndef SCANTLING_SERVER_PLANNING_NO_PLAN_H_
#define SCANTLING_SERVER_PLANNING_NO_PLAN_H_

#include "server/planning/plan_shot.h"
#include "server/planning/shot_solver.h"

namespace scantling {

// After ShotSolver::Solve() found that nothing fits; capacities stand in shot.choice as they were then. Where the stop
// comes in, what was found so far.
NoPlanFits WhatWouldFit(const PlannedShot& shot, const Stop& stop);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_NO_PLAN_H_
