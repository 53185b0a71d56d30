// The whole plan of the demonstration shot, from the read message to the answer, and where its time goes.
//
//   bench_whole [time|gaps|memory|all] [RUNS]
//
// time    10,000 objects x 240 frames: without a budget on one thread and on two, then within 70% of the
// animator-hours,
//         of the core-hours (both of the unseen plan, core-hours above what a frame costs whatever is in it) and of
//         both
// gaps    1,500 objects: what a smaller proved gap costs
// memory  100,000 objects x 240 frames in blocks: peak of a process of its own
//
// RUNS (5) of everything turn and turn about, so that what else the machine does hits all alike. A ratio is taken
// within a run; printed are medians, with the least and the greatest. Ends with 1 where memory misses its target.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "tests/bench/whole/shot.h"

namespace scantling::bench {
namespace {

constexpr double kShare = 0.7;

struct Spread {
  double least, median, most;
};

Spread SpreadOf(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return {values.front(), values[values.size() / 2], values.back()};
}

struct Run {
  std::vector<StageClock> clocks;  // "reading" first
  double gap = 0;
  int64_t branched = 0;
  double price_anim = 0, price_core = 0;

  double whole_ms() const {
    double sum = 0;
    for (const StageClock& clock : clocks) sum += clock.milliseconds;
    return sum;
  }
  double stage_ms(std::string_view stage) const {
    for (const StageClock& clock : clocks) {
      if (clock.stage == stage) return clock.milliseconds;
    }
    return 0;
  }
};

Run RunOnce(const v1::Shot& shot, const PlanRequest& request) {
  const auto start = std::chrono::steady_clock::now();
  Scene scene = SceneOf(shot);
  const std::chrono::duration<double, std::milli> reading = std::chrono::steady_clock::now() - start;
  const auto planned = PlanOf(std::move(scene), request);
  Run run;
  run.clocks = {{"reading", reading.count()}};
  run.clocks.insert(run.clocks.end(), planned->clocks.begin(), planned->clocks.end());
  run.gap = planned->solution.gap();
  run.branched = planned->solution.branched;
  run.price_anim = planned->plan.totals.price_anim_hour;
  run.price_core = planned->plan.totals.price_core_hour;
  return run;
}

using Figure = std::function<double(const Run&)>;

Spread Of(const std::vector<Run>& runs, const Figure& figure) {
  std::vector<double> values;
  for (const Run& run : runs) values.push_back(figure(run));
  return SpreadOf(values);
}

// above / below, run by run.
Spread RatioOf(const std::vector<Run>& above, const std::vector<Run>& below, const Figure& figure) {
  std::vector<double> values;
  for (size_t k = 0; k < above.size(); ++k) values.push_back(figure(above[k]) / figure(below[k]));
  return SpreadOf(values);
}

double Whole(const Run& run) { return run.whole_ms(); }
double Measuring(const Run& run) { return run.stage_ms("measuring"); }
double Solving(const Run& run) { return run.stage_ms("solving"); }

void PrintRatio(const Spread& ratio, const std::string& what, const Spread& ms) {
  std::printf("%6.2f x (%.2f to %.2f)  %-58s %8.1f ms (%.1f to %.1f)\n", ratio.median, ratio.least, ratio.most,
              what.c_str(), ms.median, ms.least, ms.most);
}

// Every stage as a share of the whole, and its time.
void PrintStages(const std::vector<Run>& runs) {
  for (const StageClock& clock : runs.front().clocks) {
    const std::string stage(clock.stage);
    const Spread share = Of(runs, [&](const Run& run) { return 100 * run.stage_ms(stage) / run.whole_ms(); });
    const Spread ms = Of(runs, [&](const Run& run) { return run.stage_ms(stage); });
    std::printf("%6.1f %% (%.1f to %.1f)  %-58s %8.1f ms (%.1f to %.1f)\n", share.median, share.least, share.most,
                stage.c_str(), ms.median, ms.least, ms.most);
  }
}

// One way to ask for the plan, and what came of it.
struct Way {
  std::string name;
  PlanRequest request;
  std::vector<Run> runs;
};

void RunAll(const v1::Shot& shot, int runs, std::vector<Way>& ways) {
  for (int k = 0; k < runs; ++k) {
    for (Way& way : ways) way.runs.push_back(RunOnce(shot, way.request));
  }
}

struct Caps {
  double anim_hours, core_hours;
  double both_anim_hours;  // that bind together with core_hours
};

Caps CapsOf(const v1::Shot& shot) {
  const auto unseen = PlanOf(SceneOf(shot), {});
  const CostRange& plan = unseen->plan.totals.unseen_plan;
  Caps caps = {};
  caps.anim_hours = kShare * plan.anim_hours.mean;
  caps.core_hours = kShare * (plan.core_hours.mean - BaseCoreHours(unseen->scene, ShippedPolicy().rates));
  PlanRequest core;
  core.budgets.core_hours = caps.core_hours;
  core.target_gap = 1e-3;
  caps.both_anim_hours = 0.98 * PlanOf(SceneOf(shot), core)->plan.totals.plan.anim_hours.mean;
  return caps;
}

// What this machine gives a second thread at this moment, as measured on plain arithmetic: work done by two threads
// against one in the same time.
double SecondThreadGain() {
  const auto work = [] {
    volatile double sink = 1;  // keeps the loop
    double x = 1;
    for (int i = 0; i < 40'000'000; ++i) x = x * 1.0000001 + 1e-9;
    sink = x;
    return sink;
  };
  const auto start = std::chrono::steady_clock::now();
  work();
  const auto middle = std::chrono::steady_clock::now();
  {
    const std::jthread other(work);
    work();
  }
  return 2 * (middle - start).count() / static_cast<double>((std::chrono::steady_clock::now() - middle).count());
}

Way MakeWay(std::string name, Budgets budgets, int threads, double target_gap) {
  PlanRequest request;
  request.budgets = budgets;
  request.threads = threads;
  request.target_gap = target_gap;
  return {std::move(name), request, {}};
}

std::string Proof(const Way& way) {
  const Run& run = way.runs.front();
  char text[160];
  std::snprintf(text, sizeof text, "  gap %.1e, %lld nodes branched, price of an hour %.3g animation, %.3g core",
                run.gap, static_cast<long long>(run.branched), run.price_anim, run.price_core);
  return text;
}

void MeasureTime(int runs) {
  constexpr int kObjects = 10'000;
  constexpr double kGap = 1e-6;
  const v1::Shot shot = DemoShot(kObjects, /*blocks=*/false);
  const Caps caps = CapsOf(shot);
  std::vector<Way> ways = {MakeWay("no budget, one thread", {}, 1, kGap),
                           MakeWay("no budget, two threads", {}, 2, kGap),
                           MakeWay("70% of animator-hours, two threads", {caps.anim_hours, std::nullopt}, 2, kGap),
                           MakeWay("70% of core-hours, two threads", {std::nullopt, caps.core_hours}, 2, kGap),
                           MakeWay("both binding, two threads", {caps.both_anim_hours, caps.core_hours}, 2, kGap)};
  std::vector<double> gains;
  for (int k = 0; k < runs; ++k) {
    gains.push_back(SecondThreadGain());
    RunAll(shot, 1, ways);
  }
  const Spread gain = SpreadOf(gains);
  const std::vector<Run>& one = ways[0].runs;
  const std::vector<Run>& two = ways[1].runs;
  std::printf("Whole plan, %d objects x %d frames, %d runs: median (least to most)\n", kObjects, kFrames, runs);
  PrintRatio(RatioOf(one, two, Measuring), "as fast: measuring on two threads against one", Of(two, Measuring));
  PrintRatio(RatioOf(one, two, Whole), "as fast: whole plan on two threads against one", Of(two, Whole));
  std::printf("%6.2f x (%.2f to %.2f)  what the machine gave a second thread of plain arithmetic meanwhile\n",
              gain.median, gain.least, gain.most);
  for (size_t w = 2; w < ways.size(); ++w) {
    PrintRatio(RatioOf(ways[w].runs, two, Whole), "as long as without a budget: " + ways[w].name,
               Of(ways[w].runs, Whole));
    std::printf("%s\n", Proof(ways[w]).c_str());
  }
  for (const Way& way : ways) {
    std::printf("Split by stage: %s\n", way.name.c_str());
    PrintStages(way.runs);
  }
}

void MeasureGaps(int runs) {
  constexpr int kObjects = 1'500;
  const v1::Shot shot = DemoShot(kObjects, /*blocks=*/false);
  const Caps caps = CapsOf(shot);
  const std::pair<const char*, Budgets> budgets[] = {{"animator-hours", {caps.anim_hours, std::nullopt}},
                                                     {"core-hours", {std::nullopt, caps.core_hours}}};
  std::printf("Proved gap, %d objects x %d frames, 70%% of a budget, two threads, %d runs\n", kObjects, kFrames, runs);
  for (const auto& [name, budget] : budgets) {
    std::vector<Way> ways = {MakeWay("no budget", {}, 2, 1e-6)};
    for (const double gap : {1e-4, 1e-5, 1e-6}) {
      char text[80];
      std::snprintf(text, sizeof text, "as long as without a budget: %s, target gap %.0e", name, gap);
      ways.push_back(MakeWay(text, budget, 2, gap));
    }
    RunAll(shot, runs, ways);
    for (size_t w = 1; w < ways.size(); ++w) {
      PrintRatio(RatioOf(ways[w].runs, ways[0].runs, Whole), ways[w].name, Of(ways[w].runs, Whole));
      const Spread solving = Of(ways[w].runs, Solving);
      std::printf("  solving %.1f ms (%.1f to %.1f);%s\n", solving.median, solving.least, solving.most,
                  Proof(ways[w]).c_str());
    }
  }
}

}  // namespace
}  // namespace scantling::bench

int main(int argc, char** argv) {
  using namespace scantling::bench;  // NOLINT: a program of its own
  const std::string part = argc > 1 ? argv[1] : "all";
  const int runs = argc > 2 ? std::max(1, std::atoi(argv[2])) : 5;
  if (part != "time" && part != "gaps" && part != "memory" && part != "all") {
    std::fprintf(stderr, "bench_whole: got part '%s', want time, gaps, memory or all\n", part.c_str());
    return 2;
  }
  const int missed = part == "memory" || part == "all" ? MeasureMemory(100'000) : 0;  // first: this process is small
  if (part == "time" || part == "all") MeasureTime(runs);
  if (part == "gaps" || part == "all") MeasureGaps(runs);
  return missed;
}
