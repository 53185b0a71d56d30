// What the caller measured wins over what we measured, and needs no geometry.

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

constexpr double kRounding = 1e-12;

// 16 px high, 1000 px covered: as the hand-made figure of 2000 px at solidity 0.5, importance 2.
TEST(FoldMeasured, LossByHandAndSolidityNotTakenAgain) {
  Shot shot(2);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure, 0.5);
  const uint32_t row = shot.AddRow(0, 2);
  shot.Measure(row, {{16, 1000, 12}, {0, 0, 0}});
  const Legibility columns = FoldForReal(shot);
  EXPECT_NEAR(columns.loss[row][kPhiAsGiven][kOmit], 0.012, kRounding);
  EXPECT_NEAR(columns.loss[row][kPhiAsGiven][kPatch], 0.003, kRounding);
  EXPECT_NEAR(columns.loss[row][kPhiAsGiven][kProxy], 0.002, kRounding);
  EXPECT_EQ(columns.near_m[row], 12);
  EXPECT_THAT(columns.spans_of(row), ::testing::ElementsAre(FrameRange{1001, 1001}));
  EXPECT_DOUBLE_EQ(columns.rendered_megapixels[row], 1000e-6);
}

TEST(FoldMeasured, NoPlaceMeansNoAttentionAndNoTravel) {
  Shot shot(2);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  shot.style.any_still_must_hold = false;
  shot.style.shutter_fraction = 0.5;
  shot.scene.interest.push_back({kNone, 0, 0, shot.scene.frames});
  const uint32_t row = shot.AddRow(0);
  shot.Measure(row, {{16, 1000, 12}, {16, 1000, 12}});
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.floor_term[row], FloorTerm::kAcuity);
  EXPECT_FLOAT_EQ(columns.floor_px[row], 1);
}

TEST(FoldMeasured, SetElementWithoutGeometryTurnsByItsHeight) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kSetElement);
  const uint32_t row = shot.AddRow(0);
  shot.Measure(row, {{16, 1000, 12}});
  const Legibility columns = FoldForReal(shot);
  EXPECT_FLOAT_EQ(columns.turn_over_floor[row], 16);
  EXPECT_NEAR(columns.loss[row][kPhiAsGiven][kPatch], 0.0005 * 4, kRounding);
}

TEST(FoldMeasured, ManyMoreThanAChunkHolds) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  for (int i = 0; i < 3 * kChunkLanes + 5; ++i) {
    shot.Measure(shot.AddRow(0), {{static_cast<float>(i), static_cast<float>(10 * i), 5}});
  }
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.sight[0], Sight::kOffScreen);  // 0 px high: not in frame
  for (size_t i = 1; i < columns.sight.size(); ++i) EXPECT_EQ(columns.largest_height_px[i], static_cast<float>(i));
}

// In a run of its own, after one that filled every lane.
TEST(FoldMeasured, WhatHasNoFiguresAtAllIsOffScreen) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  for (int i = 0; i < kChunkLanes; ++i) shot.Measure(shot.AddRow(0), {{16, 1000, 12}});
  const uint32_t nothing = shot.AddRow(0);
  const Legibility columns = FoldForReal(shot);
  EXPECT_EQ(columns.sight[nothing - 1], Sight::kSeen);
  EXPECT_EQ(columns.sight[nothing], Sight::kOffScreen);
}

TEST(FoldMeasured, OfNobodyIsNothing) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  Legibility columns;
  columns.Resize(0);
  EXPECT_TRUE(FoldMeasured(shot.Optics(), {}, columns).empty());
  Assemble({}, columns);
  EXPECT_THAT(columns.span_begin, ::testing::ElementsAre(0u));
}

TEST(ChunkFold, MeasuredFiguresWinOverGeometry) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kFigure);
  for (int i = 0; i < 2; ++i) shot.Place(shot.AddRow(0, 2), 0, {Pose{}});
  shot.Measure(1, {{16, 1000, 12}});
  const Legibility columns = FoldForReal(shot);
  EXPECT_NEAR(columns.largest_height_px[0], 1000.0 * 2 / 9, 1e-3);  // 2 m high, its face 9 m away
  EXPECT_EQ(columns.largest_height_px[1], 16);
  EXPECT_NEAR(columns.loss[1][kPhiAsGiven][kOmit], 0.012, kRounding);
}

}  // namespace
}  // namespace scantling
