// View stage against plain scalar Imath: same boxes, same cameras, same machine, same run.
//
// A track along a market: 10,240 standing objects of person, cart and house size on 200 x 120 m of ground, 48 frames of
// a camera at 1.6 m that travels and turns. Both sides measure every object at every frame, turn and turn about, nine
// times; printed are medians, with the least and the greatest. The figures of both sides are compared first: a ratio
// between different jobs would mean nothing.

#include <hwy/targets.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

#include "server/view/view.h"
#include "tests/bench/view/imath_reference.h"
#include "tests/view/boxes.h"

namespace scantling::bench {
namespace {

using view_test::Box;
using view_test::Random;
using view_test::Stored;
using view_test::Uniform;

constexpr int kChunks = 40, kFrames = 48, kRepeats = 9;

Box MarketBox(Random& random) {
  static constexpr double kHalf[3][3] = {{0.25, 0.85, 0.2}, {0.9, 0.8, 1.6}, {4, 4, 5}};  // person, cart, house
  const double kind = Uniform(random, 0, 1), turn = Uniform(random, 0, 6.28);
  const double* h = kHalf[kind < 0.8 ? 0 : kind < 0.97 ? 1 : 2];
  const double c = std::cos(turn), s = std::sin(turn);
  return {{Uniform(random, -100, 100), h[1], Uniform(random, -120, 0)},
          {h[0] * c, 0, h[0] * s},
          {0, h[1], 0},
          {-h[2] * s, 0, h[2] * c}};
}

Camera TrackCamera() {
  Camera camera;
  camera.poses.resize(kFrames);
  for (int f = 0; f < kFrames; ++f) {
    const double turn = 0.6 * std::sin(f * 0.13), c = std::cos(turn), s = std::sin(turn);
    camera.poses[f].position_m = {-20 + 40.0 * f / kFrames, 1.6, 6};
    camera.poses[f].world_to_camera = {c, 0, -s, 0, 1, 0, s, 0, c};
    camera.poses[f].focal_mm = 35;
  }
  return camera;
}

struct Bench {
  std::vector<PoseChunk> chunks;
  std::vector<ImathBox> boxes;
  std::vector<CameraView> views;
  std::vector<ViewBlock> blocks = std::vector<ViewBlock>(kChunks);
  std::vector<ImathFigures> figures = std::vector<ImathFigures>(static_cast<size_t>(kChunks) * kChunkLanes);

  Bench() {
    Random random(1);
    const auto v = [](const Vec3& p) { return Imath::V3d(p[0], p[1], p[2]); };
    for (int k = 0; k < kChunks; ++k) {
      chunks.push_back(view_test::EmptyChunk());
      for (int i = 0; i < kChunkLanes; ++i) {
        view_test::Add(chunks.back(), MarketBox(random));
        const Box box = Stored(chunks.back(), i);
        boxes.push_back({v(box.centre), v(box.a), v(box.b), v(box.c)});
      }
    }
    const Camera camera = TrackCamera();
    for (int f = 0; f < kFrames; ++f) views.push_back(ViewOf(camera, f));
  }

  void Ours(int f) {
    for (int k = 0; k < kChunks; ++k) MeasureChunk(chunks[k], f, views[f], blocks[k]);
  }
  void Theirs(int f) { MeasureWithImath(boxes, views[f], figures); }
};

struct Shares {
  double outside = 0, clear = 0, cut = 0, worst_area = 0;
  int decisions_differ = 0;
};

Shares CompareFigures(Bench& bench) {
  Shares shares;
  const double total = static_cast<double>(bench.boxes.size()) * kFrames;
  for (int f = 0; f < kFrames; ++f) {
    bench.Ours(f);
    bench.Theirs(f);
    for (size_t i = 0; i < bench.boxes.size(); ++i) {
      const ViewBlock& block = bench.blocks[i / kChunkLanes];
      const size_t lane = i % kChunkLanes;
      const uint8_t flags = block.flags[lane];
      (flags == 0 ? shares.outside : flags == kInFrame ? shares.clear : shares.cut) += 1 / total;
      const ImathFigures& want = bench.figures[i];
      shares.decisions_differ += want.in_frame != (flags != 0);
      if (want.covered_px > 1e-3f) {
        shares.worst_area = std::max<double>(shares.worst_area, std::abs(block.covered_px[lane] / want.covered_px - 1));
      }
    }
  }
  return shares;
}

template <class Body>
double MillionsPerSecond(double objects, const Body& body) {
  const auto start = std::chrono::steady_clock::now();
  for (int f = 0; f < kFrames; ++f) body(f);
  const std::chrono::duration<double> passed = std::chrono::steady_clock::now() - start;
  return objects * kFrames / passed.count() / 1e6;
}

struct Spread {
  double least, median, most;
};

Spread SpreadOf(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return {values.front(), values[values.size() / 2], values.back()};
}

void Print(const char* what, const Spread& s, const char* unit) {
  std::printf("%-28s %8.1f %s   (%.1f to %.1f)\n", what, s.median, unit, s.least, s.most);
}

// The same on every instruction set this machine can run.
void PrintInstructionSets(Bench& bench) {
  for (int64_t target : hwy::SupportedAndGeneratedTargets()) {
    hwy::SetSupportedTargetsForTest(target);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    std::vector<double> rates;
    for (int k = 0; k < kRepeats; ++k) {
      rates.push_back(MillionsPerSecond(bench.boxes.size(), [&](int f) { bench.Ours(f); }));
    }
    Print(ViewInstructionSet(), SpreadOf(rates), "M objects.frames/s");
  }
  hwy::SetSupportedTargetsForTest(0);
  hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

int Run() {
  Bench bench;
  const Shares shares = CompareFigures(bench);
  std::vector<double> ours, theirs, ratio;
  for (int k = 0; k < kRepeats; ++k) {
    ours.push_back(MillionsPerSecond(bench.boxes.size(), [&](int f) { bench.Ours(f); }));
    theirs.push_back(MillionsPerSecond(bench.boxes.size(), [&](int f) { bench.Theirs(f); }));
    ratio.push_back(ours.back() / theirs.back());
  }
  Print("ratio to scalar Imath", SpreadOf(ratio), "times");
  Print("view stage", SpreadOf(ours), "M objects.frames/s");
  Print("scalar Imath", SpreadOf(theirs), "M objects.frames/s");
  std::printf("instruction set %s, one thread, %d repeats, %zu objects x %d frames\n", ViewInstructionSet(), kRepeats,
              bench.boxes.size(), kFrames);
  PrintInstructionSets(bench);
  std::printf("objects outside %.1f%%, clear inside %.1f%%, cut by the frustum %.1f%%\n", 100 * shares.outside,
              100 * shares.clear, 100 * shares.cut);
  std::printf("both sides agree: %d decisions differ, worst area %.1e relative\n", shares.decisions_differ,
              shares.worst_area);
  return shares.decisions_differ == 0 && shares.worst_area < 1e-5 ? 0 : 1;
}

}  // namespace
}  // namespace scantling::bench

int main() { return scantling::bench::Run(); }
