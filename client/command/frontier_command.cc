// scantling frontier SHOT: what more or less of a budget would lose.
//
// Points come while the daemon still works. csv and json print each as it comes, so that a program can start drawing;
// text waits for the last, because the knee is known only then. What is found at the end goes to standard error with
// csv, which has no place for it.

#include <cstdio>
#include <memory>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/command/budget_flags.h"
#include "client/command/command.h"
#include "client/command/connection.h"
#include "client/command/frontier_csv.h"
#include "client/command/frontier_text.h"
#include "client/command/progress.h"
#include "client/library/shot_file.h"

namespace scantling::client {
namespace {

constexpr int kLeastPoints = 2;
constexpr int kMostPoints = 1024;
constexpr int kPoints = 32;

struct FrontierFlags {
  std::string shot;
  std::string along = "anim-hours";
  int points = kPoints;
  double most = 0, least = 0;
  CLI::Option* has_most = nullptr;
  CLI::Option* has_least = nullptr;
  BudgetFlags budget;
  std::string format = "text";
  bool all = false;
  ConnectionFlags connection;
};

v1::TraceFrontierRequest::Along AlongOf(const std::string& name) {
  if (name == "core-hours") return v1::TraceFrontierRequest::CORE_HOURS;
  if (name == "other-hours") return v1::TraceFrontierRequest::OTHER_HOURS;
  if (name == "both") return v1::TraceFrontierRequest::BOTH;
  return v1::TraceFrontierRequest::ANIM_HOURS;
}

// What cannot stand together. A budget that is swept has no one value.
void CheckTogether(const FrontierFlags& flags) {
  const bool both = flags.along == "both";
  const auto refuse = [](const std::string& what) { throw CLI::ValidationError("frontier", what); };
  const auto refuse_swept = [&](const CLI::Option* budget, const char* name) {
    if (budget->count() == 0 || !(flags.along == name || (both && std::string(name) != "other-hours"))) return;
    refuse(absl::StrCat("got --", name, " while it is swept (--along ", flags.along, "), want ",
                        both ? "neither budget" : "--most and --least"));
  };
  refuse_swept(flags.budget.has_anim_hours, "anim-hours");
  refuse_swept(flags.budget.has_core_hours, "core-hours");
  refuse_swept(flags.budget.has_other_hours, "other-hours");
  const bool has_most = flags.has_most->count() > 0, has_least = flags.has_least->count() > 0;
  if (both && (has_most || has_least)) refuse("got --most or --least with --along both, want its own ends");
  if (has_most && has_least && flags.least >= flags.most) {
    refuse(absl::StrCat("got --least ", flags.least, " and --most ", flags.most, ", want least below most"));
  }
}

// Prints the points in the chosen form as they come, and keeps them.
class Printer {
 public:
  Printer(const std::string& format, const v1::PlanOptions& options) : format_(format) {
    frontier_.options = options;
    if (format_ == "csv") Put(FrontierCsvHeader());
  }

  bool Take(const v1::FrontierPoint& point) {
    frontier_.points.push_back(point);
    v1::TraceFrontierResponse part;
    if (format_ == "json") *part.mutable_point() = point;
    if (format_ == "json") Put(JsonLineOf(part));
    if (format_ == "csv") Put(FrontierCsvRecord(point));
    return code_ == ExitCode::kDone;
  }

  ExitCode Finish(v1::FrontierSummary summary, bool all) {
    frontier_.summary = std::move(summary);
    if (format_ == "json") {
      v1::TraceFrontierResponse part;
      *part.mutable_summary() = frontier_.summary;
      Put(JsonLineOf(part));
    } else if (format_ == "csv") {
      std::fputs(FindingsText(frontier_.summary, frontier_.points).c_str(), stderr);
    } else {
      Put(FrontierText(frontier_, all));
    }
    return code_ == ExitCode::kDone && !AnyFits() ? NothingFits() : code_;
  }

  ExitCode code() const { return code_; }

 private:
  void Put(const std::string& text) {
    if (code_ == ExitCode::kDone) code_ = Print(text);
  }
  bool AnyFits() const {
    for (const v1::FrontierPoint& point : frontier_.points) {
      if (point.fits()) return true;
    }
    return false;
  }
  ExitCode NothingFits() const {
    std::fprintf(stderr, "scantling: no plan fits at any of the %zu budgets\n", frontier_.points.size());
    return ExitCode::kNoPlanFits;
  }

  std::string format_;
  TracedFrontier frontier_;
  ExitCode code_ = ExitCode::kDone;
};

absl::StatusOr<v1::TraceFrontierRequest> RequestOf(const FrontierFlags& flags) {
  absl::StatusOr<v1::Shot> shot = ReadShot(flags.shot);
  if (!shot.ok()) return shot.status();
  v1::TraceFrontierRequest request;
  request.mutable_shot()->Swap(&*shot);
  *request.mutable_options() = OptionsOf(flags.budget);
  request.set_along(AlongOf(flags.along));
  request.set_points(flags.points);
  if (flags.has_most->count() > 0) request.set_most_hours(flags.most);
  if (flags.has_least->count() > 0) request.set_least_hours(flags.least);
  return request;
}

ExitCode RunFrontier(const FrontierFlags& flags) {
  const absl::StatusOr<v1::TraceFrontierRequest> request = RequestOf(flags);
  if (!request.ok()) return Fail(request.status());
  auto session = Session::Open(flags.connection);
  if (!session.ok()) return Fail(session.status());
  Printer printer(flags.format, request->options());
  absl::StatusOr<v1::FrontierSummary> summary = absl::InternalError("not asked");
  {
    ProgressBar bar;
    summary = (*session)->client().TraceFrontier(
        *request,
        [&bar](const v1::Progress& progress) { bar.Show(progress.stage(), progress.fraction(), progress.objects()); },
        [&bar, &printer](const v1::FrontierPoint& point) {
          bar.Wipe();
          return printer.Take(point);
        });
  }
  session->reset();  // the daemon is let go before a reader pages through the text
  if (printer.code() != ExitCode::kDone) return printer.code();
  if (!summary.ok()) return Fail(summary.status());
  return printer.Finish(*std::move(summary), flags.all);
}

void AddSweepFlags(CLI::App& app, FrontierFlags& flags) {
  constexpr char kGroup[] = "Sweep";
  app.add_option("--along", flags.along,
                 "Budget to sweep: anim-hours, core-hours, other-hours (of the rate card's third department), or both: "
                 "animator- and core-hours together, each from its own end to its own end")
      ->check(CLI::IsMember({"anim-hours", "core-hours", "other-hours", "both"}))
      ->type_name("WHAT")
      ->capture_default_str()
      ->group(kGroup);
  app.add_option("--points", flags.points, absl::StrCat("Budgets to plan for, ", kLeastPoints, " to ", kMostPoints))
      ->check(CLI::Range(kLeastPoints, kMostPoints))
      ->type_name("N")
      ->capture_default_str()
      ->group(kGroup);
  flags.has_most = app.add_option("--most", flags.most,
                                  "Largest budget of the sweep. Default: the least at which nothing visible is lost")
                       ->check(HoursFault)
                       ->type_name("HOURS")
                       ->group(kGroup);
  flags.has_least =
      app.add_option("--least", flags.least, "Smallest budget of the sweep. Default: the least that any plan takes")
          ->check(HoursFault)
          ->type_name("HOURS")
          ->group(kGroup);
}

}  // namespace

Command AddFrontierCommand(CLI::App& root) {
  auto flags = std::make_shared<FrontierFlags>();
  CLI::App* app = root.add_subcommand(
      "frontier", "Plan a shot for many budgets: what more or less of one would lose, and where more buys little");
  app->add_option("SHOT", flags->shot, "File with a scantling.v1.Shot, as for plan; - reads standard input")
      ->required()
      ->type_name("FILE");
  AddSweepFlags(*app, *flags);
  AddBudgetFlags(*app, flags->budget);
  flags->budget.has_anim_hours->description("Most animator-hours to spend, where they are not swept");
  flags->budget.has_core_hours->description("Most core-hours of rendering to spend, where they are not swept");
  flags->budget.has_other_hours->description(
      "Most hours of the rate card's third department to spend, where they are not swept");
  app->add_option("--format", flags->format,
                  "text: a report for people. csv: one record per budget (RFC 4180), printed as it is found. json: one "
                  "scantling.v1.TraceFrontierResponse a line, field names as in shot_planner.proto: points as they are "
                  "found, then the summary")
      ->check(CLI::IsMember({"text", "csv", "json"}))
      ->type_name("FORMAT")
      ->capture_default_str();
  app->add_flag("--all", flags->all,
                absl::StrCat("Every budget's line in the text instead of ", kShownPoints, " spread over the sweep"));
  AddConnectionFlags(*app, flags->connection);
  app->callback([flags] { CheckTogether(*flags); });
  return {app, [flags] { return RunFrontier(*flags); }};
}

}  // namespace scantling::client
