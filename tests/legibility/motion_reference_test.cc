// Jumps and travel against their definition, worked out the long way round in double precision on random shots: things
// that walk, ride and stand on turning, flat and mirrored carriers, seen through a turning and an orthographic camera,
// with beats and replaced frames.
//
// The reference shares nothing with the fold but who is seen and the floor there. It lays out every pose of every hold
// and phase, carries places along by the rotations from which the carriers were made, and projects by the formulas of
// the model.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using Matrix = std::array<double, 9>;  // row-major

Vec3 Apply(const Matrix& m, const Vec3& v) {
  return {m[0] * v[0] + m[1] * v[1] + m[2] * v[2], m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
          m[6] * v[0] + m[7] * v[1] + m[8] * v[2]};
}
Vec3 Sum(const Vec3& a, const Vec3& b) { return {a[0] + b[0], a[1] + b[1], a[2] + b[2]}; }
Vec3 Difference(const Vec3& a, const Vec3& b) { return {a[0] - b[0], a[1] - b[1], a[2] - b[2]}; }
Matrix Transposed(const Matrix& m) { return {m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]}; }

// About the vertical.
Matrix Turn(double radians) {
  const double c = std::cos(radians), s = std::sin(radians);
  return {c, 0, s, 0, 1, 0, -s, 0, c};
}

struct RigidPose {
  Vec3 centre = {};
  Matrix turn = {1, 0, 0, 0, 1, 0, 0, 0, 1};
};

// `half`: signed half sizes, 0 for none: the box as the scene keeps it.
Pose BoxOf(const RigidPose& pose, const Vec3& half) {
  Pose box;
  box.centre = pose.centre;
  for (size_t axis = 0; axis < 3; ++axis) {
    for (size_t i = 0; i < 3; ++i) box.axes[3 * axis + i] = static_cast<float>(pose.turn[3 * i + axis] * half[axis]);
  }
  return box;
}

// One object: how it goes, in the world.
struct Going {
  std::vector<RigidPose> poses;
  int32_t carrier = -1;
};

struct Random {
  std::mt19937_64 engine;
  double In(double least, double most) { return std::uniform_real_distribution<double>(least, most)(engine); }
  int Int(int least, int most) { return std::uniform_int_distribution<int>(least, most)(engine); }
};

constexpr int32_t kFrames = 30;

struct RandomShot {
  Shot shot{kFrames};
  std::vector<Going> goings;

  RandomShot(uint64_t seed, const Vec3& origin) {
    Random random{std::mt19937_64(seed)};
    shot.style.holds = {1, 2, 3, 5, 8};
    shot.scene.replaced = {{1009, 1010}};
    shot.scene.beats = {1004, 1020};
    AddCameras(random, origin);
    shot.AddClass(ClassKind::kFigure);
    for (int carrier = 0; carrier < 3; ++carrier) AddCarrier(carrier, random, origin);
    for (int rider = 0; rider < 12; ++rider) AddRider(rider % 4 - 1, random, origin);
  }

  void AddCameras(Random& random, const Vec3& origin) {
    for (int picture = 0; picture < 2; ++picture) {
      Camera& camera = shot.AddCamera(picture);
      const CameraPose lens = camera.poses[0];
      camera.poses.assign(kFrames, lens);
      const double speed = random.In(-0.2, 0.2), turn = random.In(-0.01, 0.01);
      for (int32_t f = 0; f < kFrames; ++f) {
        camera.poses[static_cast<size_t>(f)].position_m = Sum(origin, {speed * f, 1, 20});
        camera.poses[static_cast<size_t>(f)].world_to_camera = Transposed(Turn(turn * f));
        camera.poses[static_cast<size_t>(f)].focal_mm = 20 + 0.3 * f;
      }
    }
    Camera& map = shot.scene.cameras.back();
    map.projection = Projection::kOrthographic;
    map.window_width = 60;
    map.window_height = 30;
  }

  void AddCarrier(int kind, Random& random, const Vec3& origin) {
    const Vec3 start = {random.In(-6, 6), 0, random.In(-10, 0)};
    const Vec3 speed = {random.In(-0.3, 0.3), 0, random.In(-0.1, 0.3)};
    const double turn = random.In(-0.2, 0.2);
    Going going;
    for (int32_t f = 0; f < kFrames; ++f) {
      going.poses.push_back({Sum(origin, Sum(start, {speed[0] * f, speed[1] * f, speed[2] * f})), Turn(turn * f)});
    }
    // A whole one, a flat one, and one that is mirrored and flat another way.
    const std::array<Vec3, 3> halves = {Vec3{3, 1, 5}, Vec3{4, 0, 2}, Vec3{-2, 3, 0}};
    Add(std::move(going), halves[static_cast<size_t>(kind)]);
  }

  void AddRider(int32_t carrier, Random& random, const Vec3& origin) {
    Going going;
    going.carrier = carrier;
    const Vec3 start = {random.In(-3, 3), random.In(0, 1), random.In(-4, 4)};
    const bool stands = random.Int(0, 3) == 0;
    const double pace = stands ? 0 : random.In(0.01, 0.2), wobble = stands ? 0 : random.In(0, 0.3);
    for (int32_t f = 0; f < kFrames; ++f) {
      const Vec3 local = {start[0] + pace * f, start[1] + wobble * std::sin(0.9 * f), start[2]};
      const RigidPose on =
          carrier < 0 ? RigidPose{origin, Turn(0)} : goings[static_cast<size_t>(carrier)].poses[static_cast<size_t>(f)];
      going.poses.push_back({Sum(on.centre, Apply(on.turn, local)), on.turn});
    }
    const bool own = random.Int(0, 3) == 0;
    const uint32_t row = Add(std::move(going), {0.3, 0.9, 0.2});
    if (carrier >= 0) shot.scene.objects.container[row] = static_cast<uint32_t>(carrier);
    if (own) shot.Own(row).beats = {1004, 1007, 1015, 1020};
    if (own) shot.Own(row).replaced = {{1009, 1010}, {1024, 1025}};
  }

  uint32_t Add(Going going, const Vec3& half) {
    const uint32_t row = shot.AddRow(0);
    std::vector<Pose> boxes;
    for (const RigidPose& pose : going.poses) boxes.push_back(BoxOf(pose, half));
    shot.Place(row, 0, boxes);
    goings.push_back(std::move(going));
    return row;
  }
};

// One object through one camera, by the definition.
class Reference {
 public:
  Reference(const RandomShot& shot, uint32_t row) : shot_(shot), scene_(shot.shot.scene), row_(row) {
    const ShotOptics optics = shot.shot.Optics();
    figures_ = ExplainFrames(optics, row, 1, 0);
  }

  Jump JumpOf(int32_t hold, int32_t phase) {
    most_ = {};
    for (int32_t begin = 0; begin < kFrames; ++begin) {
      if (!PosesBeginAnew(begin)) continue;
      int32_t end = begin + 1;  // where poses begin anew or a drawing stands for it
      while (end < kFrames && !PosesBeginAnew(end) && !IsReplaced(end)) ++end;
      if (phase > 0) AddPose(begin, phase, end);
      for (int32_t start = begin + phase; start < end; start += hold) AddPose(start, hold, end);
    }
    return most_;
  }

  float TravelPx() const {
    int32_t first = 0;
    while (first < kFrames && !IsSeen(0, first) && !IsSeen(1, first)) ++first;
    double most = 0;
    for (int32_t f = first; f < kFrames; ++f) {
      for (size_t camera = 0; camera < 2; ++camera) {
        if (IsSeen(camera, f)) most = std::max(most, Distance(camera, first, f));
      }
    }
    return static_cast<float>(most);
  }

 private:
  bool IsReplaced(int32_t f) const { return Contains(scene_.replaced_of(row_), 1001 + f); }
  bool PosesBeginAnew(int32_t f) const {
    const std::vector<int32_t>& beats = scene_.beats_of(row_);
    const bool beat = std::find(beats.begin(), beats.end(), 1001 + f) != beats.end();
    return !IsReplaced(f) && (f == 0 || beat || IsReplaced(f - 1));
  }
  const FrameFigures& Figures(size_t camera, int32_t f) const {
    return figures_[camera * kFrames + static_cast<size_t>(f)];
  }
  bool IsSeen(size_t camera, int32_t f) const { return Figures(camera, f).seen; }

  // A pose that stays `hold` frames from `start` on, or until `end`. A pose of one frame is on ones: it never jumps.
  void AddPose(int32_t start, int32_t hold, int32_t end) {
    for (int32_t j = 1; hold > 1 && j <= hold && start + j < end; ++j) {
      for (size_t camera = 0; camera < 2; ++camera) {
        if (!IsSeen(camera, start + j)) continue;
        const double px = Distance(camera, start, start + j), floor_px = Figures(camera, start + j).floor.px;
        const double bound = std::max(floor_px, scene_.cameras[camera].width_px / 168.0);
        most_.px = std::max(most_.px, static_cast<float>(px));
        most_.over_bound = std::max(most_.over_bound, static_cast<float>(px / bound));
        if (j == hold) continue;
        most_.slip_px = std::max(most_.slip_px, static_cast<float>(px));
        most_.slip_over_floor = std::max(most_.slip_over_floor, static_cast<float>(px / floor_px));
      }
    }
  }

  // In the picture of `to`, between where it is and where it was at `from`, carried along.
  double Distance(size_t camera, int32_t from, int32_t to) const {
    const Going& going = shot_.goings[row_];
    const Vec3 now = going.poses[static_cast<size_t>(to)].centre;
    Vec3 then = going.poses[static_cast<size_t>(from)].centre;
    if (going.carrier >= 0) {
      const std::vector<RigidPose>& on = shot_.goings[static_cast<size_t>(going.carrier)].poses;
      const RigidPose &was = on[static_cast<size_t>(from)], &is = on[static_cast<size_t>(to)];
      then = Sum(is.centre, Apply(is.turn, Apply(Transposed(was.turn), Difference(then, was.centre))));
    }
    const std::array<double, 3> a = Project(camera, to, now), b = Project(camera, to, then);
    const double near_m = scene_.cameras[camera].near_m;
    return a[2] > near_m && b[2] > near_m ? std::hypot(a[0] - b[0], a[1] - b[1]) : 0;
  }

  // u, v, depth by 2-model section 1.
  std::array<double, 3> Project(size_t camera, int32_t f, const Vec3& place) const {
    const Camera& through = scene_.cameras[camera];
    const CameraPose& pose = through.pose(f);
    const Vec3 p = Apply(pose.world_to_camera, Difference(place, pose.position_m));
    const bool map = through.projection == Projection::kOrthographic;
    const double scale = map ? 1 : pose.focal_mm / -p[2];
    return {through.width_px * (0.5 + scale * p[0] / through.window_width),
            through.height_px * (0.5 - scale * p[1] / through.window_height), -p[2]};
  }

  const RandomShot& shot_;
  const Scene& scene_;
  const uint32_t row_;
  std::vector<FrameFigures> figures_;
  Jump most_;
};

// Axes are floats: what stands 5 m off on a carrier seems to move by some 1e-6 m, at up to 200 px a metre.
constexpr double kTolerancePx = 1e-3;

void ExpectJump(const Jump& got, const Jump& want) {
  const double ratio_tolerance = kTolerancePx;  // floors and bounds are 1 px and more
  EXPECT_NEAR(got.px, want.px, kTolerancePx + 1e-6 * want.px);
  EXPECT_NEAR(got.over_bound, want.over_bound, ratio_tolerance + 1e-6 * want.over_bound);
  EXPECT_NEAR(got.slip_px, want.slip_px, kTolerancePx + 1e-6 * want.slip_px);
  EXPECT_NEAR(got.slip_over_floor, want.slip_over_floor, ratio_tolerance + 1e-6 * want.slip_over_floor);
}

int CheckAgainstReference(const RandomShot& shot) {
  const Legibility columns = FoldForReal(shot.shot);
  int jumping = 0;
  for (uint32_t row = 0; row < shot.goings.size(); ++row) {
    SCOPED_TRACE("row " + std::to_string(row));
    Reference reference(shot, row);
    const float travel = reference.TravelPx();
    EXPECT_NEAR(columns.motion.travel_px[row], travel, kTolerancePx + 1e-6 * travel);
    const uint32_t first = columns.motion.first_jump[row];
    for (const int32_t hold : shot.shot.style.holds) {
      for (int32_t phase = 0; hold > 1 && phase < hold; ++phase) {
        SCOPED_TRACE("hold " + std::to_string(hold) + " phase " + std::to_string(phase));
        const size_t at = FirstJump(shot.shot.style, hold) + static_cast<size_t>(phase);
        ExpectJump(first == kNone ? Jump{} : columns.motion.jumps[first + at], reference.JumpOf(hold, phase));
      }
    }
    jumping += first != kNone ? 1 : 0;
  }
  return jumping;
}

TEST(MotionReference, RandomShotsJumpAsTheDefinitionSays) {
  int jumping = 0;
  for (uint64_t seed = 1; seed <= 20; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    jumping += CheckAgainstReference(RandomShot(seed, {0, 0, 0}));
  }
  EXPECT_GT(jumping, 100);
}

// At 1e7 m a double is good to 2e-9 m, so nothing but the tolerances above is needed.
TEST(MotionReference, TenThousandKilometresFromTheOriginTheSame) {
  int jumping = 0;
  for (uint64_t seed = 1; seed <= 5; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    jumping += CheckAgainstReference(RandomShot(seed, {1e7, -1e7, 1e7}));
  }
  EXPECT_GT(jumping, 20);
}

}  // namespace
}  // namespace scantling
