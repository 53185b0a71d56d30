// How long a live shot goes on when it is told to stop, and what a first look takes, in this process.
//
//   bench_stop [OBJECTS] [TIMES]
//
// OBJECTS (100,000) over 240 frames, a tenth of them moving. Measuring, settling and finishing are each begun TIMES
// (40) times and stopped after a random part of what they take; the time from the stop to the return is told by p50 and
// worst. Target: 20 ms. The reference is the same step run to its end.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "client/sample/sample.h"
#include "server/planning/live_shot.h"
#include "server/policy/load.h"
#include "server/rpc/convert.h"

namespace scantling::bench {
namespace {

using Clock = std::chrono::steady_clock;

constexpr double kLongestMs = 600;  // before a stop

double MsSince(Clock::time_point begin) {
  return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

MergedScene Merged(const v1::Shot& shot, const Scene& base, const Policy& policy, bool with_objects) {
  Violations violations;
  SceneBuilder builder(policy.catalogue, SceneLimits(), HeaderFromProto(shot, violations), violations);
  AddInterests(shot, builder, violations);
  if (with_objects) AddObjects(shot, builder, violations);
  MergedScene merged = builder.FinishOnto(base, {});
  if (violations.empty()) return merged;
  std::fprintf(stderr, "bench_stop: %s\n", violations.listed()[0].description.c_str());
  std::exit(1);
}

void Report(const char* what, double whole_ms, std::vector<double> late_ms) {
  std::sort(late_ms.begin(), late_ms.end());
  std::printf("%8.3f x  of %s run to its end: stopped within  p50 %8.2f  worst %8.2f ms of %8.1f; target 20 ms: %s\n",
              late_ms.back() / whole_ms, what, late_ms[late_ms.size() / 2], late_ms.back(), whole_ms,
              late_ms.back() <= 20 ? "met" : "MISSED");
}

// Runs `step` to its end once, then stops it after random parts of that time. `again` makes it due again.
void MeasureStops(const char* what, int times, const std::function<void()>& again,
                  const std::function<void(const Stop&)>& step) {
  again();
  const Stop never;
  auto begin = Clock::now();
  step(never);
  const double whole_ms = MsSince(begin);
  std::mt19937 random(1);
  std::vector<double> late_ms;
  for (int i = 0; i < times; ++i) {
    again();
    Stop stop;
    Clock::time_point stopped;
    const auto wait = std::chrono::duration<double, std::milli>(std::min(whole_ms, kLongestMs) *
                                                                static_cast<double>(random() % 1000) / 1000);
    std::thread stopper([&] {
      std::this_thread::sleep_for(wait);
      stopped = Clock::now();
      stop.Cancel();
    });
    step(stop);
    const Clock::time_point ended = Clock::now();
    stopper.join();
    // A step that had ended before it was told to was not late.
    late_ms.push_back(std::max(0.0, std::chrono::duration<double, std::milli>(ended - stopped).count()));
  }
  Report(what, whole_ms, std::move(late_ms));
}

int Main(int objects, int times) {
  const absl::StatusOr<Policy> policy = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
  if (!policy.ok()) return 1;
  SampleOptions options;
  options.objects = objects;
  options.blocks = true;
  v1::Shot shot = MakeSample(options);
  const Style& style = *policy->FindStyle("ink");
  LiveShot live(*policy, size_t{256} << 20);
  live.TakeScene(Merged(shot, live.scene(), *policy, true), style);
  shot.clear_blocks();
  shot.clear_objects();

  const Stop never;
  std::vector<double> look_ms;
  for (int i = 0; i < 9; ++i) {
    const auto begin = Clock::now();
    live.LookAtFrame(120, 2, never);
    look_ms.push_back(MsSince(begin));
  }
  std::sort(look_ms.begin(), look_ms.end());
  const auto measure_begin = Clock::now();
  (void)live.Measure(2, never, {});
  const double measure_ms = MsSince(measure_begin);
  std::printf("%8.3f x  of measuring all %d objects: a first look at one frame  p50 %8.2f  worst %8.2f ms of %8.1f\n",
              look_ms[4] / measure_ms, objects, look_ms[4], look_ms.back(), measure_ms);

  const auto move_camera = [&] {
    auto& matrices = *shot.mutable_cameras(0)->mutable_transform()->mutable_matrices();
    for (int i = 14; i < matrices.size(); i += 16) matrices.Set(i, matrices.Get(i) + 0.01);
    live.TakeScene(Merged(shot, live.scene(), *policy, false), style);
  };
  MeasureStops("measuring", times, move_camera, [&](const Stop& stop) { (void)live.Measure(2, stop, {}); });
  (void)live.Measure(2, never, {});
  PlanRequest request;
  request.threads = 2;
  PlanFaults faults;
  const auto nothing = [] {};
  MeasureStops("settling without a budget", times, nothing,
               [&](const Stop& stop) { (void)live.Settle(request, stop, faults); });
  (void)live.Settle(request, never, faults);
  request.budgets.anim_hours = live.shot().plan.totals.plan.anim_hours.mean * 0.7;
  MeasureStops("settling within 70% of the hours", times, nothing,
               [&](const Stop& stop) { (void)live.Settle(request, stop, faults); });
  MeasureStops("finishing within 70% of the hours", times, nothing,
               [&](const Stop& stop) { (void)live.Finish(request, stop, faults); });
  return 0;
}

}  // namespace
}  // namespace scantling::bench

int main(int argc, char** argv) {
  return scantling::bench::Main(argc > 1 ? std::atoi(argv[1]) : 100'000, argc > 2 ? std::atoi(argv[2]) : 40);
}
