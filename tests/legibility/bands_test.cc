// Depth bands: how far a thing looks or stands at its largest, as the style reads it.

#include <cmath>
#include <limits>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "server/legibility/legibility.h"
#include "tests/legibility/shot.h"

namespace scantling {
namespace {

// One figure of a class 2 m high in life; bands begin at 0, 10 and 100 m. A metre at one metre is 1000 px.
Shot OneFigure(DepthKind read) {
  Shot shot(2);
  shot.AddCamera(0);
  shot.Place(shot.AddRow(shot.AddClass(ClassKind::kFigure)), 0, {Pose{}});
  shot.catalogue.classes[0].real_height_m = 2;
  shot.style.bands = {{"near", 0}, {"middle", 10}, {"far", 100}};
  shot.style.band_depth = read;
  return shot;
}

int BandAt(const Shot& shot, float height_px, float depth_m) {
  const Figure at = {.height_px = height_px, .area_px = 2000, .depth_m = depth_m}, off = {.in_frame = false};
  return FoldByHand(shot, {{{at}}, {{off}}}).band[0];
}

// 2 m * 1000 px / height: 201 px looks 9.95 m away, 200 px 10 m, 20 px 100 m. It stands 500 m away all the while.
TEST(Bands, ReadApparentDistanceWhereTheStyleSaysSo) {
  const Shot shot = OneFigure(DepthKind::kApparent);
  EXPECT_EQ(BandAt(shot, 201, 500), 0);
  EXPECT_EQ(BandAt(shot, 200, 500), 1);  // a band begins where it says
  EXPECT_EQ(BandAt(shot, 21, 500), 1);
  EXPECT_EQ(BandAt(shot, 20, 500), 2);
}

TEST(Bands, ReadStageDepthWhereTheStyleSaysSoOrNothingElseIsKnown) {
  const Shot stage = OneFigure(DepthKind::kStage);
  EXPECT_EQ(BandAt(stage, 201, 9.5F), 0);
  EXPECT_EQ(BandAt(stage, 201, 10), 1);
  EXPECT_EQ(BandAt(stage, 201, 500), 2);
  Shot unknown = OneFigure(DepthKind::kApparent);
  unknown.catalogue.classes[0].real_height_m.reset();
  EXPECT_EQ(BandAt(unknown, 201, 500), 2);
  Shot flat = OneFigure(DepthKind::kApparent);
  flat.scene.cameras[0].projection = Projection::kOrthographic;
  EXPECT_EQ(BandAt(flat, 201, 500), 2);
}

TEST(Bands, AreTakenAtTheLargestFrame) {
  const Shot shot = OneFigure(DepthKind::kStage);
  const Figure large = {.height_px = 50, .area_px = 2000, .depth_m = 40},
               near = {.height_px = 20, .area_px = 2000, .depth_m = 4};
  const Legibility columns = FoldByHand(shot, {{{near}}, {{large}}});
  EXPECT_EQ(columns.band[0], 1);
  EXPECT_EQ(columns.near_m[0], 4);  // of all frames
}

TEST(Bands, OfTheUnseenAreTheFirst) {
  const Figure off = {.in_frame = false};
  EXPECT_EQ(FoldByHand(OneFigure(DepthKind::kStage), {{{off}}, {{off}}}).band[0], 0);
}

TEST(Bands, OneBandHoldsEverything) {
  Shot shot = OneFigure(DepthKind::kStage);
  shot.style.bands = {{"all", 0}};
  EXPECT_EQ(BandAt(shot, 201, 1e6F), 0);
}

// Two houses, their nearest faces 280 m away: one honest, one built at a seventh of its size and set seven times too
// near. Measured by the view stage.
Shot TwoHouses(DepthKind read) {
  Shot shot(1);
  shot.AddCamera(0);
  shot.AddClass(ClassKind::kSetElement);
  shot.catalogue.classes[0].real_height_m = 8;
  shot.style.plate_shift.points = {{5, 0.001}, {500, 0.02}};
  shot.style.bands = {{"foreground", 0}, {"midground", 12}, {"background", 60}, {"backdrop", 300}};
  shot.style.band_depth = shot.style.depth_kind = read;
  for (const double scale : {1.0, 1.0 / 7}) {
    const auto half = static_cast<float>(4 * scale);
    shot.Place(shot.AddRow(0), 0,
               {{.centre = {-20 * scale, 6 * scale, -284 * scale}, .axes = {half, 0, 0, 0, half, 0, 0, 0, half}}});
  }
  return shot;
}

// Half-axes of a seventh are rounded to float: 6e-8 relative in height, times the curve's slope.
TEST(Bands, ACheatedHouseLooksAsFarAsTheHonestOne) {
  const Legibility columns = FoldForReal(TwoHouses(DepthKind::kApparent));
  EXPECT_EQ(columns.band[0], 2);
  EXPECT_EQ(columns.band[1], 2);
  EXPECT_NEAR(columns.apparent_m[0], 280, 1e-3);
  EXPECT_NEAR(columns.apparent_m[1], columns.apparent_m[0], 1e-6 * columns.apparent_m[0]);
  EXPECT_EQ(columns.floor_term[0], FloorTerm::kPlateShift);
  EXPECT_NEAR(columns.floor_px[1], columns.floor_px[0], 1e-6 * columns.floor_px[0]);
}

// A style that reads stage depth is not taken in by the picture: 40 m.
TEST(Bands, StageDepthTellsTheCheatedHouseFromTheHonestOne) {
  const Legibility columns = FoldForReal(TwoHouses(DepthKind::kStage));
  EXPECT_EQ(columns.band[0], 2);
  EXPECT_EQ(columns.band[1], 1);
  EXPECT_LT(columns.floor_px[1], 0.8 * columns.floor_px[0]);
  EXPECT_NEAR(columns.apparent_m[1], columns.apparent_m[0], 1e-6 * columns.apparent_m[0]);  // told all the same
}

}  // namespace
}  // namespace scantling
