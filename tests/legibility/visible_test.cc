// What is hidden: the visible share of an object weighs its pixels and decides whether it is seen.

#include <cmath>
#include <random>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;
using Frames = std::vector<std::vector<std::vector<Figure>>>;  // [frame][camera][lane]

constexpr double kRounding = 1e-12;  // of sums of a few products

// One object of importance 2 through `pictures.size()` cameras; the floor is the acuity of 1 px.
Shot OneObject(int32_t frames, const std::vector<int32_t>& pictures = {0}, ClassKind kind = ClassKind::kFigure) {
  Shot shot(frames);
  for (const int32_t picture : pictures) shot.AddCamera(picture);
  shot.Place(shot.AddRow(shot.AddClass(kind), 2), 0, {Pose{}});
  return shot;
}

Figure Visible(float share) { return {.height_px = 16, .area_px = 2000, .visible = share}; }

// Wholly visible: 2000 px * solidity 0.5 / 2,000,000 * importance 2 * 4, 3, 2 octaves, OMITTED threefold: 0.012, 0.003,
// 0.002. A quarter of it is left.
TEST(Visible, ShareWeighsLossAndRenderedArea) {
  const Legibility columns = FoldByHand(OneObject(1), {{{Visible(0.25)}}});
  EXPECT_THAT(columns.loss[0][kPhiAsGiven],
              ElementsAre(::testing::DoubleNear(0.003, kRounding), ::testing::DoubleNear(0.00075, kRounding),
                          ::testing::DoubleNear(0.0005, kRounding), 0));
  EXPECT_DOUBLE_EQ(columns.rendered_megapixels[0], 250e-6);
  EXPECT_EQ(columns.visible_fraction[0], 0.25F);
  EXPECT_EQ(columns.hidden_frames[0], 0);
  EXPECT_EQ(columns.height_over_floor[0], FoldByHand(OneObject(1), {{{Visible(1)}}}).height_over_floor[0]);
}

// 1000 px of the object: a share of 1/1024 leaves 0.98 px, not more than the style's smallest of 1 px; 1/512 leaves
// two.
TEST(Visible, TooLittleLeftIsHidden) {
  const Shot shot = OneObject(1);
  EXPECT_EQ(FoldByHand(shot, {{{Visible(0x1p-9F)}}}).sight[0], Sight::kSeen);
  for (const float share : {0x1p-10F, 0.0F}) {
    const Legibility columns = FoldByHand(shot, {{{Visible(share)}}});
    EXPECT_EQ(columns.sight[0], Sight::kHidden);
    EXPECT_EQ(columns.hidden_frames[0], 1);
    EXPECT_EQ(columns.seen_frames[0], 0);
    EXPECT_EQ(columns.visible_fraction[0], 0);
    EXPECT_EQ(columns.rendered_megapixels[0], 0);
    EXPECT_THAT(columns.loss[0][kPhiAsGiven], ElementsAre(0, 0, 0, 0));
    EXPECT_TRUE(std::isnan(columns.largest_u_px[0]));
    EXPECT_TRUE(columns.spans_of(0).empty());
  }
}

TEST(Visible, WhatIsTooSmallAnywayIsNotHidden) {
  const Figure small = {.height_px = 16, .area_px = 2, .visible = 0};
  const Legibility columns = FoldByHand(OneObject(1), {{{small}}});
  EXPECT_EQ(columns.sight[0], Sight::kTooSmall);
  EXPECT_EQ(columns.hidden_frames[0], 0);
}

TEST(Visible, OneHiddenFrameAmongSmallOnesMakesItHidden) {
  const Figure small = {.height_px = 16, .area_px = 2}, off = {.in_frame = false};
  const Legibility columns = FoldByHand(OneObject(3), {{{small}}, {{Visible(0)}}, {{off}}});
  EXPECT_EQ(columns.sight[0], Sight::kHidden);
  EXPECT_EQ(columns.hidden_frames[0], 1);
}

TEST(Visible, HiddenFramesPartSpans) {
  const Legibility columns =
      FoldByHand(OneObject(5), {{{Visible(1)}}, {{Visible(0)}}, {{Visible(0)}}, {{Visible(0.5)}}, {{Visible(1)}}});
  EXPECT_EQ(columns.sight[0], Sight::kSeen);
  EXPECT_EQ(columns.hidden_frames[0], 2);
  EXPECT_EQ(columns.seen_frames[0], 3);
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1001, 1001}, FrameRange{1004, 1005}));
}

// The largest is that of the seen frames: not the 64 px of the hidden one.
TEST(Visible, ExtremesAndPlaceComeFromTheLargestSeenFrame) {
  Frames frames = {{{Visible(0.5)}}, {{Visible(0)}}, {{Visible(0.75)}}};
  frames[1][0][0].height_px = 64;
  frames[2][0][0] = {.height_px = 32, .area_px = 2000, .depth_m = 7, .u_px = 123, .v_px = 45, .visible = 0.75};
  const Legibility columns = FoldByHand(OneObject(3), frames);
  EXPECT_EQ(columns.largest_frame[0], 1003);
  EXPECT_EQ(columns.largest_height_px[0], 32);
  EXPECT_EQ(columns.visible_fraction[0], 0.75F);
  EXPECT_EQ(columns.largest_u_px[0], 123);
  EXPECT_EQ(columns.largest_v_px[0], 45);
}

TEST(Visible, PlaceIsUnknownBehindTheEyeAndWithoutGeometry) {
  Figure behind = Visible(1);
  behind.u_px = behind.v_px = std::nanf("");
  EXPECT_TRUE(std::isnan(FoldByHand(OneObject(1), {{{behind}}}).largest_u_px[0]));
  Shot shot(1);
  shot.AddCamera(0);
  shot.Measure(shot.AddRow(shot.AddClass(ClassKind::kFigure)), {{16, 1000, 12}});
  EXPECT_TRUE(std::isnan(FoldForReal(shot).largest_v_px[0]));
}

TEST(Visible, MeasuredFiguresAreWhollyVisible) {
  Shot shot = OneObject(1);
  shot.Measure(0, {{16, 1000, 12}});
  const Legibility columns = FoldByHand(shot, {{{Visible(0)}}});
  EXPECT_EQ(columns.sight[0], Sight::kSeen);
  EXPECT_EQ(columns.visible_fraction[0], 1);
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kOmit], 0.012, kRounding);
}

class ThroughCameras : public ::testing::TestWithParam<ClassKind> {};
INSTANTIATE_TEST_SUITE_P(EveryKind, ThroughCameras, ::testing::Values(ClassKind::kFigure, ClassKind::kSetElement));

// Which eye sees more differs from frame to frame: 0.5 * 0.012 + 0.75 * 0.012 at OMITTED.
TEST_P(ThroughCameras, StereoPairTakesTheEyeThatSeesMore) {
  const Legibility columns = FoldByHand(OneObject(2, {0, 0}, GetParam()),
                                        {{{Visible(0.5)}, {Visible(0.25)}}, {{Visible(0)}, {Visible(0.75)}}});
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kOmit], 1.25 * 0.012, kRounding);
  EXPECT_EQ(columns.seen_frames[0], 2);
  EXPECT_EQ(columns.seen_camera_frames[0], 3);
  EXPECT_EQ(columns.hidden_frames[0], 0);  // the other eye sees it
}

TEST_P(ThroughCameras, SeparatePicturesAddWhatEachSees) {
  const Legibility columns = FoldByHand(OneObject(2, {0, 1}, GetParam()),
                                        {{{Visible(0.5)}, {Visible(0.25)}}, {{Visible(0)}, {Visible(0.75)}}});
  EXPECT_NEAR(columns.loss[0][kPhiAsGiven][kOmit], 1.5 * 0.012, kRounding);
}

TEST_P(ThroughCameras, IsHiddenInAFrameOnlyWhereNoCameraSeesIt) {
  const Figure off = {.in_frame = false};
  const Legibility columns = FoldByHand(OneObject(3, {0, 1}, GetParam()),
                                        {{{Visible(0)}, {off}}, {{Visible(0)}, {Visible(0)}}, {{off}, {Visible(1)}}});
  EXPECT_EQ(columns.hidden_frames[0], 2);
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1003, 1003}));
}

// A wall 4 m wide and 6 m high, solid through and through, its near face 9.5 m away: at the 19.7 m of a person's near
// face it hides 2 * 19.7 / 9.5 = 4.1 m to either side. The person is 0.6 m wide and walks out from behind it, a metre a
// frame: up to 3.8 m aside in frame 1003, from 4.2 to 4.8 m in 1004.
TEST(Visible, AWallHidesWhoWalksBehindIt) {
  Shot shot(6);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  shot.Place(shot.AddRow(0), 0, {{.centre = {0, 0, -10}, .axes = {2, 0, 0, 0, 3, 0, 0, 0, 0.5F}}});
  shot.scene.objects.inner_box[0] = 1;
  std::vector<Pose> walk;
  for (int f = 0; f < 6; ++f)
    walk.push_back({.centre = {1.5 + 1.0 * f, 0, -20}, .axes = {0.3F, 0, 0, 0, 1, 0, 0, 0, 0.3F}});
  shot.Place(shot.AddRow(0), 1, walk);
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.hidden_frames[1], 3);
  EXPECT_THAT(columns.spans_of(1), ElementsAre(FrameRange{1004, 1006}));
  const std::vector<FrameFigures> frames = ExplainFrames(shot.Optics(), 1, 1, 0);
  EXPECT_EQ(frames[0].visible, 0);
  EXPECT_FALSE(frames[2].seen);
  EXPECT_EQ(frames[5].visible, 1);
  EXPECT_TRUE(frames[5].seen);
}

// The painting is made for the middle of the frames it is *seen* in: hidden ones do not count. A box that turns from
// frame to frame, seen in the first and last three of seven frames or in all.
TEST(Visible, SetElementIsPaintedForAFrameItIsSeenIn) {
  Shot shot(3);
  shot.AddCamera(0);
  const uint32_t row = shot.AddRow(shot.AddClass(ClassKind::kSetElement));
  const Pose turned = {.axes = {0.6F, 0, 0.8F, 0, 1, 0, -0.8F, 0, 0.6F}};
  shot.Place(row, 0, {Pose{}, turned, turned});
  const Figure seen = {.height_px = 200, .area_px = 40000}, hidden = {.height_px = 200, .area_px = 40000, .visible = 0};
  EXPECT_GT(FoldByHand(shot, {{{seen}}, {{seen}}, {{seen}}}).loss[0][kPhiAsGiven][kPatch], 0);
  EXPECT_EQ(FoldByHand(shot, {{{hidden}}, {{seen}}, {{seen}}}).loss[0][kPhiAsGiven][kPatch], 0);
}

// Seen less, missed less. Set elements keep their seen frames, since those say what frame is painted.
TEST(Visible, LossesNeverRiseAsLessIsVisible) {
  std::mt19937_64 random(3);
  const auto uniform = [&] { return static_cast<float>((random() >> 11) * 0x1p-53); };
  for (const double share_of_worst : {0.0, 0.3, 1.0}) {
    Shot shot(6);
    shot.style.worst_frame_share = share_of_worst;
    for (const int32_t picture : {0, 0, 1}) shot.AddCamera(picture);
    shot.AddClass(ClassKind::kFigure);
    shot.AddClass(ClassKind::kSetElement);
    for (int i = 0; i < 200; ++i) shot.Place(shot.AddRow(static_cast<uint16_t>(i % 2)), 0, {Pose{}});
    Frames frames(6, std::vector<std::vector<Figure>>(3, std::vector<Figure>(200)));
    for (auto& cameras : frames) {
      for (auto& lanes : cameras) {
        for (Figure& lane : lanes) lane = {.height_px = 300 * uniform(), .area_px = 10 + 9000 * uniform()};
      }
    }
    Legibility last = FoldByHand(shot, frames);
    for (int step = 0; step < 6; ++step) {
      for (auto& cameras : frames) {
        for (auto& lanes : cameras) {
          for (size_t i = 0; i < lanes.size(); ++i) {
            lanes[i].visible *= i % 2 == 0 && uniform() < 0.1F ? 0 : 0.9F + 0.1F * uniform();
          }
        }
      }
      Legibility now = FoldByHand(shot, frames);
      for (size_t row = 0; row < now.loss.size(); ++row) {
        for (size_t tier = 0; tier < kTierCount; ++tier) {
          EXPECT_LE(now.loss[row][kPhiAsGiven][tier], last.loss[row][kPhiAsGiven][tier]) << row << " tier " << tier;
        }
        EXPECT_LE(now.seen_frames[row], last.seen_frames[row]);
        EXPECT_LE(now.rendered_megapixels[row], last.rendered_megapixels[row]);
      }
      last = std::move(now);
    }
  }
}

}  // namespace
}  // namespace scantling
