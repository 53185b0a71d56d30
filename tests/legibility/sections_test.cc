// Sections: runs of seen frames cut at beats, each with its own largest figures.

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

const Figure kOff = {.in_frame = false};

Figure High(float height_px) { return {.height_px = height_px, .area_px = 2000}; }

Shot OneFigure(int32_t frames) {
  Shot shot(frames);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, {Pose{}});
  return shot;
}

MATCHER_P3(IsSection, first, last, height_over_floor, "") {
  return arg.frames == FrameRange{first, last} && std::abs(arg.height_over_floor - height_over_floor) < 1e-5;
}

// The floor is 1 px. Frames 1001 to 1008, of which 1004 is unseen.
TEST(Sections, AreRunsOfSeenFramesCutAtBeats) {
  Shot shot = OneFigure(8);
  shot.scene.beats = {1003, 1007};
  const Legibility columns = FoldByHand(
      shot, {{{High(5)}}, {{High(9)}}, {{High(4)}}, {{kOff}}, {{High(6)}}, {{High(2)}}, {{High(3)}}, {{High(8)}}});
  EXPECT_THAT(columns.sections_of(0), ElementsAre(IsSection(1001, 1002, 9), IsSection(1003, 1003, 4),
                                                  IsSection(1005, 1006, 6), IsSection(1007, 1008, 8)));
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1001, 1003}, FrameRange{1005, 1008}));
  EXPECT_EQ(columns.seen_frames[0], 7);
}

TEST(Sections, BeatAtTheBeginningOrInUnseenFramesCutsNothing) {
  Shot shot = OneFigure(5);
  shot.scene.beats = {1001, 1003, 1004};
  const Legibility columns = FoldByHand(shot, {{{High(5)}}, {{High(5)}}, {{kOff}}, {{High(5)}}, {{High(7)}}});
  EXPECT_THAT(columns.sections_of(0), ElementsAre(IsSection(1001, 1002, 5), IsSection(1004, 1005, 7)));
}

TEST(Sections, EveryFrameMayBeABeat) {
  Shot shot = OneFigure(3);
  shot.scene.beats = {1001, 1002, 1003};
  const Legibility columns = FoldByHand(shot, {{{High(1)}}, {{High(2)}}, {{High(3)}}});
  EXPECT_THAT(columns.sections_of(0),
              ElementsAre(IsSection(1001, 1001, 1), IsSection(1002, 1002, 2), IsSection(1003, 1003, 3)));
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1001, 1003}));
}

TEST(Sections, AnObjectsOwnBeatsAreItsAlone) {
  Shot shot = OneFigure(4);
  shot.Place(shot.AddRow(0), 0, {Pose{}});
  shot.scene.beats = {1002};
  shot.Own(1).beats = {1002, 1004};
  const Legibility columns = FoldByHand(shot, {4, {{High(5), High(5)}}});
  EXPECT_THAT(columns.sections_of(0), ElementsAre(IsSection(1001, 1001, 5), IsSection(1002, 1004, 5)));
  EXPECT_THAT(columns.sections_of(1),
              ElementsAre(IsSection(1001, 1001, 5), IsSection(1002, 1003, 5), IsSection(1004, 1004, 5)));
}

TEST(Sections, ReplacedFramesPartThem) {
  Shot shot = OneFigure(4);
  shot.scene.replaced = {{1002, 1003}};
  const Legibility columns = FoldByHand(shot, {{{High(5)}}, {{High(50)}}, {{High(50)}}, {{High(6)}}});
  EXPECT_THAT(columns.sections_of(0), ElementsAre(IsSection(1001, 1001, 5), IsSection(1004, 1004, 6)));
}

// Now the second camera sees it larger, now the first, and the second sees it where the first does not.
TEST(Sections, TakeTheLargestOfAnyCamera) {
  Shot shot = OneFigure(4);
  shot.AddCamera(1);
  shot.scene.beats = {1003};
  const Legibility columns =
      FoldByHand(shot, {{{High(5)}, {High(11)}}, {{kOff}, {High(7)}}, {{High(13)}, {High(8)}}, {{High(2)}, {kOff}}});
  EXPECT_THAT(columns.sections_of(0), ElementsAre(IsSection(1001, 1002, 11), IsSection(1003, 1004, 13)));
}

TEST(Sections, OfWhatTheCallerMeasured) {
  Shot shot(4);
  shot.AddCamera(0);
  const uint32_t row = shot.AddRow(shot.AddClass(ClassKind::kFigure));
  shot.scene.beats = {1002};
  shot.Measure(row, {{4, 1000, 12}, {16, 1000, 12}, {0, 0, 0}, {8, 1000, 12}});
  EXPECT_THAT(FoldForReal(shot).sections_of(row),
              ElementsAre(IsSection(1001, 1001, 4), IsSection(1002, 1002, 16), IsSection(1004, 1004, 8)));
}

// A card of 2 m, 100 px a metre, turned by 60 degrees in 1001 and 1005 against the painted middle frame: a turn of
// 25 sqrt 2 px (set_element_test.cc shows the arithmetic). The first and last section turn, the middle one does not.
TEST(Sections, SetElementsTurnInTheirOwnSections) {
  Shot shot(5);
  Camera& camera = shot.AddCamera(0);
  camera.projection = Projection::kOrthographic;
  camera.window_width = 20;
  camera.window_height = 10;
  const auto s = static_cast<float>(std::sqrt(0.75));
  const Pose face_on = {.axes = {1, 0, 0, 0, 1, 0, 0, 0, 0}}, aside = {.axes = {0.5F, 0, s, 0, 1, 0, 0, 0, 0}};
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kSetElement)), 0, {aside, face_on, face_on, face_on, aside});
  shot.scene.beats = {1002, 1005};
  const Legibility columns = FoldByHand(shot, {5, {{High(200)}}});
  ASSERT_EQ(columns.sections_of(0).size(), 3u);
  EXPECT_NEAR(columns.sections_of(0)[0].turn_over_floor, 25 * std::sqrt(2.0), 1e-4);  // axes are floats
  EXPECT_NEAR(columns.sections_of(0)[1].turn_over_floor, 0, 1e-9);
  EXPECT_NEAR(columns.sections_of(0)[2].turn_over_floor, 25 * std::sqrt(2.0), 1e-4);
  EXPECT_EQ(columns.turn_over_floor[0], columns.sections_of(0)[0].turn_over_floor);
}

TEST(Assemble, PutsSpansSectionsAndJumpsInRowOrder) {
  const std::vector<Section> two = {{{1001, 1004}, 2, 1}, {{1005, 1006}, 3, 0}}, one = {{{1010, 1010}, 5, 0}};
  std::vector<LaneFindings> found(4);
  found[0].sections = two;
  found[2].sections = one;
  found[2].jumps = {{0.5F, 1, 2}, {1.5F, 3, 4}};
  found[3].jumps = {{0.25F, 9, 9}};
  Legibility columns;
  columns.Resize(4);
  Assemble(std::move(found), columns);
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1001, 1006}));
  EXPECT_TRUE(columns.spans_of(1).empty());
  EXPECT_TRUE(columns.sections_of(3).empty());
  EXPECT_EQ(columns.sections_of(0)[1].height_over_floor, 3);
  EXPECT_EQ(columns.sections_of(0)[0].turn_over_floor, 1);
  EXPECT_EQ(columns.spans_of(2)[0], (FrameRange{1010, 1010}));
  EXPECT_THAT(columns.motion.first_jump, ElementsAre(kNone, kNone, 0, 2));
  ASSERT_EQ(columns.motion.jumps.size(), 3u);
  EXPECT_EQ(columns.motion.jumps[2].px, 9);
}

}  // namespace
}  // namespace scantling
