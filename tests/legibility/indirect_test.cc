// Indirect sight: frames in which a shadow, a reflection or a light is seen.

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

const Figure kSeen = {.height_px = 16, .area_px = 2000}, kOff = {.in_frame = false};

// One object over ten frames, seen itself in the first three.
Shot OneObject() {
  Shot shot(10);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, {Pose{}});
  return shot;
}

Legibility SeenInTheFirstThree(const Shot& shot) {
  std::vector<std::vector<std::vector<Figure>>> frames(10, {{kOff}});
  for (size_t f = 0; f < 3; ++f) frames[f] = {{kSeen}};
  return FoldByHand(shot, frames);
}

TEST(IndirectFrames, OfNothingCastAreNone) {
  Shot shot = OneObject();
  EXPECT_TRUE(IndirectFrames(shot.scene, 0).empty());
  shot.Own(0).beats = {1002};  // it has particulars, but casts nothing
  EXPECT_TRUE(IndirectFrames(shot.scene, 0).empty());
  EXPECT_FALSE(IsSeenOnlyIndirectlySomewhere(shot.scene, SeenInTheFirstThree(shot), 0));
}

TEST(IndirectFrames, UniteAllKindsOfSight) {
  Shot shot = OneObject();
  shot.Own(0).indirect = {{IndirectKind::kShadow, {{1007, 1008}}},
                          {IndirectKind::kLight, {{1001, 1002}, {1005, 1006}}},
                          {IndirectKind::kReflection, {{1002, 1003}}}};
  EXPECT_THAT(IndirectFrames(shot.scene, 0), ElementsAre(FrameRange{1001, 1003}, FrameRange{1005, 1008}));
}

TEST(IndirectFrames, LeaveOutWhatADrawingStandsFor) {
  Shot shot = OneObject();
  shot.scene.replaced = {{1006, 1006}};
  shot.Own(0).indirect = {{IndirectKind::kShadow, {{1004, 1009}}}};
  EXPECT_THAT(IndirectFrames(shot.scene, 0), ElementsAre(FrameRange{1004, 1005}, FrameRange{1007, 1009}));
  shot.Own(0).replaced = {{1004, 1009}};
  EXPECT_TRUE(IndirectFrames(shot.scene, 0).empty());
}

TEST(IsSeenOnlyIndirectlySomewhere, AsksWhetherSomeCastFrameIsUnseen) {
  Shot shot = OneObject();
  const auto answer = [&](FrameSpans cast) {
    shot.Own(0).indirect = {{IndirectKind::kShadow, std::move(cast)}};
    return IsSeenOnlyIndirectlySomewhere(shot.scene, SeenInTheFirstThree(shot), 0);
  };
  EXPECT_FALSE(answer({{1001, 1003}}));
  EXPECT_TRUE(answer({{1001, 1004}}));
  EXPECT_TRUE(answer({{1008, 1008}}));
  shot.Own(0).replaced = {{1004, 1010}};
  EXPECT_FALSE(answer({{1001, 1004}}));
}

}  // namespace
}  // namespace scantling
