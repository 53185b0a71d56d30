// A shot assembled live, from outside: the real daemon over a unix socket, a C++ client, and an echo beside it.
//
//   bench_live [large|small|many|memory|all] [EDITS] [SECONDS]
//
// large   100,000 objects x 240 frames: loading, then series of edits without a budget and within 70% of the
//         animator-hours, each edit sent when the one before has settled; drags, an edit every 16 ms
// small   the same on 10,000 objects, half as long
// many    50 sessions of 1,000 objects at once, five objects an edit, an edit every 250 ms a session; then empty
//         sessions begun and closed
// memory  what the daemon's resident set grows by, by session and object, with and without depth maps kept
//
// EDITS (200) and SECONDS (30) end a series, whichever comes first. Every row stands beside a raw stream of the same
// bytes there and back in the same run. Printed are p50 and p99 by nearest rank over as many edits as the row says;
// under a hundred edits p99 is the worst. A missed target is printed as such and does not fail the run.

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "tests/bench/live/cast.h"
#include "tests/bench/live/echo.h"
#include "tests/bench/live/figures.h"
#include "tests/bench/live/series.h"
#include "tests/bench/live/session.h"
#include "tests/contract/daemon_process.h"

namespace scantling::bench {
namespace {

using testing::DaemonProcess;
using testing::TemporaryFolder;

constexpr double kBudgetShare = 0.7;
constexpr int kSessions = 50, kSessionObjects = 1'000;
constexpr std::chrono::milliseconds kThinking{250};

// The daemon, the echo, and what both listen on.
struct Stage {
  TemporaryFolder folder;
  DaemonProcess daemon;
  Echo echo{"unix:" + folder.path() + "/echo"};

  explicit Stage(const std::vector<std::string>& further = {}) : daemon(Arguments(folder.path(), further)) {
    if (daemon.Address().empty()) End("the daemon did not start; it said: " + daemon.Log());
  }

  static std::vector<std::string> Arguments(const std::string& folder, const std::vector<std::string>& further) {
    std::vector<std::string> arguments = {"--listen", "unix:" + folder + "/daemon", "--log-level", "warning"};
    arguments.insert(arguments.end(), further.begin(), further.end());
    return arguments;
  }

  // VmRSS, MB.
  double ResidentMb() const {
    std::ifstream status("/proc/" + std::to_string(daemon.pid()) + "/status");
    for (std::string word; status >> word;) {
      if (word == "VmRSS:") {
        double kib = 0;
        status >> kib;
        return kib * 1024 / 1e6;
      }
    }
    End("the daemon's memory could not be read");
  }
};

std::unique_ptr<LiveSession> BeginFor(Stage& stage, const Cast& cast) {
  v1::Begin begin;
  *begin.mutable_header() = cast.header();
  return std::make_unique<LiveSession>(stage.daemon.Channel(), begin);
}

struct Targets {
  std::optional<Wanted> first, settled;
};

// A session with everything loaded, and what is done to it.
class Loaded {
 public:
  Loaded(Stage& stage, Cast& cast, const Extent& extent) : stage_(stage), cast_(cast), extent_(extent) {
    const double before_mb = stage.ResidentMb();
    session_ = BeginFor(stage, cast);
    std::vector<v1::ShotEdit> parts = cast.Everything();
    const size_t count = parts.size();
    const Sent sent = session_->Send(std::move(parts));
    const double written_ms = MilliBetween(sent.at, Clock::now());
    const Answer first = session_->AwaitFirst(sent);
    const Answer settled = session_->AwaitSettled(sent);
    const Answer final = session_->AwaitFinal(sent);
    unseen_hours_ = session_->Totals().plan().anim_hours().mean();
    const double echo_ms = stage.echo.RoundTrip(sent.bytes, settled.bytes);
    const double settled_ms = MilliBetween(sent.at, settled.at);
    std::printf(
        "%8.1f x  an echo: loading to settled %.0f ms (echo %.0f); begun in %.1f ms, %.1f MB in %zu parts given away "
        "after"
        " %.0f, first answer after %.0f, final after %.0f ms, %.1f MB back; the daemon grew by %.0f MB\n",
        settled_ms / echo_ms, settled_ms, echo_ms, session_->began_ms(), static_cast<double>(sent.bytes) / 1e6, count,
        written_ms, MilliBetween(sent.at, first.at), MilliBetween(sent.at, final.at),
        static_cast<double>(settled.bytes) / 1e6, stage.ResidentMb() - before_mb);
    PrintStages(settled);
  }

  void OneByOne(const std::string& what, const MakeEdit& make, const Targets& targets = {}) {
    std::vector<Timing> timings = TimeOneByOne(*session_, make, extent_);
    Finish(what, timings, targets);
  }

  void Behind(const std::string& what, const MakeEdit& ahead, const MakeEdit& behind) {
    std::vector<Timing> timings = TimeBehind(*session_, ahead, behind, extent_);
    Finish(what, timings, {});
  }

  void Drag(const std::string& what, const MakeEdit& make) {
    Burst burst = TimeBurst(*session_, make, extent_.seconds / 4);
    char text[200];
    std::snprintf(text, sizeof text,
                  "%s, every 16 ms for %.1f s without waiting: meanwhile %d provisional and %d settled "
                  "updates, settled %.1f ms after the last",
                  what.c_str(), burst.seconds, burst.provisional_updates, burst.settled_updates,
                  burst.settled_after_ms);
    Finish(text, burst.timings, {});
  }

  // Within kBudgetShare of what the plan without a budget takes, from now on.
  void SetBudget() {
    const Sent sent = session_->Send({cast_.Budget(budget_hours())});
    const Answer settled = session_->AwaitSettled(sent);
    const Answer final = session_->AwaitFinal(sent);
    std::printf("The budget set: settled after %.0f ms, gap %.1e; final after %.0f ms, gap %.1e\n",
                MilliBetween(sent.at, settled.at), settled.gap, MilliBetween(sent.at, final.at), final.gap);
    PrintStages(final);
  }

  double budget_hours() const { return kBudgetShare * unseen_hours_; }

 private:
  static void PrintStages(const Answer& answer) {
    std::printf("    the daemon's stages, ms:");
    for (const v1::StageTime& stage : answer.stages)
      std::printf(" %s %.1f", stage.stage().c_str(), stage.milliseconds());
    std::printf("\n");
    std::fflush(stdout);
  }

  // The echoes run when the session has come to rest.
  void Finish(const std::string& what, std::vector<Timing>& timings, const Targets& targets) {
    session_->AwaitFinal(session_->Send({cast_.MovePlain(1)}));
    TimeEchoes(stage_.echo, timings);
    PrintTimings(what, timings, targets.first, targets.settled);
  }

  Stage& stage_;
  Cast& cast_;
  Extent extent_;
  std::unique_ptr<LiveSession> session_;
  double unseen_hours_ = 0;
};

void RunEdits(Loaded& loaded, Cast& cast, const Targets& targets, bool budget) {
  const MakeEdit plain = [&] { return cast.MovePlain(100); };
  const MakeEdit one = [&] { return cast.MovePlain(1); };
  const MakeEdit camera = [&] { return cast.MoveCamera(); };
  loaded.OneByOne("100 objects, none an occluder or looked at", plain, targets);
  loaded.OneByOne("One object, no occluder and not looked at", one, targets);
  loaded.OneByOne("100 occluders", [&] { return cast.MoveOccluders(100); });
  loaded.OneByOne("One object the audience looks at", [&] { return cast.MoveInterest(); });
  loaded.OneByOne("The camera, in every frame", camera);
  loaded.OneByOne("A directive", [&] { return cast.Rule(); });
  if (budget) loaded.OneByOne("The budget, by up to 1%", [&] { return cast.Budget(loaded.budget_hours()); });
  loaded.Behind("One object, 20 ms after the camera", camera, one);
  loaded.Drag("One object", one);
  loaded.Drag("100 objects", plain);
}

void MeasureShot(int objects, const Targets& targets, const Extent& extent) {
  Stage stage;
  Cast cast(objects);
  std::printf("-- %d objects x %d frames, %.0f%% static, %zu occluders\n", objects, kFrames, 100 * cast.static_share(),
              cast.occluders());
  Loaded loaded(stage, cast, extent);
  std::printf("-- %d objects, without a budget\n", objects);
  RunEdits(loaded, cast, targets, /*budget=*/false);
  std::printf("-- %d objects, within %.0f%% of the animator-hours\n", objects, 100 * kBudgetShare);
  loaded.SetBudget();
  RunEdits(loaded, cast, targets, /*budget=*/true);
}

// One of the many: edits at its own pace until `end`.
std::vector<Timing> WorkUntil(LiveSession& session, Cast& cast, Clock::time_point next, Clock::time_point end) {
  std::vector<Timing> timings;
  const MakeEdit few = [&] { return cast.MovePlain(5); };
  for (; next < end; next = std::max(next + kThinking, Clock::now())) {
    std::this_thread::sleep_until(next);
    timings.push_back(TimeOne(session, few));
  }
  return timings;
}

void MeasureMany(const Extent& extent) {
  Stage stage;
  std::vector<Cast> casts;
  std::vector<std::unique_ptr<LiveSession>> sessions;
  for (int k = 0; k < kSessions; ++k) {
    casts.emplace_back(kSessionObjects);
    sessions.push_back(BeginFor(stage, casts.back()));
    sessions.back()->AwaitFinal(sessions.back()->Send(casts.back().Everything()));
  }
  std::vector<std::vector<Timing>> theirs(kSessions);
  std::vector<std::thread> threads;
  const auto start = Clock::now() + std::chrono::milliseconds(50);
  for (size_t k = 0; k < kSessions; ++k) {
    threads.emplace_back([&, k] {
      const auto first = start + k * std::chrono::duration_cast<Clock::duration>(kThinking) / kSessions;
      theirs[k] = WorkUntil(
          *sessions[k], casts[k], first,
          start + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(extent.seconds / 2)));
    });
  }
  for (std::thread& thread : threads) thread.join();
  std::vector<Timing> timings;
  for (const std::vector<Timing>& own : theirs) timings.insert(timings.end(), own.begin(), own.end());
  std::this_thread::sleep_for(std::chrono::seconds(1));  // final plans end
  TimeEchoes(stage.echo, timings);
  char text[160];
  std::snprintf(text, sizeof text, "%d sessions of %d objects at once, five objects an edit, every %d ms each",
                kSessions, kSessionObjects, static_cast<int>(kThinking.count()));
  std::printf("-- many\n");
  PrintTimings(text, timings, std::nullopt, std::nullopt);
}

// What each session beyond the first adds: the first also pays what all share, buffers of the transport and threads.
void MeasureMemoryWith(const std::string& what, const std::vector<std::string>& arguments) {
  constexpr int kObjects = 10'000, kMeasured = 5;
  Stage stage(arguments);
  const Cast cast(kObjects);
  int64_t sent_bytes = 0;
  for (const v1::ShotEdit& part : cast.Everything()) sent_bytes += static_cast<int64_t>(part.ByteSizeLong());
  std::vector<std::unique_ptr<LiveSession>> sessions;
  std::vector<double> resident_mb = {stage.ResidentMb()};
  for (int k = 0; k <= kMeasured; ++k) {
    sessions.push_back(BeginFor(stage, cast));
    sessions.back()->AwaitFinal(sessions.back()->Send(cast.Everything()));
    resident_mb.push_back(stage.ResidentMb());
  }
  const double session_mb = (resident_mb.back() - resident_mb[1]) / kMeasured;
  std::printf(
      "%8.2f x  what was sent (%.1f MB), %s: %.1f MB a session of %d objects x %d frames, %.0f%% static, %.0f bytes an "
      "object; the daemon at %.0f MB empty, %.0f after one session, %.0f after %d more\n",
      session_mb * 1e6 / static_cast<double>(sent_bytes), static_cast<double>(sent_bytes) / 1e6, what.c_str(),
      session_mb, kObjects, kFrames, 100 * cast.static_share(), session_mb * 1e6 / kObjects, resident_mb[0],
      resident_mb[1], resident_mb.back(), kMeasured);
  std::fflush(stdout);
}

void MeasureMemory() {
  std::printf("-- memory\n");
  MeasureMemoryWith("as configured", {});
  MeasureMemoryWith("without depth maps kept", {"--live-maps-mb", "0"});
}

// Sessions without objects, begun and closed one after another, each on a connection of its own.
void MeasureTurnover(int sessions) {
  Stage stage;
  const Cast cast(10);
  std::vector<double> took_ms, echo_ms;
  for (int k = 0; k <= sessions; ++k) {
    const auto start = Clock::now();
    BeginFor(stage, cast).reset();
    if (k > 0) took_ms.push_back(MilliBetween(start, Clock::now()));
  }
  const auto bytes = static_cast<int64_t>(cast.header().ByteSizeLong());
  for (int k = 0; k <= sessions; ++k) {
    const double ms = stage.echo.RoundTrip(bytes, 60);
    if (k > 0) echo_ms.push_back(ms);
  }
  std::printf(
      "-- turnover\n%8.1f x (p99 %8.1f x)  an echo: connecting, beginning and closing a session, %d times  p50 %.2f"
      "  p99 %.2f ms\n",
      Percentile(took_ms, 0.5) / Percentile(echo_ms, 0.5), Percentile(took_ms, 0.99) / Percentile(echo_ms, 0.99),
      sessions, Percentile(took_ms, 0.5), Percentile(took_ms, 0.99));
}

int Run(const std::string& part, const Extent& extent) {
  const auto wanted = [&](const char* name) { return part == name || part == "all"; };
  if (wanted("memory")) MeasureMemory();
  if (wanted("large")) MeasureShot(100'000, {Wanted{16, 5}, Wanted{100, 16}}, extent);
  if (wanted("small")) MeasureShot(10'000, {std::nullopt, Wanted{16, 16}}, {extent.edits, extent.seconds / 2});
  if (wanted("many")) MeasureMany(extent);
  if (wanted("many")) MeasureTurnover(500);
  return 0;
}

}  // namespace
}  // namespace scantling::bench

int main(int argc, char** argv) {
  using namespace scantling::bench;  // NOLINT: a program of its own
  const std::string part = argc > 1 ? argv[1] : "all";
  if (part == "echo" && argc == 3) return ServeEcho(argv[2]);
  if (part != "large" && part != "small" && part != "many" && part != "memory" && part != "all") {
    std::fprintf(stderr, "bench_live: got part '%s', want large, small, many, memory or all\n", part.c_str());
    return 2;
  }
  Extent extent;
  if (argc > 2) extent.edits = std::max(1, std::atoi(argv[2]));
  if (argc > 3) extent.seconds = std::max(1.0, std::atof(argv[3]));
  return Run(part, extent);
}
