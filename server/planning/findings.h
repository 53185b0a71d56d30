// What is told of a plan beside its decisions: memory, crowds, steadiness, twins.

#ifndef SCANTLING_SERVER_PLANNING_FINDINGS_H_
#define SCANTLING_SERVER_PLANNING_FINDINGS_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/budget/stable.h"
#include "server/legibility/crowds.h"
#include "server/planning/plan_shot.h"
#include "server/planning/shot_solver.h"

namespace scantling {

// The earlier decisions of a request by node, with their margins in quanta.
struct EarlierByNode {
  budget::Earlier earlier;
  int64_t known = 0, unknown = 0;
};
EarlierByNode EarlierOf(const PlannedShot& shot, const PlanRequest& request);

// All but crowds' figures. `found` is the plan of shot.solution.
PlanFindings FindingsOf(const PlannedShot& shot, const EarlierByNode& earlier, const budget::StableSolution& found);

// Twins found before, of the same members: they stand as long as none of these is measured again.
struct KnownTwins {
  std::vector<uint32_t> kept;  // rows
  Twins twins;
};

// What became of the crowds. Where the stop comes in twins are not looked for. `known`, where given, is read and
// brought up to date; `moved`: per row 1 where what is known does not hold.
std::vector<CrowdFigures> CrowdFiguresOf(const PlannedShot& shot, const Stop& stop, std::vector<KnownTwins>* known,
                                         std::span<const uint8_t> moved);

// Fills shot.plan, and the crowds' figures in its findings. On up to two threads.
void AnswerShot(int threads, const Stop& stop, PlannedShot& shot, std::vector<KnownTwins>* known = nullptr,
                std::span<const uint8_t> moved = {});

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_FINDINGS_H_
