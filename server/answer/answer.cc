// Decisions in canonical order, then their totals.

#include "server/answer/answer.h"

#include "server/answer/reason.h"
#include "server/answer/totals.h"

namespace scantling {
namespace {

Decision DecisionOf(const AnswerInput& input, uint32_t node) {
  const uint32_t row = input.choice.row_of_node[node];
  const auto level = static_cast<size_t>(input.solution.level[node]);
  Decision decision;
  decision.object = row;
  decision.tier = static_cast<Tier>(level);
  decision.reason = ReasonOf(input, node);
  decision.needs_animation = NeedsAnimation(input, node);
  if (decision.needs_animation) {
    decision.hold = input.holds.pose[row];
    decision.path_hold = input.holds.split[row] == PathSplit::kWithPoses ? decision.hold : input.holds.path[row];
  }
  decision.anim_hours = input.costs.anim_hours[row][level];
  decision.core_hours = input.costs.core_hours[row][level];
  if (input.choice.has_other_hours()) decision.other_hours = input.costs.other_hours[row][level];
  if (!input.findings.earlier.empty()) decision.earlier = input.findings.earlier[node];
  decision.loss = input.legibility.loss[row][kPhiAsGiven][level];
  return decision;
}

}  // namespace

Plan AnswerOf(const AnswerInput& input) {
  Plan plan;
  plan.decisions.reserve(input.choice.row_of_node.size());
  for (uint32_t node = 0; node < input.choice.row_of_node.size(); ++node) {
    plan.decisions.push_back(DecisionOf(input, node));
  }
  plan.totals = TotalsOf(input, plan.decisions);
  return plan;
}

}  // namespace scantling
