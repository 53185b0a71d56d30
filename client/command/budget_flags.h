// Flags that plan and explain share: budgets, style, and the unit amounts of animation are told in.

#ifndef SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_
#define SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_

#include <string>

#include "CLI/CLI.hpp"
#include "scantling/v1/plan.pb.h"

namespace scantling::client {

struct BudgetFlags {
  std::string style;  // empty: the shot's own
  bool share_holds = false;
  double anim_hours = 0, core_hours = 0, target_gap = 0;  // hold only where given
  CLI::Option* has_anim_hours = nullptr;
  CLI::Option* has_core_hours = nullptr;
  CLI::Option* has_target_gap = nullptr;
};

// Adds --anim-hours, --core-hours, --target-gap, --share-holds and --style. `flags` must outlive the app.
void AddBudgetFlags(CLI::App& app, BudgetFlags& flags);

// Adds --units with its four values; `unit` holds the default. The option is the app's.
CLI::Option* AddUnitFlag(CLI::App& app, std::string& unit);

// The flags as the daemon takes them; what was not given stays unset.
v1::PlanOptions OptionsOf(const BudgetFlags& flags);

// What is wrong with hours on the command line; empty: nothing. Zero is a budget.
std::string HoursFault(const std::string& text);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_
