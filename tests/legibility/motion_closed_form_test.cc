// Jumps, slips and travel whose size follows from one line of arithmetic. The shot's camera is 2000 px wide and looks
// down -Z from the origin: at ten metres, where everything here goes, a metre is 100 px both ways. The floor is 1 px.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/legibility/motion_fold.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

constexpr double kPxPerMetre = 100;
// Single precision: a place is good to 1e-7 of what is measured, tens of px.
constexpr double kTolerancePx = 1e-4;

std::vector<Pose> Path(int32_t frames, const std::function<double(int)>& x_px) {
  std::vector<Pose> poses(static_cast<size_t>(frames));
  for (int f = 0; f < frames; ++f) poses[static_cast<size_t>(f)].centre[0] = x_px(f) / kPxPerMetre;
  return poses;
}

Shot OneGoing(int32_t frames, const std::function<double(int)>& x_px) {
  Shot shot(frames);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, Path(frames, x_px));
  return shot;
}

Jump JumpOf(const Shot& shot, const Legibility& columns, int32_t hold, int32_t phase, uint32_t row = 0) {
  const uint32_t first = columns.motion.first_jump[row];
  if (first == kNone) return {};
  return columns.motion.jumps[first + FirstJump(shot.style, hold) + static_cast<size_t>(phase)];
}

TEST(Jumps, LieHoldByHoldAndPhaseByPhase) {
  Style style;
  style.holds = {1, 2, 4, 12};
  EXPECT_EQ(JumpCount(style), 18u);  // 2 + 4 + 12
  EXPECT_EQ(FirstJump(style, 2), 0u);
  EXPECT_EQ(FirstJump(style, 4), 2u);
  EXPECT_EQ(FirstJump(style, 12), 6u);
  style.holds = {1};
  EXPECT_EQ(JumpCount(style), 0u);
}

TEST(Jumps, TravellerAlongThePictureJumpsSpeedTimesHold) {
  constexpr double kSpeed = 6.25;
  Shot shot = OneGoing(40, [](int f) { return kSpeed * f - 100; });
  shot.style.holds = {1, 2, 3, 4, 6, 8, 12};
  const Legibility columns = FoldForReal(shot);
  for (const int32_t hold : {2, 3, 4, 6, 8, 12}) {
    for (int32_t phase = 0; phase < hold; ++phase) {
      const Jump jump = JumpOf(shot, columns, hold, phase);
      EXPECT_NEAR(jump.px, kSpeed * hold, kTolerancePx) << hold << "/" << phase;
      EXPECT_NEAR(jump.slip_px, kSpeed * (hold - 1), kTolerancePx) << hold << "/" << phase;
      EXPECT_NEAR(jump.slip_over_floor, kSpeed * (hold - 1), kTolerancePx);  // the floor is 1 px
      EXPECT_NEAR(jump.over_bound, kSpeed * hold * 168 / 2000, kTolerancePx);
    }
  }
  EXPECT_NEAR(columns.motion.travel_px[0], kSpeed * 39, kTolerancePx);
}

TEST(Jumps, BoundIsTheFloorWhereThatIsLarger) {
  Shot shot = OneGoing(20, [](int f) { return 8.0 * f; });
  shot.style.viewing_distance_heights *= 20;  // a floor of 20 px, over 2000 / 168 = 11.9
  const Legibility columns = FoldForReal(shot);
  EXPECT_NEAR(JumpOf(shot, columns, 2, 0).over_bound, 16.0 / 20, 1e-5);
  EXPECT_NEAR(JumpOf(shot, columns, 2, 0).slip_over_floor, 8.0 / 20, 1e-5);
}

TEST(Jumps, CameraMovesCauseNone) {
  Shot shot = OneGoing(24, [](int) { return 0.0; });
  shot.Place(shot.AddRow(0), 1, {Pose{}});
  Camera& camera = shot.scene.cameras[0];
  const CameraPose lens = camera.poses[0];
  for (int move = 0; move < 4; ++move) {
    camera.poses.assign(24, lens);
    for (int f = 0; f < 24; ++f) {
      CameraPose& pose = camera.poses[static_cast<size_t>(f)];
      const double pan = move == 0 ? 0.01 * f : move == 3 ? 0.3 * std::sin(2.0 * f) : 0;  // a pan, a whip to and fro
      pose.world_to_camera = {std::cos(pan), 0, -std::sin(pan), 0, 1, 0, std::sin(pan), 0, std::cos(pan)};
      if (move == 1) pose.position_m = {0.2 * f, 0, -0.1 * f};
      if (move == 2) pose.focal_mm = 20 + f;
    }
    const Legibility columns = FoldForReal(shot);
    for (const uint32_t row : {0u, 1u}) {
      EXPECT_GT(columns.seen_frames[row], 20);
      EXPECT_EQ(columns.motion.first_jump[row], kNone) << move;
      EXPECT_EQ(columns.motion.travel_px[row], 0) << move;
    }
  }
}

// 10, 0, -10, 0: twos that begin on even frames go from end to end, 20; those on odd ones see 10 between, and are back
// where they were when the pose changes.
TEST(Jumps, BestPhaseOfASwingIsNotTheFirst) {
  const Shot shot = OneGoing(24, [](int f) { return 10 * std::cos(f * std::acos(0.0)); });
  const Legibility columns = FoldForReal(shot);
  EXPECT_NEAR(JumpOf(shot, columns, 2, 0).px, 20, kTolerancePx);
  EXPECT_NEAR(JumpOf(shot, columns, 2, 1).px, 10, kTolerancePx);
}

TEST(Jumps, NoHoldReachesAcrossABeat) {
  Shot shot = OneGoing(24, [](int f) { return 3.0 * f; });
  for (int32_t beat = 1001; beat < 1025; beat += 3) shot.scene.beats.push_back(beat);
  const Legibility columns = FoldForReal(shot);
  // Three frames between beats: at most two frames after a pose began.
  for (int32_t phase = 0; phase < 4; ++phase) EXPECT_LE(JumpOf(shot, columns, 4, phase).px, 6 + kTolerancePx);
  EXPECT_NEAR(JumpOf(shot, columns, 4, 0).px, 6, kTolerancePx);
}

TEST(Jumps, NoHoldReachesAcrossADrawing) {
  Shot shot = OneGoing(9, [](int f) { return f < 5 ? 0.0 : 50.0; });
  EXPECT_NEAR(JumpOf(shot, FoldForReal(shot), 4, 0).px, 50, kTolerancePx);
  shot.scene.replaced = {{1005, 1006}};
  EXPECT_EQ(FoldForReal(shot).motion.first_jump[0], kNone);
}

// In the second phase of twos the first pose stays one frame, which is on ones.
TEST(Jumps, FirstPoseOfOneFrameNeverJumps) {
  Shot shot = OneGoing(12, [](int f) { return f == 0 ? 0.0 : 50.0; });
  const Legibility columns = FoldForReal(shot);
  EXPECT_NEAR(JumpOf(shot, columns, 2, 0).px, 50, kTolerancePx);
  EXPECT_EQ(JumpOf(shot, columns, 2, 1).px, 0);
  EXPECT_NEAR(JumpOf(shot, columns, 3, 2).px, 50, kTolerancePx);  // two frames
}

// The box reaches half a metre out in front of the eye, its centre lies behind.
TEST(Jumps, PlacesBehindTheNearPlaneHaveNone) {
  Shot shot = OneGoing(12, [](int f) { return 5.0 * f; });
  for (double& z : shot.scene.chunks[0].centre_z) z = 0.5;
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.seen_frames[0], 12);
  EXPECT_EQ(columns.motion.first_jump[0], kNone);
  EXPECT_EQ(columns.motion.travel_px[0], 0);
}

// A raft without thickness, as a picture of it is scaled up; what stands over it is scaled with it.
TEST(Jumps, RidersOfAFlatCarrierGrowWithIt) {
  Shot shot(12);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  std::vector<Pose> raft, rider;
  for (int f = 0; f < 12; ++f) {
    const double scale = 1 + 0.1 * f;
    const auto s = static_cast<float>(scale);
    raft.push_back({{0, 0, -20}, {s, 0, 0, 0, 0, 0, 0, 0, 2 * s}});
    rider.push_back({{0.5 * scale, 0.8 * scale, -20}, {0.1F, 0, 0, 0, 0.1F, 0, 0, 0, 0.1F}});
  }
  shot.Place(shot.AddRow(0), 0, raft);
  shot.Place(shot.AddRow(0), 0, rider);
  shot.scene.objects.container[1] = 0;
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.seen_frames[1], 12);
  EXPECT_EQ(columns.motion.first_jump[1], kNone);
}

TEST(Jumps, WhatIsUnseenDoesNotJumpThen) {
  // Far to the left of the picture (1000 px to its edge) until it stops in the middle.
  const Shot shot = OneGoing(20, [](int f) { return f < 10 ? -5000 + 300.0 * f : 0; });
  const Legibility columns = FoldForReal(shot);
  // The pose that began at frame 8 is still up when it is first seen, at frame 10: from -2600 to 0.
  EXPECT_NEAR(JumpOf(shot, columns, 2, 0).px, 2600, 0.01);
  EXPECT_EQ(columns.motion.travel_px[0], 0);  // since it is seen it stands
}

// 30 frames on a ferry that goes and turns: a passenger stands; another walks 0.05 m a frame along it.
TEST(Jumps, PassengersJumpByTheirOwnWalkOnly) {
  Shot shot(30);
  Camera& camera = shot.AddCamera(0);
  camera.projection = Projection::kOrthographic;  // of metres: 2000 px are 40 m, 50 px a metre in any depth
  shot.AddClass(ClassKind::kFigure);
  std::vector<Pose> ferry, stands, walks;
  for (int f = 0; f < 30; ++f) {
    const double turn = 0.02 * f, c = std::cos(turn), s = std::sin(turn);
    const auto at = [&](double x, double y) { return Vec3{0.1 * f + c * x - s * y, 0.05 * f + s * x + c * y, -10}; };
    const auto axes = [&](double along, double across) {
      return std::array<float, 9>{static_cast<float>(along * c),
                                  static_cast<float>(along * s),
                                  0,
                                  static_cast<float>(-across * s),
                                  static_cast<float>(across * c),
                                  0,
                                  0,
                                  0,
                                  1};
    };
    ferry.push_back({at(0, 0), axes(5, 2)});
    stands.push_back({at(3, 1), axes(0.2, 0.9)});
    walks.push_back({at(-2 + 0.05 * f, -1), axes(0.2, 0.9)});
  }
  const uint32_t carrier = shot.AddRow(0);
  shot.Place(carrier, 0, ferry);
  for (const auto& poses : {stands, walks}) {
    const uint32_t row = shot.AddRow(0);
    shot.scene.objects.container[row] = carrier;
    shot.Place(row, 1, poses);
  }
  const Legibility columns = FoldForReal(shot);
  EXPECT_GT(JumpOf(shot, columns, 2, 0, carrier).px, 10);  // itself 0.11 m a frame, 5.6 px
  EXPECT_EQ(columns.motion.first_jump[1], kNone);
  EXPECT_LT(columns.motion.travel_over_floor[1], kNoJumpPx);
  EXPECT_NEAR(JumpOf(shot, columns, 3, 0, 2).px, 0.05 * 50 * 3, 1e-3);  // axes are floats: kNoJumpPx
  EXPECT_NEAR(columns.motion.travel_px[2], 0.05 * 50 * 29, 1e-3);
}

// The base is a metre below the centre, 100 px; the picture ends 500 px below its middle.
TEST(Feet, AreUnseenWhereTheBaseIsOutsideThePictureThroughout) {
  const auto at_height = [](double centre_px, double overscan_px) {
    Shot shot = OneGoing(4, [](int f) { return 1.0 * f; });
    for (double& y : shot.scene.chunks[0].centre_y) y = centre_px / kPxPerMetre;
    shot.scene.cameras[0].overscan_px = overscan_px;
    return FoldForReal(shot).motion.feet_unseen[0];
  };
  EXPECT_EQ(at_height(-399, 0), 0);
  EXPECT_EQ(at_height(-401, 0), 1);
  EXPECT_EQ(at_height(-401, 2), 0);
}

TEST(PathStep, IsTheJumpWhereThePlaceChangesAndNothingBetween) {
  const Shot shot = OneGoing(12, [](int f) { return 4.0 * f; });
  const ShotOptics optics = shot.Optics();
  for (int32_t f = 0; f < 12; ++f) {
    const double step = PathStepPx(optics, 0, 0, f, {3, 0});
    EXPECT_NEAR(step, f > 0 && f % 3 == 0 ? 12 : 0, kTolerancePx) << f;
  }
}

}  // namespace
}  // namespace scantling
