// A budget of 0 is a budget and no budget is none, so whether an option was given is asked of CLI11, not of its value.
//
// Numbers are checked as texts: CLI11 reads "nan" and "inf" as numbers, which no budget may be.

#include "client/command/budget_flags.h"

#include <cmath>
#include <limits>

#include "client/command/earlier_plan.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr char kBudgetGroup[] = "Budget";
constexpr char kEarlierGroup[] = "Earlier plan";
constexpr double kNoMost = std::numeric_limits<double>::max();

std::string NumberFault(const std::string& text, double most, const char* want) {
  double value = 0;
  const bool is_number = CLI::detail::lexical_cast(text, value);
  if (is_number && value >= 0 && value <= most) return "";  // false for NaN and infinity
  return "got \"" + Printable(text) + "\", want " + want;
}

CLI::Option* AddBudget(CLI::App& app, const char* name, double& value, const char* description) {
  return app.add_option(name, value, description)->check(HoursFault)->type_name("HOURS")->group(kBudgetGroup);
}

}  // namespace

std::string HoursFault(const std::string& text) { return NumberFault(text, kNoMost, "hours, 0 or more"); }
std::string MegabytesFault(const std::string& text) { return NumberFault(text, kNoMost, "megabytes, 0 or more"); }
std::string ShareFault(const std::string& text) { return NumberFault(text, 1, "a share from 0 to 1"); }
std::string LossFault(const std::string& text) { return NumberFault(text, kNoMost, "frame-octaves, 0 or more"); }

void AddBudgetFlags(CLI::App& app, BudgetFlags& flags) {
  flags.has_anim_hours = AddBudget(app, "--anim-hours", flags.anim_hours,
                                   "Most animator-hours to spend, beyond hours already spent. Without any budget "
                                   "nothing visible is given up");
  flags.has_core_hours = AddBudget(app, "--core-hours", flags.core_hours, "Most core-hours of rendering to spend");
  flags.has_other_hours = AddBudget(app, "--other-hours", flags.other_hours,
                                    "Most hours of the rate card's third department to spend; the card must have one");
  flags.has_memory_mb =
      app.add_option("--memory-mb", flags.memory_mb, "Most memory any frame may need while it is rendered")
          ->check(MegabytesFault)
          ->type_name("MB")
          ->group(kBudgetGroup);
  flags.has_target_gap =
      app.add_option("--target-gap", flags.target_gap,
                     "Stop searching when the loss is within this share of its proved bound. Default: 1e-6")
          ->check(ShareFault)
          ->type_name("SHARE")
          ->group(kBudgetGroup);
  app.add_flag("--alike", flags.alike,
               "Objects of one asset that stand in one container (or in none) and one depth band take one tier")
      ->group(kBudgetGroup);
  app.add_flag("--share-holds", flags.share_holds,
               "What one container holds shares one hold and its phase, as objects of one hold_group always do")
      ->group(kBudgetGroup);
  app.add_option("--style", flags.style, "Style of the film by its name with the daemon. Default: the shot's own")
      ->type_name("NAME")
      ->group(kBudgetGroup);
}

void AddEarlierFlags(CLI::App& app, EarlierFlags& flags) {
  auto* file =
      app.add_option("--earlier", flags.file,
                     "A plan of this shot as plan --format json or csv printed it, whole or filtered (of a table "
                     "only the columns object_id and tier are read). Its decisions are kept unless a change gains "
                     "more than the margin; the new plan then hangs on the earlier one")
          ->type_name("FILE")
          ->check([](const std::string& name) {
            return std::string(name == "-" || name.empty() ? "got \"" + name + "\", want the name of a file" : "");
          })
          ->group(kEarlierGroup);
  flags.has_margin = app.add_option("--change-margin", flags.margin,
                                    "A decision changes only where that gains more than this share of what its object "
                                    "would lose if it were omitted. Default: the style's")
                         ->check(ShareFault)
                         ->needs(file)
                         ->type_name("SHARE")
                         ->group(kEarlierGroup);
  flags.has_margin_least = app.add_option("--change-margin-least", flags.margin_least,
                                          "... and at least so many frame-octaves. Default: the style's")
                               ->check(LossFault)
                               ->needs(file)
                               ->type_name("LOSS")
                               ->group(kEarlierGroup);
}

CLI::Option* AddUnitFlag(CLI::App& app, std::string& unit) {
  return app
      .add_option(
          "--units", unit,
          "What amounts of animation are told in, in the text: hours (of an animator), weeks (of an animator, of "
          "the rate card's hours), seconds (of animation), feet (of film, 16 frames to the foot)")
      ->check(CLI::IsMember({"hours", "weeks", "seconds", "feet"}))
      ->type_name("UNIT")
      ->capture_default_str();
}

v1::PlanOptions OptionsOf(const BudgetFlags& flags) {
  v1::PlanOptions options;
  options.set_style(flags.style);
  if (flags.has_anim_hours->count() > 0) options.set_anim_hours(flags.anim_hours);
  if (flags.has_core_hours->count() > 0) options.set_core_hours(flags.core_hours);
  if (flags.has_other_hours->count() > 0) options.set_other_hours(flags.other_hours);
  if (flags.has_memory_mb->count() > 0) options.set_memory_mb(flags.memory_mb);
  if (flags.has_target_gap->count() > 0) options.set_target_gap(flags.target_gap);
  options.set_alike(flags.alike);
  options.set_share_holds_in_containers(flags.share_holds);
  return options;
}

absl::StatusOr<v1::PlanOptions> OptionsOf(const BudgetFlags& flags, const EarlierFlags& earlier) {
  v1::PlanOptions options = OptionsOf(flags);
  if (earlier.file.empty()) return options;
  absl::StatusOr<EarlierDecisions> decisions = ReadEarlier(earlier.file);
  if (!decisions.ok()) return decisions.status();
  options.mutable_earlier()->Swap(&*decisions);
  if (earlier.has_margin->count() > 0) options.set_change_margin(earlier.margin);
  if (earlier.has_margin_least->count() > 0) options.set_change_margin_least(earlier.margin_least);
  return options;
}

}  // namespace scantling::client
