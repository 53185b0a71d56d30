// Set elements: a patch is a painting that loses nothing until the view of it turns.

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

constexpr double kRounding = 1e-12;
const Figure kSeen = {.height_px = 200, .area_px = 40000};

Shot OneSetElement(const std::vector<Pose>& poses) {
  Shot shot(static_cast<int32_t>(poses.size()));
  Camera& camera = shot.AddCamera(0);
  camera.projection = Projection::kOrthographic;
  camera.window_width = 20;  // metres: 100 px per metre
  camera.window_height = 10;
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kSetElement)), 0, poses);
  return shot;
}

// A card of 2 m by 2 m without thickness, turned about the upright. At 60 degrees it looks half as wide.
Pose Card(double cos_turn) {
  const auto c = static_cast<float>(cos_turn), s = static_cast<float>(std::sqrt(1 - cos_turn * cos_turn));
  return {.axes = {c, 0, s, 0, 1, 0, 0, 0, 0}};
}

// 40000 px * 0.5 / 2,000,000 = 0.01 of the picture. 200 px over 1 px.
TEST(SetElement, StillViewLosesNothingAsAPatchOrProxy) {
  const Legibility columns = FoldByHand(OneSetElement({Card(1), Card(1)}), {{{kSeen}}, {{kSeen}}});
  EXPECT_EQ(columns.loss[0][kPhiAsGiven][kPatch], 0);
  EXPECT_EQ(columns.loss[0][kPhiAsGiven][kProxy], 0);
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kOmit], 2 * 3 * 0.01 * std::log2(200.0), kRounding);
  EXPECT_NEAR(columns.turn_over_floor[0], 0, 1e-9);  // residual of a fit to itself: rounding of 100 px
  EXPECT_THAT(columns.worst_octaves[0],
              ::testing::ElementsAre(::testing::FloatEq(static_cast<float>(std::log2(200.0))), 0, 0, 0));
}

// Seen in frames 1001, 1002, 1003; painted for the middle one, face on: corners (+-100, +-100) px. At 60 degrees they
// are (+-50, +-100). Best scale (100 * 50 + 100 * 100) / (100^2 + 100^2) = 0.75; residual (-25, 25): 25 sqrt 2 px.
TEST(SetElement, PatchLosesTheTurnAgainstTheMiddleSeenFrame) {
  const Legibility columns =
      FoldByHand(OneSetElement({Card(0.5), Card(1), Card(0.5)}), {{{kSeen}}, {{kSeen}}, {{kSeen}}});
  const double octaves = std::log2(25 * std::sqrt(2.0));  // 5.14; by phi PROXY would drop log2(50) = 5.64
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kPatch], 2 * 0.01 * octaves, 1e-8);  // axes are floats
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kProxy], 2 * 0.01 * octaves, 1e-8);
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kOmit], 3 * 3 * 0.01 * std::log2(200.0), kRounding);
  EXPECT_NEAR(columns.turn_over_floor[0], 25 * std::sqrt(2.0), 1e-4);
  EXPECT_NEAR(columns.worst_octaves[0][kPatch], octaves, 1e-6);
}

// PROXY of the lesser: phi 1/16 drops 12.5 px, 3.64 octaves, less than the turn's 5.14.
TEST(SetElement, ProxyTakesTheLesserOfItsOwnAndThePatchs) {
  Shot shot = OneSetElement({Card(0.5), Card(1), Card(0.5)});
  shot.catalogue.classes[0].phi = {1, 0.5, 0.0625, 0};
  const Legibility columns = FoldByHand(shot, {{{kSeen}}, {{kSeen}}, {{kSeen}}});
  // The middle frame is not turned: there the patch's 0 is the lesser.
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kProxy], 2 * 0.01 * std::log2(12.5), kRounding);
}

TEST(SetElement, ReferenceIsTheMiddleOfTheSeenFramesOnly) {
  const Figure unseen = {.in_frame = false};
  // Seen in 1001, 1004, 1005: 1004 is painted, and 1001 looks like it.
  const Legibility columns = FoldByHand(OneSetElement({Card(0.5), Card(1), Card(1), Card(0.5), Card(0.5)}),
                                        {{{kSeen}}, {{unseen}}, {{unseen}}, {{kSeen}}, {{kSeen}}});
  EXPECT_EQ(columns.loss[0][kPhiAsGiven][kPatch], 0);
  EXPECT_EQ(columns.seen_frames[0], 3);
}

// Frames 1001 and 1002 alike, 1003 and 1004 alike: the earlier middle, 1002, is painted.
TEST(SetElement, OfTwoMiddleFramesTheEarlierIsPainted) {
  Shot shot = OneSetElement({Card(1), Card(1), Card(0.5), Card(0.25)});
  const Legibility columns = FoldByHand(shot, {{{kSeen}}, {{kSeen}}, {{kSeen}}, {{kSeen}}});
  // 1004: (+-25, +-100): scale 0.625, residual (-37.5, 37.5).
  EXPECT_NEAR(columns.turn_over_floor[0], 37.5 * std::sqrt(2.0), 1e-4);
}

TEST(SetElement, TurnNeverExceedsTheHeight) {
  Figure low = kSeen;
  low.height_px = 20;  // as if measured so; the corners say 35.4 px
  const Legibility columns = FoldByHand(OneSetElement({Card(0.5), Card(1), Card(0.5)}), {{{low}}, {{low}}, {{low}}});
  EXPECT_FLOAT_EQ(columns.turn_over_floor[0], 20);
}

TEST(SetElement, CornerBehindTheNearPlaneMakesTheTurnTheHeight) {
  Shot shot(3);
  shot.AddCamera(0);                                                         // perspective, near 0.1 m
  const Pose far = {.centre = {0, 0, -10}}, close = {.centre = {0, 0, -1}};  // close: front corners at the eye
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kSetElement)), 0, {far, far, close});
  const Legibility columns = FoldByHand(shot, {{{kSeen}}, {{kSeen}}, {{kSeen}}});
  EXPECT_FLOAT_EQ(columns.turn_over_floor[0], 200);
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kPatch], 0.01 * std::log2(200.0), kRounding);
}

TEST(SetElement, CornerBehindInTheReferenceFrameMakesEveryTurnTheHeight) {
  Shot shot(3);
  shot.AddCamera(0);
  const Pose far = {.centre = {0, 0, -10}}, close = {.centre = {0, 0, -1}};
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kSetElement)), 0, {far, close, far});
  const Legibility columns = FoldByHand(shot, {{{kSeen}}, {{kSeen}}, {{kSeen}}});
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kPatch], 3 * 0.01 * std::log2(200.0), kRounding);
}

TEST(SetElement, FiguresHaveNoTurn) {
  Shot shot = OneSetElement({Card(0.5), Card(1), Card(0.5)});
  shot.catalogue.classes[0].kind = ClassKind::kFigure;
  EXPECT_EQ(FoldByHand(shot, {{{kSeen}}, {{kSeen}}, {{kSeen}}}).turn_over_floor[0], 0);
}

// A dolly past a house: the nearer the camera, the more the view of it turns; a pan turns nothing.
TEST(SetElement, PanTurnsNothingTrackDoes) {
  const auto turn = [](double step_m, double step_deg) {
    Shot shot(5);
    Camera& camera = shot.AddCamera(0);
    camera.poses.resize(5, camera.poses[0]);
    for (int f = 0; f < 5; ++f) {
      const double angle = (f - 2) * step_deg * std::numbers::pi / 180, c = std::cos(angle), s = std::sin(angle);
      camera.poses[static_cast<size_t>(f)].position_m = {(f - 2) * step_m, 0, 0};
      camera.poses[static_cast<size_t>(f)].world_to_camera = {c, 0, s, 0, 1, 0, -s, 0, c};
    }
    shot.Place(shot.AddRow(shot.AddClass(ClassKind::kSetElement)), 0, {Pose{.centre = {0, 0, -20}}});
    return FoldForReal(shot).turn_over_floor[0];
  };
  EXPECT_GT(turn(1, 0), 2);  // 2 m aside at 20 m: 0.1 rad of a box 2 m deep is 0.2 m, some 10 px, less the fit
  EXPECT_GT(turn(1, 0), 1.5 * turn(0.5, 0));
  EXPECT_LT(turn(0, 1), 0.1 * turn(1, 0));  // a pan distorts by the lens alone, second order in the angle
}

}  // namespace
}  // namespace scantling
