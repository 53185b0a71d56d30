// Hiding per frame against Embree packets of sixteen rays: same scene, same camera, same machine, same run, one thread.
//
// A town: 200 houses hide, 10,000 or 100,000 people and carts stand among and behind them, all of them in frame. Ours:
// the depth map of the frame is made and every object asked for its visible fraction. Theirs: one packet of sixteen
// occlusion rays an object, from the eye to its corners and to those of half its size; the hierarchy of their scene is
// built beforehand and not counted. Sixteen rays tell a fraction to about a tenth, and may miss what a slit shows. The
// program fails where a ray reaches a place, inside the picture, of an object called hidden.

#include <embree3/rtcore.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

#include "tests/outside/view/embree_rays.h"
#include "tests/view/hiding_shot.h"

namespace scantling::bench {
namespace {

using view_test::EmbreeRays;
using view_test::HidingShot;
using view_test::Uniform;
using view_test::Upright;

constexpr int kRepeats = 9;

Camera WideCamera() {
  Camera camera;
  camera.window_width = 24.892;
  camera.window_height = 24.892 * 858 / 2048;
  camera.poses.resize(1);
  camera.poses[0].focal_mm = 35;
  camera.poses[0].position_m = {0, 6, 0};
  return camera;
}

HidingShot Town(int objects) {
  view_test::Random random(1);
  HidingShot shot(WideCamera());
  const auto place = [&](double nearest, double farthest) {
    const double depth = Uniform(random, nearest, farthest);
    return Vec3{depth * Uniform(random, -0.33, 0.33), 0, -depth};
  };
  for (int i = 0; i < objects; ++i) {
    const bool house = i < 200;
    const Vec3 at = house ? place(40, 250) : place(30, 300);
    const double half_height = house ? Uniform(random, 3, 7) : Uniform(random, 0.5, 1.2);
    const double half_width = house ? Uniform(random, 2, 5) : Uniform(random, 0.2, 1.5);
    shot.Add(Upright({at[0], half_height, at[2]}, half_width, half_height, half_width), house ? 0.95 : 0);
  }
  return shot;
}

struct Frame {
  HidingShot shot;
  Occluders occluders;  // once per shot
  CameraView view;
  EmbreeRays rays;
  std::vector<ViewBlock> measured, blocks;

  explicit Frame(int objects)
      : shot(Town(objects)),
        occluders(OccludersOf(shot.scene())),
        view(ViewOf(shot.scene().cameras[0], 0)),
        rays(shot.scene()),
        measured(shot.scene().chunks.size()) {
    for (size_t k = 0; k < measured.size(); ++k) MeasureChunk(shot.scene().chunks[k], 0, view, measured[k]);
    blocks = measured;
  }
};

double MakeMap(Frame& frame, DepthMap& map) {
  const auto start = std::chrono::steady_clock::now();
  map = DepthMap(frame.shot.scene(), frame.occluders, 0, 0, {});
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

double Ask(Frame& frame, const DepthMap& map) {
  const std::vector<PoseChunk>& chunks = frame.shot.scene().chunks;
  const auto start = std::chrono::steady_clock::now();
  for (size_t k = 0; k < chunks.size(); ++k) map.FindVisible(chunks[k], 0, frame.view, frame.blocks[k]);
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

// Share of sixteen rays from the eye that reach their places in the object: its corners, pulled in by a thousandth, and
// those of the box half as large. What stops a ray within a hundred thousandth of its length before its place does not
// count.
float SixteenRays(const Frame& frame, const PoseChunk& chunk, size_t lane) {
  const Vec3& eye = frame.view.position_m;
  RTCRay16 rays;
  alignas(64) std::array<int, 16> valid;
  valid.fill(-1);
  for (size_t k = 0; k < 16; ++k) {
    const double share = k < 8 ? 0.999 : 0.5;
    Vec3 to = {chunk.centre_x[lane], chunk.centre_y[lane], chunk.centre_z[lane]};
    for (size_t axis = 0; axis < 3; ++axis) {
      const double along = (k >> axis & 1) != 0 ? share : -share;
      for (size_t j = 0; j < 3; ++j) to[j] += along * double{chunk.axis[3 * axis + j][lane]};
    }
    rays.org_x[k] = static_cast<float>(eye[0]);
    rays.org_y[k] = static_cast<float>(eye[1]);
    rays.org_z[k] = static_cast<float>(eye[2]);
    rays.dir_x[k] = static_cast<float>(to[0] - eye[0]);
    rays.dir_y[k] = static_cast<float>(to[1] - eye[1]);
    rays.dir_z[k] = static_cast<float>(to[2] - eye[2]);
    rays.tnear[k] = 0;
    rays.tfar[k] = 1 - 1e-5f;
    rays.mask[k] = 0xffffffffu;
    rays.flags[k] = 0;
    rays.time[k] = 0;
  }
  RTCIntersectContext context;
  rtcInitIntersectContext(&context);
  context.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
  rtcOccluded16(valid.data(), frame.rays.embree(), &context, &rays);
  int reached = 0;
  for (const float tfar : rays.tfar) reached += tfar >= 0;
  return static_cast<float>(reached) / 16;
}

double AskEmbree(Frame& frame, std::vector<float>& visible) {
  visible.clear();
  const auto start = std::chrono::steady_clock::now();
  for (size_t k = 0; k < frame.measured.size(); ++k) {
    const ViewBlock& block = frame.measured[k];
    const PoseChunk& chunk = frame.shot.scene().chunks[k];
    for (size_t lane = 0; lane < static_cast<size_t>(block.count); ++lane) {
      visible.push_back((block.flags[lane] & kInFrame) != 0 ? SixteenRays(frame, chunk, lane) : -1);
    }
  }
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

struct Spread {
  double least, median, most;
};
Spread SpreadOf(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return {values.front(), values[values.size() / 2], values.back()};
}

// Number of objects called hidden that a ray reaches.
int Compare(int objects) {
  Frame frame(objects);
  std::vector<double> making, asking, theirs, ratio;
  std::vector<float> visible;
  DepthMap map;
  for (int k = 0; k < kRepeats; ++k) {
    making.push_back(MakeMap(frame, map));
    asking.push_back(Ask(frame, map));
    theirs.push_back(AskEmbree(frame, visible));
    ratio.push_back(theirs.back() / (making.back() + asking.back()));
  }
  int in_frame = 0, ours_hidden = 0, theirs_hidden = 0, reached = 0;
  for (size_t i = 0; i < visible.size(); ++i) {
    if (visible[i] < 0) continue;
    ++in_frame;
    const bool hidden = frame.blocks[i / kChunkLanes].visible[i % kChunkLanes] == 0;
    ours_hidden += hidden;
    theirs_hidden += visible[i] == 0;
    // Corners of one cut by the border may lie outside the picture, of which the map says nothing.
    const bool whole = (frame.blocks[i / kChunkLanes].flags[i % kChunkLanes] & kClipped) == 0;
    reached += hidden && visible[i] > 0 && whole;
  }
  const Spread r = SpreadOf(ratio), m = SpreadOf(making), a = SpreadOf(asking), t = SpreadOf(theirs);
  std::printf(
      "%6d objects, 200 occluders  %5.1f times (%.1f to %.1f)   %.2f ms: map %.2f (%.2f to %.2f), asking %.2f (%.2f to "
      "%.2f);"
      " Embree, 16 rays an object %.1f ms (%.1f to %.1f)\n",
      objects, r.median, r.least, r.most, m.median + a.median, m.median, m.least, m.most, a.median, a.least, a.most,
      t.median, t.least, t.most);
  std::printf("       %d in frame; hidden %d, by sixteen rays %d; called hidden and reached by one of them %d\n",
              in_frame, ours_hidden, theirs_hidden, reached);
  return reached;
}

}  // namespace
}  // namespace scantling::bench

int main() {
  int reached = 0;
  for (const int objects : {10'000, 100'000}) reached += scantling::bench::Compare(objects);
  return reached == 0 ? 0 : 1;
}
