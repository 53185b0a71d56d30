// What is told of a plan beside its decisions: memory, crowds, steadiness, twins.

#ifndef SCANTLING_SERVER_PLANNING_FINDINGS_H_
#define SCANTLING_SERVER_PLANNING_FINDINGS_H_

#include "server/budget/stable.h"
#include "server/planning/plan_shot.h"
#include "server/planning/shot_solver.h"

namespace scantling {

// The earlier decisions of a request by node, with their margins in quanta.
struct EarlierByNode {
  budget::Earlier earlier;
  int64_t known = 0, unknown = 0;
};
EarlierByNode EarlierOf(const PlannedShot& shot, const PlanRequest& request);

// `found` is the plan of shot.solution. Where the stop comes in twins are not looked for.
PlanFindings FindingsOf(const PlannedShot& shot, const EarlierByNode& earlier, const budget::StableSolution& found,
                        const Stop& stop);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_FINDINGS_H_
