// Peak memory of a large shot that comes in blocks, each freed as soon as it has been taken in.
//
// Three processes, so that the peak is that of reading and planning alone: the first child makes the shot and writes
// its header and its blocks one after another, length before content, to a file without a name; the second reads them
// back one by one and plans; this one waits and asks the system for the second child's
// largest resident set (wait4; Linux counts it in KiB). A forked child begins with the little its parent holds.

#include <google/protobuf/io/zero_copy_stream_impl.h>
#include <google/protobuf/util/delimited_message_util.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <utility>

#include "server/rpc/convert.h"
#include "tests/bench/whole/shot.h"

namespace scantling::bench {
namespace {

constexpr double kTargetMiB = 1024;

// Header first, then every block.
bool WriteParts(int objects, int file) {
  v1::Shot shot = DemoShot(objects, /*blocks=*/true);
  int64_t all = 0, moving = 0, bytes = 0;
  for (const v1::ObjectBlock& block : shot.blocks()) {
    all += block.id_lengths_size();
    for (const uint32_t poses : block.poses()) moving += poses > 1;
    bytes += static_cast<int64_t>(block.ByteSizeLong());
  }
  std::printf("  the shot: %lld objects x %d frames, %.1f%% static, %d blocks of together %.0f MiB\n",
              static_cast<long long>(all), kFrames,
              100 - 100.0 * static_cast<double>(moving) / static_cast<double>(all), shot.blocks_size(),
              static_cast<double>(bytes) / (1 << 20));
  google::protobuf::RepeatedPtrField<v1::ObjectBlock> blocks;
  blocks.Swap(shot.mutable_blocks());
  bool written = google::protobuf::util::SerializeDelimitedToFileDescriptor(shot, file);
  for (const v1::ObjectBlock& block : blocks) {
    written = written && google::protobuf::util::SerializeDelimitedToFileDescriptor(block, file);
  }
  return written;
}

Scene ReadParts(int file) {
  google::protobuf::io::FileInputStream stream(file);
  v1::Shot header;
  bool clean_end = false;
  Violations violations;
  if (!google::protobuf::util::ParseDelimitedFromZeroCopyStream(&header, &stream, &clean_end)) std::exit(1);
  SceneBuilder builder(ShippedPolicy().catalogue, SceneLimits(), HeaderFromProto(header, violations), violations);
  AddInterests(header, builder, violations);
  for (int number = 0;; ++number) {
    v1::ObjectBlock block;  // freed before the next is read
    if (!google::protobuf::util::ParseDelimitedFromZeroCopyStream(&block, &stream, &clean_end)) break;
    AddBlock(block, "blocks[" + std::to_string(number) + "]", builder, violations);
  }
  if (!clean_end) std::exit(1);
  Scene scene = builder.Finish();
  EndIfAny(violations);
  return scene;
}

double MilliSince(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

bool ReadAndPlan(int file) {
  const auto start = std::chrono::steady_clock::now();
  Scene scene = ReadParts(file);
  const double reading_ms = MilliSince(start);
  PlanRequest request;
  request.threads = 2;
  const auto planned = PlanOf(std::move(scene), request);
  const double ready_ms = MilliSince(start);
  std::printf("  read in %.0f ms, planned in %.0f ms on two threads (", reading_ms, ready_ms - reading_ms);
  for (const StageClock& clock : planned->clocks) {
    std::printf(" %.*s %.0f", static_cast<int>(clock.stage.size()), clock.stage.data(), clock.milliseconds);
  }
  std::printf(" )\n");
  return planned->plan.decisions.size() == planned->scene.objects.size();
}

// Runs `work` in a child and returns its peak in MiB, or a negative number where it failed.
template <typename Work>
double PeakOf(const Work& work) {
  std::fflush(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    const bool done = work();
    std::fflush(nullptr);
    _exit(done ? 0 : 1);
  }
  int status = 0;
  struct rusage usage = {};
  if (child < 0 || wait4(child, &status, 0, &usage) != child || status != 0) return -1;
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

}  // namespace

int MeasureMemory(int objects) {
  std::FILE* const parts = std::tmpfile();
  if (parts == nullptr) {
    std::perror("bench_whole: a temporary file");
    return 1;
  }
  const int file = fileno(parts);
  const double made = PeakOf([&] { return WriteParts(objects, file); });
  const bool rewound = lseek(file, 0, SEEK_SET) == 0;
  const double peak = made < 0 || !rewound ? -1 : PeakOf([&] { return ReadAndPlan(file); });
  std::fclose(parts);
  if (peak < 0) {
    std::fprintf(stderr, "bench_whole: the memory run failed\n");
    return 1;
  }
  std::printf("%6.2f of the target of %.0f MiB: peak %.0f MiB (one run, its own process)\n", peak / kTargetMiB,
              kTargetMiB, peak);
  return peak < kTargetMiB ? 0 : 1;
}

}  // namespace scantling::bench
