// A budget of 0 is a budget and no budget is none, so whether an option was given is asked of CLI11, not of its value.
//
// Numbers are checked as texts: CLI11 reads "nan" and "inf" as numbers, which no budget may be.

#include "client/command/budget_flags.h"

#include <cmath>

namespace scantling::client {

std::string HoursFault(const std::string& text) {
  double hours = 0;
  const bool is_number = CLI::detail::lexical_cast(text, hours);
  return is_number && std::isfinite(hours) && hours >= 0 ? "" : "got \"" + text + "\", want hours, 0 or more";
}

void AddBudgetFlags(CLI::App& app, BudgetFlags& flags) {
  constexpr char kGroup[] = "Budget";
  flags.has_anim_hours =
      app.add_option("--anim-hours", flags.anim_hours,
                     "Most animator-hours to spend, beyond hours already spent. Without any budget nothing visible is "
                     "given up")
          ->check(HoursFault)
          ->type_name("HOURS")
          ->group(kGroup);
  flags.has_core_hours = app.add_option("--core-hours", flags.core_hours, "Most core-hours of rendering to spend")
                             ->check(HoursFault)
                             ->type_name("HOURS")
                             ->group(kGroup);
  flags.has_target_gap =
      app.add_option("--target-gap", flags.target_gap,
                     "Stop searching when the loss is within this share of its proved bound. Default: 1e-6")
          ->check(CLI::Range(0.0, 1.0))
          ->type_name("SHARE")
          ->group(kGroup);
  app.add_flag("--share-holds", flags.share_holds,
               "What one container holds shares one hold and its phase, as objects of one hold_group always do")
      ->group(kGroup);
  app.add_option("--style", flags.style, "Style of the film by its name with the daemon. Default: the shot's own")
      ->type_name("NAME")
      ->group(kGroup);
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
  if (flags.has_target_gap->count() > 0) options.set_target_gap(flags.target_gap);
  options.set_share_holds_in_containers(flags.share_holds);
  return options;
}

}  // namespace scantling::client
