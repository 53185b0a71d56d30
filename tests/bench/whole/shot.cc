// The way from the sample to a plan, as the daemon goes it, without the wire: read, check, plan.
//
// Any fault ends the program with a message and 1, since a figure of a failed plan would mean nothing. Unlike the
// tests' demonstration shot this links no test library, and memory is measured without one.

#include "tests/bench/whole/shot.h"

#include <cstdio>
#include <cstdlib>
#include <string>
#include <utility>

#include "client/sample/sample.h"
#include "server/policy/load.h"
#include "server/rpc/convert.h"

namespace scantling::bench {
namespace {

[[noreturn]] void End(const std::string& why) {
  std::fprintf(stderr, "bench_whole: %s\n", why.c_str());
  std::exit(1);
}

}  // namespace

const Policy& ShippedPolicy() {
  static const Policy* const policy = [] {
    absl::StatusOr<Policy> loaded = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
    if (!loaded.ok()) End(loaded.status().ToString());
    return new Policy(*std::move(loaded));
  }();
  return *policy;
}

void EndIfAny(const Violations& violations) {
  if (!violations.empty()) End(StatusOf(violations).ToString());
}

v1::Shot DemoShot(int objects, bool blocks) {
  SampleOptions options;
  options.objects = objects;
  options.frames = kFrames;
  options.blocks = blocks;
  return MakeSample(options);
}

Scene SceneOf(const v1::Shot& shot) {
  Violations violations;
  Scene scene = SceneFromProto(shot, ShippedPolicy().catalogue, SceneLimits(), violations);
  EndIfAny(violations);
  return scene;
}

std::unique_ptr<PlannedShot> PlanOf(Scene scene, const PlanRequest& request) {
  const Stop stop;
  const Style* style = ShippedPolicy().FindStyle(ShippedPolicy().default_style);
  PlanFaults faults;
  auto planned = PlanShot(std::move(scene), {ShippedPolicy(), *style, stop, {}}, request, faults);
  if (!planned.ok()) End(planned.status().ToString());
  return *std::move(planned);
}

}  // namespace scantling::bench
