// scantling explain SHOT OBJECT: why one object is what it is.
//
// It asks with the same budgets and style as the plan did: a traded tier has no reason outside its plan.

#include <memory>

#include "client/command/budget_flags.h"
#include "client/command/command.h"
#include "client/command/connection.h"
#include "client/command/explain_text.h"
#include "client/library/shot_file.h"

namespace scantling::client {
namespace {

struct ExplainFlags {
  std::string shot, object;
  BudgetFlags budget;
  EarlierFlags earlier;
  std::string format = "text";
  std::string unit = "hours";
  bool all = false;
  ConnectionFlags connection;
};

absl::StatusOr<v1::ExplainDecisionResponse> Ask(const ExplainFlags& flags) {
  absl::StatusOr<v1::Shot> shot = ReadShot(flags.shot);
  if (!shot.ok()) return shot.status();
  absl::StatusOr<v1::PlanOptions> options = OptionsOf(flags.budget, flags.earlier);
  if (!options.ok()) return options.status();
  v1::ExplainDecisionRequest request;
  request.mutable_shot()->Swap(&*shot);
  request.mutable_options()->Swap(&*options);
  request.set_object_id(flags.object);
  const auto session = Session::Open(flags.connection);
  if (!session.ok()) return session.status();
  return (*session)->client().Explain(request);
}

ExitCode RunExplain(const ExplainFlags& flags) {
  const absl::StatusOr<v1::ExplainDecisionResponse> answer = Ask(flags);
  if (!answer.ok()) return Fail(answer.status());
  if (flags.format == "json") return Print(JsonOf(*answer));
  return Print(ExplainText(*answer, {*WorkUnitOf(flags.unit), flags.all}));
}

}  // namespace

Command AddExplainCommand(CLI::App& root) {
  auto flags = std::make_shared<ExplainFlags>();
  CLI::App* app =
      root.add_subcommand("explain",
                          "Explain one object of a shot: its tiers and their figures, what would change the "
                          "choice, and its height against the legibility floor frame by frame");
  app->add_option("SHOT", flags->shot, "File with a scantling.v1.Shot, as for plan; - reads standard input")
      ->required()
      ->type_name("FILE");
  app->add_option("OBJECT", flags->object, "The object's id in the shot")->required()->type_name("ID");
  AddBudgetFlags(*app, flags->budget);
  AddEarlierFlags(*app, flags->earlier);
  app->add_option("--format", flags->format,
                  "text: a report for people. json: scantling.v1.ExplainDecisionResponse, field names as in "
                  "shot_planner.proto")
      ->check(CLI::IsMember({"text", "json"}))
      ->type_name("FORMAT")
      ->capture_default_str();
  AddUnitFlag(*app, flags->unit);
  app->add_flag("--all", flags->all, "Every frame's line instead of two dozen spread over the shot");
  AddConnectionFlags(*app, flags->connection);
  return {app, [flags] { return RunExplain(*flags); }};
}

}  // namespace scantling::client
