// The stages in order.
//
// The unseen plan is solved at each phi scale whatever the mode, since savings are told against it; in unseen mode the
// one with phi as given is the plan, unless an earlier plan is kept to.

#include "server/planning/plan_shot.h"

#include <utility>

#include "server/planning/findings.h"
#include "server/planning/no_plan.h"
#include "server/planning/prepare.h"
#include "server/planning/shot_solver.h"

namespace scantling {
namespace {

// Least loss, then least money, at every phi scale.
absl::Status SolveUnseen(ShotSolver& solver, const SolveWays& ways, PlannedShot& shot) {
  for (int phi = 0; phi < kPhiScales; ++phi) {
    SolveWish wish;
    wish.phi = phi;
    if (ways.unseen) {
      wish.with = [&, phi](const budget::Problem& problem, const budget::Effort& effort) {
        return ways.unseen(phi, problem, effort);
      };
    }
    absl::StatusOr<budget::StableSolution> solved = solver.Solve(wish);
    if (!solved.ok()) return solved.status();
    shot.unseen[static_cast<size_t>(phi)] = std::move(solved->solution);
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status SolveChoice(const PlanRequest& request, const Stop& stop, const SolveWays& ways, PlannedShot& shot) {
  ShotSolver solver(shot, stop);
  if (absl::Status unseen = SolveUnseen(solver, ways, shot); !unseen.ok()) return unseen;
  const EarlierByNode earlier = EarlierOf(shot, request);
  budget::StableSolution found = {shot.unseen[kPhiAsGiven], shot.unseen[kPhiAsGiven]};
  if (!request.budgets.unseen_mode() || earlier.known > 0) {
    solver.AddAgain(ways.limits);
    SolveWish wish;
    wish.budgets = request.budgets;
    wish.target_gap = request.target_gap;
    if (earlier.known > 0) {
      wish.earlier = &earlier.earlier;
    } else {
      wish.with = ways.plan;
    }
    absl::StatusOr<budget::StableSolution> solved = solver.Solve(wish);
    if (!solved.ok()) return solved.status();
    found = *std::move(solved);
  }
  shot.solution = found.solution;
  shot.findings = FindingsOf(shot, earlier, found);
  return absl::OkStatus();
}

absl::StatusOr<std::unique_ptr<PlannedShot>> PlanShot(Scene scene, const PlanContext& context,
                                                      const PlanRequest& request, PlanFaults& faults) {
  auto shot = std::make_unique<PlannedShot>();
  StageTimer timer(shot->clocks);
  if (absl::Status status = Prepare(std::move(scene), context, request, timer, *shot, faults); !status.ok()) {
    return status;
  }

  if (context.progress) context.progress("solving", 0);
  if (absl::Status solved = SolveChoice(request, context.stop, {}, *shot); !solved.ok()) {
    if (absl::IsFailedPrecondition(solved)) faults.no_plan = WhatWouldFit(*shot, context.stop);
    return solved;
  }
  timer.Ended("solving");

  if (context.progress) context.progress("answering", 0);
  AnswerShot(request.threads, context.stop, *shot);
  timer.Ended("answering");
  return shot;
}

}  // namespace scantling
