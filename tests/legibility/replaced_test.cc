// Frames replaced by a drawing: what it stands for is not seen there, and nothing of it is lost or rendered.

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

constexpr double kRounding = 1e-12;  // of sums of a few products
// 1000 px of 2,000,000 at importance 1, OMITTED threefold and four octaves: 0.006 a frame.
const Figure kSeen = {.height_px = 16, .area_px = 2000}, kOff = {.in_frame = false},
             kHidden = {.height_px = 16, .area_px = 2000, .visible = 0}, kSmall = {.height_px = 16, .area_px = 2};

// Two of a kind in one chunk.
Shot TwoObjects(int32_t frames, ClassKind kind = ClassKind::kFigure) {
  Shot shot(frames);
  shot.AddCamera(0);
  shot.AddClass(kind);
  for (int i = 0; i < 2; ++i) shot.Place(shot.AddRow(0), 0, {Pose{}});
  return shot;
}

class Replaced : public ::testing::TestWithParam<ClassKind> {};
INSTANTIATE_TEST_SUITE_P(EveryKind, Replaced, ::testing::Values(ClassKind::kFigure, ClassKind::kSetElement));

TEST_P(Replaced, FramesOfTheWholePictureAreSeenOfNobody) {
  Shot shot = TwoObjects(4, GetParam());
  shot.scene.replaced = {{1002, 1003}};
  const Legibility columns = FoldByHand(shot, {4, {{kSeen, kSeen}}});
  for (const uint32_t row : {0u, 1u}) {
    EXPECT_THAT(columns.spans_of(row), ElementsAre(FrameRange{1001, 1001}, FrameRange{1004, 1004}));
    EXPECT_NEAR(columns.loss[row][kPhiAsGiven][kOmit], 2 * 0.006, kRounding);
    EXPECT_DOUBLE_EQ(columns.rendered_megapixels[row], 2 * 1000e-6);
    EXPECT_EQ(columns.seen_camera_frames[row], 2);
    EXPECT_EQ(columns.hidden_frames[row], 0);
    EXPECT_EQ(columns.sight[row], Sight::kSeen);
  }
}

TEST_P(Replaced, FramesOfOneObjectLeaveTheOthersAlone) {
  Shot shot = TwoObjects(4, GetParam());
  shot.scene.replaced = {{1004, 1004}};
  shot.Own(0).replaced = {{1002, 1002}, {1004, 1004}};
  const Legibility columns = FoldByHand(shot, {4, {{kSeen, kSeen}}});
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1001, 1001}, FrameRange{1003, 1003}));
  EXPECT_THAT(columns.spans_of(1), ElementsAre(FrameRange{1001, 1003}));
  EXPECT_NEAR(columns.loss[1][kPhiAsGiven][kOmit], 3 * 0.006, kRounding);
}

TEST_P(Replaced, LargestFrameIsOneThatIsDrawn) {
  Shot shot = TwoObjects(2, GetParam());
  shot.Own(0).replaced = {{1001, 1001}};
  Figure large = kSeen;
  large.height_px = 64;
  const Legibility columns = FoldByHand(shot, {{{large, large}}, {{kSeen, kSeen}}});
  EXPECT_EQ(columns.largest_frame[0], 1002);
  EXPECT_EQ(columns.largest_height_px[0], 16);
  EXPECT_EQ(columns.largest_frame[1], 1001);
}

// What reason stands where several hold.
TEST(Replaced, SightNamesTheCauseThatComesFirst) {
  const auto sight = [](const Figure& first, const Figure& second, const Figure& replaced) {
    Shot shot = TwoObjects(3);
    shot.Own(0).replaced = {{1003, 1003}};
    return FoldByHand(shot, {{{first, kOff}}, {{second, kOff}}, {{replaced, kOff}}}).sight[0];
  };
  EXPECT_EQ(sight(kSeen, kHidden, kSeen), Sight::kSeen);
  EXPECT_EQ(sight(kHidden, kSmall, kSeen), Sight::kReplaced);
  EXPECT_EQ(sight(kOff, kOff, kSeen), Sight::kReplaced);
  EXPECT_EQ(sight(kHidden, kSmall, kOff), Sight::kHidden);
  EXPECT_EQ(sight(kOff, kSmall, kHidden), Sight::kHidden);  // it would not be seen in the replaced frame either
  EXPECT_EQ(sight(kOff, kSmall, kSmall), Sight::kTooSmall);
  EXPECT_EQ(sight(kOff, kOff, kSmall), Sight::kTooSmall);
  EXPECT_EQ(sight(kOff, kOff, kOff), Sight::kOffScreen);
}

TEST(Replaced, HoldsForWhatTheCallerMeasured) {
  Shot shot(3);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  shot.scene.replaced = {{1001, 1001}};
  for (const uint32_t row : {shot.AddRow(0), shot.AddRow(0), shot.AddRow(0)}) {
    shot.Measure(row, {{16, 1000, 12}, {16, 1000, 12}, {16, 1000, 12}});
  }
  shot.Own(1).replaced = {{1001, 1002}};
  shot.Own(2).replaced = {{1001, 1003}};
  const Legibility columns = FoldForReal(shot);
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1002, 1003}));
  EXPECT_THAT(columns.spans_of(1), ElementsAre(FrameRange{1003, 1003}));
  EXPECT_EQ(columns.sight[2], Sight::kReplaced);
  EXPECT_EQ(columns.loss[2][kPhiAsGiven][kOmit], 0);
}

// Blur reads the way from the frame before even where a drawing stood for that: 10 px at half a frame's shutter.
TEST(Replaced, TravelIsMeasuredAcrossReplacedFrames) {
  Shot shot = TwoObjects(2);
  shot.style.any_still_must_hold = false;
  shot.style.shutter_fraction = 0.5;
  shot.scene.replaced = {{1001, 1001}};
  Figure moved = kSeen;
  moved.u_px += 10;
  EXPECT_FLOAT_EQ(FoldByHand(shot, {{{kSeen, kSeen}}, {{moved, moved}}}).floor_px[0], 5);
}

TEST(Replaced, ExplainedFramesSayIt) {
  Shot shot = TwoObjects(3);
  shot.scene.replaced = {{1003, 1003}};
  shot.Own(0).replaced = {{1002, 1003}};
  const std::vector<FrameFigures> frames = ExplainFrames(shot.Optics(), 0, 1, 0);
  ASSERT_EQ(frames.size(), 3u);
  for (size_t f = 0; f < 3; ++f) {
    EXPECT_EQ(frames[f].replaced, f > 0);
    EXPECT_EQ(frames[f].seen, f == 0);
    EXPECT_EQ(frames[f].loss[kOmit] > 0, f == 0);
    EXPECT_GT(frames[f].height_px, 0);  // where it would be
  }
}

}  // namespace
}  // namespace scantling
