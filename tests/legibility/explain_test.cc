// Figures frame by frame: how the path jumps on the hold that is asked for, and what is hidden. (That losses add up to
// the columns is in properties_test.cc.)

#include <algorithm>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::DoubleNear;
using ::testing::ElementsAre;

// Places are doubles of the scene, projected in double: rounding of some hundred px.
constexpr double kRoundingPx = 1e-9;

// One figure that goes 0.1 m a frame, under an orthographic camera of 100 px a metre: 10 px a frame.
Shot Traveller(int32_t frames) {
  Shot shot(frames);
  Camera& camera = shot.AddCamera(0);
  camera.projection = Projection::kOrthographic;
  camera.window_width = 20;
  camera.window_height = 10;
  std::vector<Pose> poses;
  for (int f = 0; f < frames; ++f) poses.push_back({.centre = {0.1 * f, 0, -10}});
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, poses);
  return shot;
}

std::vector<double> Jumps(const Shot& shot, int32_t hold, int32_t phase, uint32_t object = 0) {
  std::vector<double> jumps;
  for (const FrameFigures& figures : ExplainFrames(shot.Optics(), object, hold, phase))
    jumps.push_back(figures.jump_px);
  return jumps;
}

MATCHER_P(ArePx, expected, "") {
  return arg.size() == expected.size() && std::equal(arg.begin(), arg.end(), expected.begin(), [](double a, double b) {
           return a >= b - kRoundingPx && a <= b + kRoundingPx;
         });
}
std::vector<double> Px(std::vector<double> px) { return px; }

TEST(ExplainedJump, OfALinearTravellerIsSpeedTimesHoldWhereThePoseChanges) {
  EXPECT_THAT(Jumps(Traveller(8), 3, 0), ArePx(Px({0, 0, 0, 30, 0, 0, 30, 0})));
  EXPECT_THAT(Jumps(Traveller(8), 2, 0), ArePx(Px({0, 0, 20, 0, 20, 0, 20, 0})));
}

// The frames before the first pose of a phase are one shorter hold; one of one frame does not jump.
TEST(ExplainedJump, StartsInItsPhase) {
  EXPECT_THAT(Jumps(Traveller(8), 3, 1), ArePx(Px({0, 0, 0, 0, 30, 0, 0, 30})));
  EXPECT_THAT(Jumps(Traveller(8), 3, 2), ArePx(Px({0, 0, 20, 0, 0, 30, 0, 0})));
}

TEST(ExplainedJump, IsNoneOnOnes) { EXPECT_THAT(Jumps(Traveller(4), 1, 0), ElementsAre(0, 0, 0, 0)); }

// Poses start anew at frame 1005, where the count of the phase begins again.
TEST(ExplainedJump, NoHoldReachesAcrossABeat) {
  Shot shot = Traveller(9);
  shot.scene.beats = {1005};
  EXPECT_THAT(Jumps(shot, 3, 0), ArePx(Px({0, 0, 0, 30, 0, 0, 0, 30, 0})));
  EXPECT_THAT(Jumps(shot, 3, 1), ArePx(Px({0, 0, 0, 0, 0, 0, 0, 0, 30})));
}

TEST(ExplainedJump, NoHoldReachesAcrossADrawing) {
  Shot shot = Traveller(9);
  shot.Own(0).replaced = {{1003, 1004}};
  EXPECT_THAT(Jumps(shot, 2, 0), ArePx(Px({0, 0, 0, 0, 0, 0, 20, 0, 20})));
}

TEST(ExplainedJump, IsNoneWhereItIsNotSeen) {
  Shot shot = Traveller(7);
  shot.scene.cameras[0].window_width = 0.2;  // 10,000 px a metre across: its centre leaves the picture, its box stays
  EXPECT_NEAR(Jumps(shot, 3, 0)[3], 3000, kRoundingPx);
  shot.style.smallest_covered_px = 1e9;
  EXPECT_THAT(Jumps(shot, 3, 0), ::testing::Each(0));
}

TEST(ExplainedJump, ACameraMoveAloneCausesNone) {
  Shot shot = Traveller(6);
  shot.scene.cameras[0].poses.resize(6, shot.scene.cameras[0].poses[0]);
  for (size_t f = 0; f < 6; ++f) shot.scene.cameras[0].poses[f].position_m = {0.3 * static_cast<double>(f), 0, 0};
  const uint32_t still = shot.AddRow(0);
  shot.Place(still, 1, {Pose{}});
  EXPECT_THAT(Jumps(shot, 4, 0, still), ::testing::Each(0));
  EXPECT_NEAR(Jumps(shot, 4, 0)[4], 40, kRoundingPx);  // nor does it change what the path does
}

// A passenger who walks 0.02 m a frame on a ferry that goes 0.1 m: 2 px a frame, 6 on threes.
TEST(ExplainedJump, IsMeasuredAgainstWhatCarriesIt) {
  Shot shot = Traveller(7);
  std::vector<Pose> poses;
  for (int f = 0; f < 7; ++f) poses.push_back({.centre = {0.12 * f, 0.5, -10}});
  const uint32_t passenger = shot.AddRow(0);
  shot.Place(passenger, 0, poses);
  shot.scene.objects.container[passenger] = 0;
  const std::vector<double> jumps = Jumps(shot, 3, 0, passenger);
  EXPECT_NEAR(jumps[3], 6, 1e-5);  // the ferry's axes are floats
  EXPECT_NEAR(jumps[6], 6, 1e-5);
}

TEST(ExplainedJump, IsNoneWithoutGeometry) {
  Shot shot(3);
  shot.AddCamera(0);
  shot.Measure(shot.AddRow(shot.AddClass(ClassKind::kFigure)), {{16, 1000, 12}, {16, 1000, 12}, {16, 1000, 12}});
  EXPECT_THAT(Jumps(shot, 2, 0), ElementsAre(0, 0, 0));
}

// The fold's own figure of every hold and phase is the largest of the jumps that are explained, for a path on which a
// longer time always means a longer way. Kept in single precision: 1e-6 of it.
TEST(ExplainedJump, IsNoneLargerThanTheFoldFound) {
  Shot shot = Traveller(24);
  shot.scene.beats = {1011};
  const Legibility columns = FoldForReal(shot);
  ASSERT_NE(columns.motion.first_jump[0], kNone);
  for (const int32_t hold : {2, 3, 4}) {
    for (int32_t phase = 0; phase < hold; ++phase) {
      const std::vector<double> jumps = Jumps(shot, hold, phase);
      const size_t at = columns.motion.first_jump[0] + FirstJump(shot.style, hold) + static_cast<size_t>(phase);
      const double largest = *std::max_element(jumps.begin(), jumps.end());
      EXPECT_NEAR(largest, 10.0 * hold, kRoundingPx);
      EXPECT_NEAR(columns.motion.jumps[at].px, largest, 1e-6 * largest) << hold << " in phase " << phase;
    }
  }
}

// Wholly visible where nothing hides, 0 where not in frame.
TEST(ExplainFrames, SayWhatIsVisible) {
  Shot shot = Traveller(3);
  shot.scene.cameras[0].poses.resize(3, shot.scene.cameras[0].poses[0]);
  shot.scene.cameras[0].poses[2].position_m = {1000, 0, 0};
  const std::vector<FrameFigures> frames = ExplainFrames(shot.Optics(), 0, 1, 0);
  EXPECT_EQ(frames[0].visible, 1);
  EXPECT_EQ(frames[2].visible, 0);
  EXPECT_THAT(frames[0].covered_px, DoubleNear(200 * 200 * 0.5, 1e-2));  // 2 m square at solidity 0.5, a float
}

}  // namespace
}  // namespace scantling
