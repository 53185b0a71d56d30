// A plan as a layout artist reads it: who needs animating, what becomes of the rest, what it costs, what is proved.
//
// Pure functions of the plan: same plan, same text. Nothing in an id can steer a terminal.

#ifndef SCANTLING_CLIENT_COMMAND_PLAN_TEXT_H_
#define SCANTLING_CLIENT_COMMAND_PLAN_TEXT_H_

#include <string>

#include "client/command/units.h"
#include "scantling/v1/plan.pb.h"

namespace scantling::client {

struct PlanTextOptions {
  WorkUnit unit = WorkUnit::kHours;
  bool all = false;              // one line per object instead of grouping alike ones
  std::string filter_text = {};  // what the decisions were filtered by; empty: nothing
};

// The whole report. `plan` holds the decisions to show, already filtered and sorted; its totals are of the whole plan.
// O(decisions log decisions).
std::string PlanText(const v1::Plan& plan, const PlanTextOptions& options);

// Its parts, in order. Each ends with a line break; a part with nothing to say is empty.
std::string HeaderText(const v1::Plan& plan, const PlanTextOptions& options);
std::string AnimationListText(const v1::Plan& plan, const PlanTextOptions& options);  // who needs animating
std::string RestText(const v1::Plan& plan, const PlanTextOptions& options);           // what becomes of the rest
std::string ChangeText(const v1::Plan& plan, const PlanTextOptions& options);         // plan_change_text.cc
std::string CostText(const v1::Plan& plan, const PlanTextOptions& options);           // plan_cost_text.cc
std::string MemoryText(const v1::Plan& plan);                                         // plan_cost_text.cc
std::string ProofText(const v1::Plan& plan);                                          // plan_cost_text.cc
std::string LimitsText(const v1::Plan& plan, const PlanTextOptions& options);         // plan_limits_text.cc
std::string CrowdsText(const v1::Plan& plan);                                         // plan_limits_text.cc

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_PLAN_TEXT_H_
