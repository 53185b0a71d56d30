// Flags that plan, explain and frontier share: budgets, style, the earlier plan, and the unit amounts of animation are
// told in.

#ifndef SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_
#define SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_

#include <string>

#include "CLI/CLI.hpp"
#include "absl/status/statusor.h"
#include "scantling/v1/plan.pb.h"

namespace scantling::client {

// Numbers hold only where their option was given.
struct BudgetFlags {
  std::string style;  // empty: the shot's own
  bool share_holds = false, alike = false;
  double anim_hours = 0, core_hours = 0, other_hours = 0, memory_mb = 0, target_gap = 0;
  CLI::Option* has_anim_hours = nullptr;
  CLI::Option* has_core_hours = nullptr;
  CLI::Option* has_other_hours = nullptr;
  CLI::Option* has_memory_mb = nullptr;
  CLI::Option* has_target_gap = nullptr;
};

// Adds --anim-hours, --core-hours, --other-hours, --memory-mb, --target-gap, --alike, --share-holds and --style.
// `flags` must outlive the app.
void AddBudgetFlags(CLI::App& app, BudgetFlags& flags);

struct EarlierFlags {
  std::string file;  // empty: no earlier plan
  double margin = 0, margin_least = 0;
  CLI::Option* has_margin = nullptr;
  CLI::Option* has_margin_least = nullptr;
};

// Adds --earlier, --change-margin and --change-margin-least. `flags` must outlive the app.
void AddEarlierFlags(CLI::App& app, EarlierFlags& flags);

// Adds --units with its four values; `unit` holds the default. The option is the app's.
CLI::Option* AddUnitFlag(CLI::App& app, std::string& unit);

// The flags as the daemon takes them; what was not given stays unset.
v1::PlanOptions OptionsOf(const BudgetFlags& flags);

// The same with the earlier plan, read from its file. Errors as ReadEarlier (earlier_plan.h).
absl::StatusOr<v1::PlanOptions> OptionsOf(const BudgetFlags& flags, const EarlierFlags& earlier);

// What is wrong with a number on the command line; empty: nothing. Zero is a budget.
std::string HoursFault(const std::string& text);  // "got "x", want hours, 0 or more"
std::string MegabytesFault(const std::string& text);
std::string ShareFault(const std::string& text);  // 0 to 1
std::string LossFault(const std::string& text);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_BUDGET_FLAGS_H_
