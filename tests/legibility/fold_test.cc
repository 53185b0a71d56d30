// The fold by hand arithmetic: figures, sums, spans, extremes.

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/contrast.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

// One figure of importance 2 in one camera; the floor is the acuity of 1 px.
Shot OneFigure(int32_t frames) {
  Shot shot(frames);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure), 2), 0, {Pose{}});
  return shot;
}

// Relative error of sums of a few products, and of the acuity (1 px by way of a tangent).
constexpr double kRounding = 1e-12;

void ExpectLoss(const Legibility& columns, size_t row, int scale, const PerTier<double>& expected) {
  for (size_t tier = 0; tier < kTierCount; ++tier) {
    EXPECT_NEAR(columns.loss[row][static_cast<size_t>(scale)][tier], expected[tier], kRounding)
        << Name(kAllTiers[tier]) << " at scale " << scale;
  }
}

// 16 px over a floor of 1 px. Dropped: 16, 8, 4 px: 4, 3, 2 octaves. Covered: 2000 px * solidity 0.5 of 2,000,000 =
// 0.0005; times importance 2: 0.001. OMITTED counts three times: 0.012; 0.003; 0.002; 0.
TEST(ChunkFold, LossOfAFigureByHand) {
  const Legibility columns = FoldByHand(OneFigure(1), {{{{.height_px = 16, .area_px = 2000}}}});
  ExpectLoss(columns, 0, kPhiAsGiven, {0.012, 0.003, 0.002, 0});
  EXPECT_THAT(columns.worst_octaves[0], ElementsAre(4, 3, 2, 0));
}

// Half of phi is an octave less. Half as much again is log2(1.5) more, but OMITTED drops no more than all of it.
TEST(ChunkFold, PhiIsTakenAtThreeScales) {
  const Legibility columns = FoldByHand(OneFigure(1), {{{{.height_px = 16, .area_px = 2000}}}});
  ExpectLoss(columns, 0, 0, {0.009, 0.002, 0.001, 0});
  const double more = std::log2(1.5);
  ExpectLoss(columns, 0, 2, {0.012, 0.001 * (3 + more), 0.001 * (2 + more), 0});
}

TEST(ChunkFold, PhiNeverExceedsOneForAnyTier) {
  Shot shot = OneFigure(1);
  shot.catalogue.classes[0].phi = {1, 0.9, 0.8, 0};  // 1.35 and 1.2 at the third scale
  const Legibility columns = FoldByHand(shot, {{{{.height_px = 16, .area_px = 2000}}}});
  ExpectLoss(columns, 0, 2, {0.012, 0.004, 0.004, 0});
}

// Frame losses at PROXY 0.002 (16 px), 0.003 (32 px), 0 (2 px: 0.5 px dropped). Sum 0.005, worst 0.003 of 3 frames.
TEST(ChunkFold, WorstFrameShareMixesSumAndWorst) {
  Shot shot = OneFigure(3);
  const std::vector<std::vector<std::vector<Figure>>> frames = {{{{.height_px = 16, .area_px = 2000}}},
                                                                {{{.height_px = 32, .area_px = 2000}}},
                                                                {{{.height_px = 2, .area_px = 2000}}}};
  const auto proxy_loss = [&](double share) {
    shot.style.worst_frame_share = share;
    return FoldByHand(shot, frames).loss[0][kPhiAsGiven][kProxy];
  };
  EXPECT_NEAR(proxy_loss(0), 0.005, kRounding);
  EXPECT_NEAR(proxy_loss(1), 0.009, kRounding);
  EXPECT_NEAR(proxy_loss(0.25), 0.75 * 0.005 + 0.25 * 0.009, kRounding);
}

TEST(ChunkFold, WhatCannotBeReadLosesNothing) {
  const Legibility columns = FoldByHand(OneFigure(1), {{{{.height_px = 0.75, .area_px = 20}}}});
  ExpectLoss(columns, 0, kPhiAsGiven, {0, 0, 0, 0});
  EXPECT_EQ(columns.sight[0], Sight::kSeen);
  EXPECT_NEAR(columns.height_over_floor[0], 0.75, 1e-7);  // float
}

// Solidity 0.5: an area of 2 px covers 1 px, which is not above the style's smallest of 1 px; 2.5 px covers 1.25.
TEST(ChunkFold, SeenMeansInFrameAndAboveTheSmallestCoveredArea) {
  Shot shot = OneFigure(1);
  EXPECT_EQ(FoldByHand(shot, {{{{.height_px = 16, .area_px = 2}}}}).sight[0], Sight::kTooSmall);
  EXPECT_EQ(FoldByHand(shot, {{{{.height_px = 16, .area_px = 2.5}}}}).sight[0], Sight::kSeen);
  const Legibility off = FoldByHand(shot, {{{{.height_px = 16, .area_px = 2000, .in_frame = false}}}});
  EXPECT_EQ(off.sight[0], Sight::kOffScreen);
  ExpectLoss(off, 0, kPhiAsGiven, {0, 0, 0, 0});
  EXPECT_EQ(off.seen_frames[0], 0);
  EXPECT_EQ(off.largest_frame[0], 1001);
  EXPECT_EQ(off.near_m[0], 0);
  EXPECT_EQ(off.height_over_floor[0], 0);
  EXPECT_EQ(off.rendered_megapixels[0], 0);
  EXPECT_TRUE(off.spans_of(0).empty());
}

TEST(ChunkFold, SeenFramesMakeSpans) {
  const Figure seen = {.height_px = 16, .area_px = 2000}, unseen = {.in_frame = false};
  const Legibility columns =
      FoldByHand(OneFigure(7), {{{unseen}}, {{seen}}, {{seen}}, {{unseen}}, {{seen}}, {{unseen}}, {{seen}}});
  EXPECT_THAT(columns.spans_of(0), ElementsAre(FrameRange{1002, 1003}, FrameRange{1005, 1005}, FrameRange{1007, 1007}));
  EXPECT_EQ(columns.seen_frames[0], 4);
  EXPECT_EQ(columns.seen_camera_frames[0], 4);
  EXPECT_DOUBLE_EQ(columns.rendered_megapixels[0], 4 * 1000e-6);  // 2000 px at solidity 0.5
}

TEST(ChunkFold, ExtremesComeFromTheFrameWhereHeightOverFloorIsLargest) {
  Shot shot = OneFigure(3);
  shot.catalogue.classes[0].real_height_m = 1.8;
  shot.style.plate_shift.points = {{1, 0.004}};
  const Legibility columns = FoldByHand(shot, {{{{.height_px = 20, .area_px = 2000, .depth_m = 9}}},
                                               {{{.height_px = 40, .area_px = 2000, .depth_m = 8}}},
                                               {{{.height_px = 40, .area_px = 2000, .depth_m = 7}}}});
  EXPECT_EQ(columns.largest_frame[0], 1002);  // the earlier of two equals
  EXPECT_EQ(columns.largest_height_px[0], 40);
  EXPECT_FLOAT_EQ(columns.floor_px[0], 4);  // 0.004 of 1000 lines
  EXPECT_EQ(columns.floor_term[0], FloorTerm::kPlateShift);
  EXPECT_FLOAT_EQ(columns.height_over_floor[0], 10);
  EXPECT_FLOAT_EQ(columns.apparent_m[0], 1.8F * 1000 / 40);  // 1000 px per metre at one metre
  EXPECT_EQ(columns.near_m[0], 7);
}

TEST(ChunkFold, ApparentDistanceIsReadByTheCurvesWhereTheStyleSaysSo) {
  Shot shot = OneFigure(1);
  shot.style.line_weight.points = {{1, 0.002}, {4, 0.006}};
  shot.catalogue.classes[0].real_height_m = 2;
  const std::vector<std::vector<std::vector<Figure>>> frames = {{{{.height_px = 1000, .area_px = 2000, .depth_m = 4}}}};
  // Looks 2 m * 1000 px / 1000 px = 2 m away: 0.004 of 1000 lines. Stands 4 m away: 0.006.
  EXPECT_FLOAT_EQ(FoldByHand(shot, frames).floor_px[0], 4);
  shot.style.depth_kind = DepthKind::kStage;
  EXPECT_FLOAT_EQ(FoldByHand(shot, frames).floor_px[0], 6);
  shot.style.depth_kind = DepthKind::kApparent;
  shot.catalogue.classes[0].real_height_m.reset();
  EXPECT_FLOAT_EQ(FoldByHand(shot, frames).floor_px[0], 6);
  EXPECT_EQ(FoldByHand(shot, frames).apparent_m[0], 0);
}

// Black on mid grey. dE00 of a neutral pair of mean lightness L: |dL| / SL; taken here from the contrast tests'
// function.
TEST(ChunkFold, ContrastSoftensOmittedButNotBelowColourPatch) {
  Shot shot = OneFigure(1);
  shot.scene.backdrop_colour = {128, 128, 128};
  shot.scene.objects.colour[0] = {140, 128, 128, 1};
  const double difference = CieDe2000(LabOfSrgb({140, 128, 128}), LabOfSrgb({128, 128, 128}));
  const std::vector<std::vector<std::vector<Figure>>> frames = {{{{.height_px = 16, .area_px = 2000}}}};

  shot.style.full_contrast_de00 = difference * 2;  // half contrast: 0.006
  ExpectLoss(FoldByHand(shot, frames), 0, kPhiAsGiven, {0.006, 0.003, 0.002, 0});
  shot.style.full_contrast_de00 = difference * 10;  // a tenth would be 0.0012, below the patch's
  ExpectLoss(FoldByHand(shot, frames), 0, kPhiAsGiven, {0.003, 0.003, 0.002, 0});
  shot.style.full_contrast_de00 = difference / 2;  // full contrast softens nothing, and strengthens nothing
  ExpectLoss(FoldByHand(shot, frames), 0, kPhiAsGiven, {0.012, 0.003, 0.002, 0});
  shot.scene.objects.colour[0][3] = 0;  // not given
  shot.style.full_contrast_de00 = difference * 10;
  ExpectLoss(FoldByHand(shot, frames), 0, kPhiAsGiven, {0.012, 0.003, 0.002, 0});
}

// The audience looks at (1000, 500); the object stands as far aside as the eye from the picture: e = 45 deg.
TEST(ChunkFold, AttentionWeighsLossWhereAnyStillMustHold) {
  Shot shot = OneFigure(1);
  shot.scene.interest.push_back({kNone, 0.5, 0.5, shot.scene.frames});
  const auto aside = static_cast<float>(1000 + 1000 * shot.style.viewing_distance_heights);
  const std::vector<std::vector<std::vector<Figure>>> frames = {{{{.height_px = 16, .area_px = 2000, .u_px = aside}}}};
  // The place is a float of about 4400 px: 1e-7 relative in e.
  EXPECT_NEAR(FoldByHand(shot, frames).loss[0][kPhiAsGiven][kProxy], 0.002 / (1 + 45 / 2.72), 1e-9);

  shot.style.any_still_must_hold = false;  // now it is in the floor: 1 + 45 / 2.72 px
  const Legibility columns = FoldByHand(shot, frames);
  EXPECT_NEAR(columns.floor_px[0], 1 + 45 / 2.72, 1e-5);
  EXPECT_EQ(columns.floor_term[0], FloorTerm::kAttention);

  shot.scene.interest[0].frames = {2000, 2001};  // nobody looks there in this shot
  EXPECT_FLOAT_EQ(FoldByHand(shot, frames).floor_px[0], 1);
}

TEST(ChunkFold, AnObjectBehindTheEyeHasNoPlaceAndFullWeight) {
  Shot shot = OneFigure(1);
  shot.scene.interest.push_back({kNone, 0, 0, shot.scene.frames});
  const float nowhere = std::nanf("");
  const Legibility columns =
      FoldByHand(shot, {{{{.height_px = 16, .area_px = 2000, .u_px = nowhere, .v_px = nowhere}}}});
  ExpectLoss(columns, 0, kPhiAsGiven, {0.012, 0.003, 0.002, 0});
}

// Travel of 3-4-5 triangles, half open: 5, 2.5 px; from an unknown place: none, so acuity governs. The first frame
// takes the travel to the second one's projected centre: (1000, 500) for the chunk's box, 200 px away: 100 px.
TEST(ChunkFold, MotionBlurReadsTravelFromTheFrameBefore) {
  Shot shot = OneFigure(4);
  shot.style.any_still_must_hold = false;
  shot.style.shutter_fraction = 0.5;
  const auto floor_of = [&](size_t frame) {
    std::vector<std::vector<std::vector<Figure>>> frames = {{{{.u_px = 1200, .v_px = 500}}},
                                                            {{{.u_px = 1206, .v_px = 508}}},
                                                            {{{.u_px = std::nanf(""), .v_px = 508}}},
                                                            {{{.u_px = 1206, .v_px = 508}}}};
    frames[frame][0][0].height_px = 16;
    frames[frame][0][0].area_px = 2000;
    return FoldByHand(shot, frames);
  };
  EXPECT_FLOAT_EQ(floor_of(0).floor_px[0], 100);
  EXPECT_EQ(floor_of(0).floor_term[0], FloorTerm::kMotionBlur);
  EXPECT_FLOAT_EQ(floor_of(1).floor_px[0], 5);
  EXPECT_FLOAT_EQ(floor_of(2).floor_px[0], 1);
  EXPECT_FLOAT_EQ(floor_of(3).floor_px[0], 1);
  EXPECT_EQ(floor_of(3).floor_term[0], FloorTerm::kAcuity);
}

TEST(ChunkFold, OneFrameHasNoTravel) {
  Shot shot = OneFigure(1);
  shot.style.any_still_must_hold = false;
  shot.style.shutter_fraction = 0.5;
  EXPECT_FLOAT_EQ(FoldByHand(shot, {{{{.height_px = 16, .area_px = 2000}}}}).floor_px[0], 1);
}

TEST(ChunkFold, ALaneIsNotTouchedByItsNeighbours) {
  Shot alone = OneFigure(1), crowd = OneFigure(1);
  std::vector<Figure> lanes = {{.height_px = 16, .area_px = 2000}};
  const Legibility expected = FoldByHand(alone, {{lanes}});
  for (int i = 1; i < kChunkLanes; ++i) {
    crowd.Place(crowd.AddRow(0, static_cast<float>(i)), 0, {Pose{}});
    lanes.push_back({.height_px = static_cast<float>(i), .area_px = static_cast<float>(7 * i), .in_frame = i % 3 != 0});
  }
  EXPECT_EQ(FoldByHand(crowd, {{lanes}}).loss[0], expected.loss[0]);
}

}  // namespace
}  // namespace scantling
