// scantling watch SHOT: a shot file planned live, and planned again as it changes.
//
// One thread looks at the file, many times a second, and pumps what the session has to tell; the session's own threads
// do the waiting for the daemon. Of a new version of the file only what differs is sent.
//
// A version the daemon refuses is told by the faults of the whole file, with its paths, rather than by those of the
// edit that carried the difference.

#include <csignal>
#include <memory>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/command/budget_flags.h"
#include "client/command/command.h"
#include "client/command/connection.h"
#include "client/command/watch_baseline.h"
#include "client/command/watch_file.h"
#include "client/command/watch_printer.h"
#include "client/library/faults.h"
#include "client/library/live_session.h"
#include "client/library/shot_file.h"

namespace scantling::client {
namespace {

constexpr std::chrono::milliseconds kLookEvery{25};
constexpr std::chrono::milliseconds kQuiet{80};
// A private daemon that is gone does not come back.
constexpr int kMostLostPrivate = 3;
constexpr size_t kMostFaults = 20;

struct WatchFlags {
  std::string shot, baseline;
  BudgetFlags budget;
  EarlierFlags earlier;
  std::string format = "text";
  bool all = false;
  int until_final = 0;
  ConnectionFlags connection;
};

volatile std::sig_atomic_t end_wanted = 0;
extern "C" void WantEnd(int) { end_wanted = 1; }

// After the private daemon's own handlers, which would end the program: Ctrl-C is how a watch ends.
void EndOnSignals() {
  struct sigaction wanted = {};
  wanted.sa_handler = WantEnd;
  for (const int number : {SIGINT, SIGTERM}) sigaction(number, &wanted, nullptr);
}

class Watch {
 public:
  Watch(const WatchFlags& flags, Session& daemon, v1::PlanOptions options)
      : flags_(flags),
        daemon_(daemon),
        options_(std::move(options)),
        printer_({flags.shot, flags.format == "json", flags.all}),
        file_(flags.shot, kQuiet),
        session_(OptionsOf(daemon), Listener()) {}

  // The first version is there already.
  ExitCode Run(LiveShot first, const std::optional<v1::Totals>& baseline) {
    printer_.Began(first);
    given_ = first;
    if (baseline) session_.SetBaseline(flags_.baseline, *baseline);
    session_.SetShot(std::move(first));
    while (end_wanted == 0 && code_ == ExitCode::kDone && !enough_) {
      session_.Wait(kLookEvery);
      session_.Pump();
      const auto now = std::chrono::steady_clock::now();
      printer_.Tick(now);
      LookAtFile(now);
      if (code_ == ExitCode::kDone) code_ = printer_.code();
    }
    session_.Close();
    return code_ == ExitCode::kDone && enough_ && !has_plan_ ? ExitCode::kNoPlanFits : code_;
  }

 private:
  static LiveOptions OptionsOf(const Session& daemon) {
    LiveOptions options;
    options.address = daemon.address();
    return options;
  }

  LiveListener Listener() {
    LiveListener listener;
    listener.plan = [this](const LivePlanUpdate& news) { TakePlan(news); };
    listener.provisional = [this](const LiveProvisional& news) {
      printer_.Provisional(news, std::chrono::steady_clock::now());
    };
    listener.refusal = [this](const LiveRefusal& refusal) { TakeRefusal(refusal.status); };
    listener.connection = [this](const LiveConnectionChange& change) { TakeConnection(change); };
    return listener;
  }

  void TakePlan(const LivePlanUpdate& news) {
    if (enough_) return;
    printer_.Plan(news);
    has_plan_ = news.problem.ok();
    ever_planned_ = true;
    good_ = given_;
    const bool is_answer = !news.problem.ok() || news.update.state() == v1::FINAL;
    if (is_answer && news.update.revision() != answered_) {
      answered_ = news.update.revision();
      enough_ = ++answers_ == flags_.until_final;
    }
  }

  // The faults of the file, where the daemon finds any in it as a whole; else those of the edit.
  absl::Status FaultsInFile(absl::Status status) {
    absl::StatusOr<v1::Shot> shot = ReadShot(flags_.shot);
    if (!shot.ok()) return status;
    v1::CheckShotRequest request;
    request.mutable_shot()->Swap(&*shot);
    const absl::StatusOr<v1::CheckShotResponse> checked = daemon_.client().Check(request);
    if (!checked.ok() || checked->faults().empty()) return status;
    google::rpc::BadRequest faults;
    for (const v1::FieldFault& fault : checked->faults()) {
      if (static_cast<size_t>(faults.field_violations_size()) == kMostFaults) break;
      auto* one = faults.add_field_violations();
      one->set_field(fault.field());
      one->set_description(fault.description());
    }
    return WithFaults(
        absl::InvalidArgumentError(absl::StrCat(flags_.shot, " is refused: ", checked->fault_count(), " fault(s)")),
        faults);
  }

  void TakeRefusal(const absl::Status& refused) {
    const absl::Status status = FaultsInFile(refused);
    printer_.Refused(status);
    given_ = good_;
    if (!ever_planned_) code_ = ExitCodeOf(status);
  }

  void TakeConnection(const LiveConnectionChange& change) {
    if (change.state == LiveConnection::kStopped && IsRefusal(change.why)) return TakeRefusal(change.why);
    printer_.Connection(change);
    if (change.state == LiveConnection::kLive) lost_ = 0;
    if (change.state == LiveConnection::kStopped) code_ = Fail(change.why);
    if (change.state != LiveConnection::kLost) return;
    const bool is_limit = change.why.code() == absl::StatusCode::kResourceExhausted;
    if (is_limit || (daemon_.is_private() && ++lost_ >= kMostLostPrivate)) code_ = Fail(change.why);
  }

  // Whether it is the shot that is wrong: the next version may be right.
  static bool IsRefusal(const absl::Status& status) { return status.code() == absl::StatusCode::kInvalidArgument; }

  void LookAtFile(WatchedFile::TimePoint now) {
    switch (file_.Look(now)) {
      case WatchedFile::News::kNone:
        return;
      case WatchedFile::News::kGone:
        return printer_.FileGone();
      case WatchedFile::News::kWritten:
        break;
    }
    absl::StatusOr<v1::Shot> shot = ReadShot(flags_.shot);
    if (!shot.ok()) return printer_.FileFaulty(shot.status());
    absl::StatusOr<LiveShot> next = LiveShotOf(*std::move(shot), options_);
    if (!next.ok()) return printer_.FileFaulty(next.status());
    const ShotChange change = Difference(given_, *next);
    printer_.FileChanged(given_, change);
    if (change.empty()) return;
    given_ = *next;
    session_.SetShot(*std::move(next));
  }

  const WatchFlags& flags_;
  Session& daemon_;
  const v1::PlanOptions options_;
  WatchPrinter printer_;
  WatchedFile file_;
  LiveShot given_, good_;  // the last version given to the session; the last one it has answered
  ExitCode code_ = ExitCode::kDone;
  bool has_plan_ = false, ever_planned_ = false, enough_ = false;
  int answers_ = 0, lost_ = 0;
  int64_t answered_ = 0;
  LiveSession session_;  // last: it calls into all of the above
};

ExitCode RunWatch(const WatchFlags& flags) {
  absl::StatusOr<v1::Shot> shot = ReadShot(flags.shot);
  if (!shot.ok()) return Fail(shot.status());
  const absl::StatusOr<v1::PlanOptions> options = OptionsOf(flags.budget, flags.earlier);
  if (!options.ok()) return Fail(options.status());
  absl::StatusOr<LiveShot> first = LiveShotOf(*std::move(shot), *options);
  if (!first.ok()) return Fail(first.status());
  const auto daemon = Session::Open(flags.connection);
  if (!daemon.ok()) return Fail(daemon.status());
  EndOnSignals();
  std::optional<v1::Totals> baseline;
  if (!flags.baseline.empty()) {
    absl::StatusOr<v1::Totals> totals = ReadBaseline(flags.baseline, *options, (*daemon)->client());
    if (!totals.ok()) return Fail(totals.status());
    baseline = *std::move(totals);
  }
  return Watch(flags, **daemon, *options).Run(*std::move(first), baseline);
}

std::string FileFault(const std::string& name) {
  return name == "-" ? "got -, want a file: what is read once cannot be watched" : "";
}

}  // namespace

Command AddWatchCommand(CLI::App& root) {
  auto flags = std::make_shared<WatchFlags>();
  CLI::App* app = root.add_subcommand(
      "watch",
      "Plan a shot and plan it again whenever its file changes: whose tier changed and why, who needs animating now, "
      "what that costs. Ctrl-C ends");
  app->add_option("SHOT", flags->shot,
                  "File with a scantling.v1.Shot, as for plan. It may be written in place or replaced; while it is "
                  "faulty or gone the last plan stands")
      ->required()
      ->check(FileFault)
      ->type_name("FILE");
  AddBudgetFlags(*app, flags->budget);
  AddEarlierFlags(*app, flags->earlier);
  constexpr char kGroup[] = "How to show it";
  app->add_option("--baseline", flags->baseline,
                  "Saved plan (what scantling plan --format json printed) or saved shot, which is planned with the "
                  "same budgets: totals are told against it")
      ->type_name("FILE")
      ->group(kGroup);
  app->add_option("--format", flags->format,
                  "text: for people. json: one object a line, told apart by \"event\": file, provisional, plan, "
                  "no_plan, refused, connection")
      ->check(CLI::IsMember({"text", "json"}))
      ->type_name("FORMAT")
      ->capture_default_str()
      ->group(kGroup);
  app->add_flag("--all", flags->all, "Every changed object in the text, instead of the 15 whose hours change most")
      ->group(kGroup);
  app->add_option("--until-final", flags->until_final,
                  "End after so many versions of the shot have their final plan, or proof that none fits. 0: go on "
                  "until Ctrl-C. Exit code 4 where none fits the last one")
      ->check(CLI::Range(0, 1'000'000))
      ->type_name("N")
      ->capture_default_str()
      ->group(kGroup);
  AddConnectionFlags(*app, flags->connection);
  app->get_option("--time-limit")
      ->description("Seconds the daemon may take to plan the baseline's shot; 0: no limit. The watch itself has none");
  return {app, [flags] { return RunWatch(*flags); }};
}

}  // namespace scantling::client
