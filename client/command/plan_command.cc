// scantling plan SHOT: read, ask, choose what to show, print.
//
// The daemon is let go before anything is printed: a reader who pages through the plan keeps no daemon waiting.

#include <algorithm>
#include <memory>
#include <utility>

#include "absl/strings/ascii.h"
#include "client/command/budget_flags.h"
#include "client/command/command.h"
#include "client/command/connection.h"
#include "client/command/plan_csv.h"
#include "client/command/plan_filter.h"
#include "client/command/plan_text.h"
#include "client/command/progress.h"
#include "client/library/shot_file.h"

namespace scantling::client {
namespace {

struct PlanFlags {
  std::string shot;
  BudgetFlags budget;
  EarlierFlags earlier;
  std::string format = "text";
  std::string unit = "hours";
  std::string only;
  std::string sort;
  bool reverse = false, all = false, raw_text = false;
  std::vector<std::string> tiers, classes, containers, bands, reasons;
  ConnectionFlags connection;
};

std::string TierFault(const std::string& text) {
  return TierOf(text) ? "" : "got \"" + text + "\", want full-rig, proxy, colour-patch or omitted";
}

std::string ReasonFault(const std::string& text) {
  if (ReasonOf(text)) return "";
  std::string names;
  for (int i = 1; i < v1::Reason_ARRAYSIZE; ++i) {
    std::string name = v1::Reason_Name(static_cast<v1::Reason>(i));
    absl::AsciiStrToLower(&name);
    std::replace(name.begin(), name.end(), '_', '-');
    names += (i == 1 ? "" : i + 1 == v1::Reason_ARRAYSIZE ? " or " : ", ") + name;
  }
  return "got \"" + text + "\", want " + names;
}

void AddSelectionFlags(CLI::App& app, PlanFlags& flags) {
  constexpr char kGroup[] = "What to show (totals are always of the whole plan)";
  app.add_option("--only", flags.only, "needs-animation: only what an animator has to touch")
      ->check(CLI::IsMember({"needs-animation"}))
      ->type_name("WHAT")
      ->group(kGroup);
  app.add_option("--tier", flags.tiers, "Only this tier: full-rig, proxy, colour-patch or omitted; may be repeated")
      ->check(TierFault)
      ->type_name("TIER")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_option("--class", flags.classes, "Only objects of this class; may be repeated")
      ->type_name("NAME")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_option("--container", flags.containers, "Only objects standing directly in this container; may be repeated")
      ->type_name("ID")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_option("--band", flags.bands, "Only what stands in this depth band of the style; may be repeated")
      ->type_name("NAME")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_option(
         "--reason", flags.reasons,
         "Only what is as it is for this reason: hidden, off-screen, unreadable, indirectly-seen, traded ...; may "
         "be repeated")
      ->check(ReasonFault)
      ->type_name("REASON")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_option(
         "--sort", flags.sort,
         "Order: id, hours, core-hours, loss, height (most first), depth (nearest first), frame (first animated "
         "first), class, tier. Default: hours for text, id else")
      ->check(CLI::IsMember(SortKeyNames()))
      ->type_name("KEY")
      ->group(kGroup);
  app.add_flag("--reverse", flags.reverse, "Turn the order round")->group(kGroup);
}

void AddFormatFlags(CLI::App& app, PlanFlags& flags) {
  constexpr char kGroup[] = "How to show it";
  app.add_option(
         "--format", flags.format,
         "text: a report for people. json: scantling.v1.Plan, field names as in plan.proto. csv: one record per "
         "object (RFC 4180, column names carry their units)")
      ->check(CLI::IsMember({"text", "json", "csv"}))
      ->type_name("FORMAT")
      ->capture_default_str()
      ->group(kGroup);
  AddUnitFlag(app, flags.unit)->group(kGroup);
  app.add_flag("--all", flags.all, "One line per object in the text, instead of grouping alike ones")->group(kGroup);
  app.add_flag(
         "--raw-text", flags.raw_text,
         "Texts in csv exactly as they are. Without it a text that a spreadsheet would run as a formula (it begins "
         "with = + - @, a tab or a line break) has an apostrophe before it")
      ->group(kGroup);
}

PlanFilter FilterOf(const PlanFlags& flags) {
  PlanFilter filter;
  for (const std::string& tier : flags.tiers) filter.tiers.push_back(*TierOf(tier));
  filter.classes = flags.classes;
  filter.containers = flags.containers;
  filter.bands = flags.bands;
  for (const std::string& reason : flags.reasons) filter.reasons.push_back(*ReasonOf(reason));
  filter.needs_animation = !flags.only.empty();
  return filter;
}

absl::StatusOr<v1::PlanShotResponse> AskForPlan(const PlanFlags& flags) {
  absl::StatusOr<v1::Shot> shot = ReadShot(flags.shot);
  if (!shot.ok()) return shot.status();
  const absl::StatusOr<v1::PlanOptions> options = OptionsOf(flags.budget, flags.earlier);
  if (!options.ok()) return options.status();
  const auto session = Session::Open(flags.connection);
  if (!session.ok()) return session.status();
  ProgressBar bar;
  return (*session)->client().Plan(*std::move(shot), *options, [&bar](const v1::Progress& progress) {
    bar.Show(progress.stage(), progress.fraction(), progress.objects());
  });
}

ExitCode RunPlan(const PlanFlags& flags) {
  absl::StatusOr<v1::PlanShotResponse> answer = AskForPlan(flags);
  if (!answer.ok()) return Fail(answer.status());
  v1::Plan& plan = *answer->mutable_plan();
  const PlanFilter filter = FilterOf(flags);
  const std::string default_sort = flags.format == "text" ? "hours" : "id";
  SelectDecisions(filter, *SortKeyOf(flags.sort.empty() ? default_sort : flags.sort), flags.reverse, plan);
  if (flags.format == "json") return Print(JsonOf(plan));
  if (flags.format == "csv") return Print(PlanCsv(plan, flags.raw_text));
  return Print(PlanText(plan, {*WorkUnitOf(flags.unit), flags.all, FilterText(filter)}));
}

}  // namespace

Command AddPlanCommand(CLI::App& root) {
  auto flags = std::make_shared<PlanFlags>();
  CLI::App* app = root.add_subcommand(
      "plan", "Plan a shot: how much of every object is made, who needs animating, what it costs and why");
  app->add_option(
         "SHOT", flags->shot,
         "File with a scantling.v1.Shot: JSON (.json) or binary (.pb, .bin, .binpb; or told by its content); - "
         "reads standard input")
      ->required()
      ->type_name("FILE");
  AddBudgetFlags(*app, flags->budget);
  AddEarlierFlags(*app, flags->earlier);
  AddSelectionFlags(*app, *flags);
  AddFormatFlags(*app, *flags);
  AddConnectionFlags(*app, flags->connection);
  return {app, [flags] { return RunPlan(*flags); }};
}

}  // namespace scantling::client
