// What is hidden, by closed forms.
//
// Camera: SquareCamera, u = 500 + 500 x / depth, picture 1000 x 1000, near 0.5. With the default options a cell has
// twice the side of the smallest area that matters (1 px^2): 2 px, so an edge is placed to 2 px, an area with one
// upright edge of length l to 2 l px^2.

#include "server/view/hiding.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/view/hiding_shot.h"

namespace scantling {
namespace {

using view_test::Box;
using view_test::BoxMesh;
using view_test::Cover;
using view_test::HidingShot;
using view_test::SquareCamera;
using view_test::SquareOrthographic;
using view_test::Upright;

constexpr double kCellPx = 2;

TEST(DepthMap, NothingThatHidesMakesAnEmptyMap) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  EXPECT_TRUE(shot.Map().empty());
  EXPECT_EQ(shot.Visible()[0], 1);
}

TEST(DepthMap, BytesStayUnderWhatIsAnnounced) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 1, 1, 1), 1);
  for (const int32_t columns : {37, 100, 512}) {
    HidingOptions options;
    options.most_columns = columns;
    const DepthMap map = shot.Map(options);
    EXPECT_GT(map.bytes(), 0u);
    EXPECT_LE(map.bytes(), DepthMap::MostBytes(shot.scene().cameras[0], options)) << columns;
  }
}

// Front face at depth 9, half 1.8: shades half 2 at depth 10 and more; the one behind has half 1.5 at depth 11.
TEST(FindVisible, SmallerBoxBehindALargerOneIsHidden) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 1.8, 1.8, 1), 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -12}, 1.5, 1.5, 1));
  EXPECT_EQ(shot.Visible()[behind], 0);
}

TEST(FindVisible, SmallerBoxInFrontHidesOnlyItsOwnOutline) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 0.9, 0.9, 1), 1);                       // front: half 0.9 / 9 * 500 = 50 px
  const uint32_t behind = shot.Add(Upright({0, 0, -20}, 3.8, 3.8, 1));  // front: half 3.8 / 19 * 500 = 100 px
  // 1 - 100^2 / 200^2; the outline is 400 px long, its cells 2 px wide: 4 * 100 * 2 / 200^2.
  EXPECT_NEAR(shot.Visible()[behind], 0.75, 4 * 100 * kCellPx / 4e4);
}

TEST(FindVisible, HalfCoveredBoxIsHalfVisible) {
  HidingShot shot;
  shot.Add(Upright({-5, 0, -10}, 5, 5, 0.5), 1);                    // right edge of its outline: x = 0
  const uint32_t behind = shot.Add(Upright({0, 0, -20}, 1, 1, 1));  // half 1 / 19 * 500 = 26.3 px
  EXPECT_NEAR(shot.Visible()[behind], 0.5, kCellPx / (2 * 500 / 19.0));
}

TEST(FindVisible, BoxBehindASlitShowsThroughIt) {
  HidingShot shot;
  shot.Add(Upright({-5.1, 0, -10}, 5, 5, 0.5), 1);  // x up to -0.1, at depths 9.5..10.5
  shot.Add(Upright({5.1, 0, -10}, 5, 5, 0.5), 1);   // and from 0.1
  const uint32_t behind = shot.Add(Upright({0, 0, -20}, 1, 1, 1));
  // The slit is as narrow as at its far end: 0.2 / 10.5 * 500 = 9.52 px of 2 / 19 * 500 = 52.6 px; two edges of a cell.
  EXPECT_NEAR(shot.Visible()[behind], 9.524 / 52.63, 2 * kCellPx / 52.63);
  EXPECT_GT(shot.Visible()[behind], 0);
}

TEST(FindVisible, ShareOfTheInnerBoxIsWhatHides) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 2, 2, 1), 0.5);                       // half 1 at depth 9.5: 52.6 px
  const uint32_t behind = shot.Add(Upright({0, 0, -20}, 3, 3, 0.5));  // half 3 / 19.5 * 500 = 76.9 px
  const double half = 500 / 9.5, whole = 3 / 19.5 * 500;
  EXPECT_NEAR(shot.Visible()[behind], 1 - half * half / (whole * whole), 4 * half * kCellPx / (2 * whole * whole));
}

TEST(FindVisible, NothingHidesItselfOrWhatStandsInFrontOfIt) {
  HidingShot shot;
  const uint32_t house = shot.Add(Upright({0, 0, -10}, 2, 2, 1), 1);
  const uint32_t poster = shot.Add(Upright({0, 0, -9}, 0.5, 0.5, 0), 0);  // a card on its face
  const uint32_t guard = shot.Add(Upright({0, 0, -8.5}, 0.2, 0.4, 0.2));
  const auto visible = shot.Visible();
  EXPECT_EQ(visible[house], 1);
  EXPECT_EQ(visible[poster], 1);
  EXPECT_EQ(visible[guard], 1);
}

TEST(FindVisible, TenantIsSeenOnlyThroughAnOpening) {
  HidingShot shot;
  const uint32_t house = shot.Add(Upright({0, 0, -20}, 4, 4, 4), 0.95);
  const uint32_t at_window = shot.Add(Upright({2, 2, -17}, 0.4, 0.4, 0.2));
  const uint32_t elsewhere = shot.Add(Upright({-2, 2, -17}, 0.4, 0.4, 0.2));
  auto visible = shot.Visible();
  EXPECT_EQ(visible[at_window], 0);
  EXPECT_EQ(visible[elsewhere], 0);
  // In box coordinates: x, y from 0.25 to 0.75 (1 to 3 m), from outside the front to behind the inner one.
  shot.particulars(house).openings.push_back({{0.25f, 0.25f, 0.8f}, {0.75f, 0.75f, 1.1f}});
  visible = shot.Visible();
  EXPECT_GT(visible[at_window], 0.9);
  EXPECT_EQ(visible[elsewhere], 0);
}

TEST(FindVisible, EyeInAnOpeningSeesAllThatIsInside) {
  HidingShot shot;
  const uint32_t house = shot.Add(Upright({0, 0, -4}, 4, 4, 3.6), 0.95);  // front at depth 0.4, inner front 0.58
  const uint32_t tenant = shot.Add(Upright({2, 1, -5}, 0.4, 0.4, 0.2));
  EXPECT_EQ(shot.Visible()[tenant], 0);
  shot.particulars(house).openings.push_back({{-0.1f, -0.1f, 0.8f}, {0.1f, 0.1f, 1.2f}});
  EXPECT_EQ(shot.Visible()[tenant], 1);
}

// A wall along the camera's way, its front behind the eye: the part beyond the near plane still hides.
TEST(FindVisible, OccluderAcrossTheNearPlaneHides) {
  HidingShot shot;
  shot.Add(Upright({1, 0, -8}, 0.2, 8, 10), 1);  // x 0.8..1.2, depths -2..18
  const uint32_t behind = shot.Add(Upright({6, 0, -14}, 0.5, 0.5, 0.5));
  EXPECT_EQ(shot.Visible()[behind], 0);
  const uint32_t before = shot.Add(Upright({-6, 0, -14}, 0.5, 0.5, 0.5));
  EXPECT_EQ(shot.Visible()[before], 1);
}

TEST(FindVisible, EyeInsideASolidSeesEverything) {
  HidingShot shot;
  shot.Add(Upright({0, 0, 0}, 3, 3, 3), 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  EXPECT_EQ(shot.Visible()[behind], 1);
}

TEST(FindVisible, OccluderAcrossTheBorderHides) {
  HidingShot shot;
  shot.Add(Upright({12, 0, -10}, 5, 5, 0.5), 1);                       // x 7..17, the frustum ends at 10
  const uint32_t behind = shot.Add(Upright({17, 0, -20}, 2, 2, 0.5));  // x 15..19 at 20: under 7.5..9.5 at 10
  EXPECT_EQ(shot.Visible()[behind], 0);
}

TEST(FindVisible, ObjectAcrossTheNearPlaneIsVisible) {
  HidingShot shot;
  shot.Add(Upright({0, 0, -10}, 20, 20, 1), 1);
  const uint32_t near = shot.Add(Upright({0, 0, -0.5}, 0.2, 0.2, 0.2));
  EXPECT_EQ(shot.Visible()[near], 1);
}

TEST(FindVisible, CardHidesFromBothSides) {
  for (const double side : {1.0, -1.0}) {
    HidingShot shot;
    Box card = Upright({0, 0, -10}, 3, 3, 0);
    card.a[0] *= side;  // mirrored: turned about
    shot.Add(card, 1);
    const uint32_t behind = shot.Add(Upright({0, 0, -15}, 2, 2, 1));
    EXPECT_EQ(shot.Visible()[behind], 0) << side;
  }
}

TEST(FindVisible, MirroredBoxHidesLikeItsImage) {
  HidingShot shot;
  Box mirrored = Upright({0, 0, -10}, 1.8, 1.8, 1);
  mirrored.a[0] *= -1;
  shot.Add(mirrored, 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -12}, 1.5, 1.5, 1));
  EXPECT_EQ(shot.Visible()[behind], 0);
}

TEST(FindVisible, OrthographicCameraHidesByDepthAlone) {
  HidingShot shot(SquareOrthographic());
  shot.Add(Upright({0, 0, -10}, 2, 2, 1), 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -30}, 1.9, 1.9, 1));
  const uint32_t half = shot.Add(Upright({2, 0, -30}, 1, 1, 1));
  const uint32_t before = shot.Add(Upright({0, 0, -5}, 1, 1, 1));
  const auto visible = shot.Visible();
  EXPECT_EQ(visible[behind], 0);
  EXPECT_NEAR(visible[half], 0.5, kCellPx / 200);
  EXPECT_EQ(visible[before], 1);
}

TEST(FindVisible, MeshHidesWhereItsSurfaceIsClosed) {
  HidingShot shot;
  const uint32_t rock = shot.Add(Upright({0, 0, -10}, 2, 2, 1));
  shot.particulars(rock).mesh = BoxMesh(0.9f);
  const uint32_t behind = shot.Add(Upright({0, 0, -14}, 1.5, 1.5, 1));
  const uint32_t beside = shot.Add(Upright({4, 0, -14}, 1, 1, 1));
  const auto visible = shot.Visible();
  EXPECT_EQ(visible[behind], 0);
  EXPECT_EQ(visible[beside], 1);
  EXPECT_EQ(visible[rock], 1);
}

TEST(FindVisible, MeshWithAHoleShowsWhatIsBehindIt) {
  HidingShot shot;
  const uint32_t arch = shot.Add(Upright({0, 0, -10}, 2, 2, 0));
  OccluderMesh& mesh = shot.particulars(arch).mesh;  // a frame: outer square, inner square of half its size
  for (const float size : {1.0f, 0.5f}) {
    mesh.vertices.insert(mesh.vertices.end(), {{-size, -size, 0}, {size, -size, 0}, {size, size, 0}, {-size, size, 0}});
  }
  for (uint32_t k = 0; k < 4; ++k) {
    const uint32_t next = (k + 1) % 4;
    mesh.triangles.push_back({k, next, k + 4});
    mesh.triangles.push_back({next, next + 4, k + 4});
  }
  const uint32_t in_the_hole = shot.Add(Upright({0, 0, -15}, 0.6, 0.6, 0.5));
  const uint32_t behind_the_frame = shot.Add(Upright({0, 2.2, -15}, 0.3, 0.3, 0.2));
  const auto visible = shot.Visible();
  EXPECT_EQ(visible[in_the_hole], 1);
  EXPECT_EQ(visible[behind_the_frame], 0);  // y 1.9..2.5 at depth 15: 1.3..1.7 at 10, within the frame's 1..2
}

TEST(Masks, WhatLiesWhollyUnderOneIsHiddenHoweverNear) {
  Camera camera = SquareCamera();
  camera.masks = {Cover(0.5, 0, 1, 1)};  // the right half, x > 0
  HidingShot shot(camera);
  const uint32_t under = shot.Add(Upright({1, 0, -2}, 0.5, 0.5, 0.5));
  const uint32_t across_near = shot.Add(Upright({1, 0, -0.6}, 0.5, 0.3, 0.5));
  const uint32_t half = shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  const uint32_t beside = shot.Add(Upright({-1, 0, -2}, 0.5, 0.5, 0.5));
  const auto visible = shot.Visible();
  EXPECT_EQ(visible[under], 0);
  EXPECT_EQ(visible[across_near], 0);
  EXPECT_NEAR(visible[half], 0.5, 1.01 * kCellPx / (1000 / 9.0));  // one cell beside the mask's edge, and the float
  EXPECT_EQ(visible[beside], 1);
}

TEST(Masks, CoverOnlyTheFramesTheyName) {
  Camera camera = SquareCamera();
  camera.masks = {Cover(0, 0, 1, 1)};
  camera.masks[0].frames = {{2, 5}};
  HidingShot shot(camera);
  const uint32_t object = shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  EXPECT_EQ(shot.Visible()[object], 1);  // frame 1
  shot.scene().frames = {2, 2};
  EXPECT_EQ(shot.Visible()[object], 0);
}

TEST(Masks, TwoThatMeetLeaveNoGap) {
  Camera camera = SquareCamera();
  camera.masks = {Cover(0.3, 0.3, 0.5003, 0.7), Cover(0.5003, 0.3, 0.7, 0.7)};  // they meet within a cell
  HidingShot shot(camera);
  const uint32_t object = shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  EXPECT_EQ(shot.Visible()[object], 0);
}

TEST(Masks, ReachOverTheOverscanAtThePicturesBorder) {
  Camera camera = SquareCamera();
  camera.overscan_px = 100;
  camera.masks = {Cover(0, 0, 1, 1)};
  HidingShot shot(camera);
  const uint32_t outside = shot.Add(Upright({11, 0, -10}, 0.5, 0.5, 0.5));  // u = 1050
  EXPECT_EQ(shot.Visible()[outside], 0);
}

TEST(DepthMap, DrawingThatStandsForAnOccluderHidesNothing) {
  HidingShot shot;
  const uint32_t wall = shot.Add(Upright({0, 0, -10}, 3, 3, 1), 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -14}, 1, 1, 1));
  EXPECT_EQ(shot.Visible()[behind], 0);
  shot.particulars(wall).replaced = {{1, 1}};
  EXPECT_EQ(shot.Visible()[behind], 1);
}

TEST(DepthMap, KeepsTheOccludersThatCoverMost) {
  HidingShot shot;
  for (int i = 0; i < 5; ++i) shot.Add(Upright({-8.0 + i, 5, -10}, 0.1, 0.1, 0.1), 1);
  shot.Add(Upright({0, 0, -10}, 3, 3, 1), 1);
  const uint32_t behind = shot.Add(Upright({0, 0, -14}, 1, 1, 1));
  HidingOptions options;
  options.most_occluders = 1;
  EXPECT_EQ(shot.Visible(options)[behind], 0);
}

// A finer map only ever hides more: its cells are parts of the coarser one's.
TEST(FindVisible, FinerMapsHideNoLess) {
  view_test::Random random(11);
  HidingShot shot;
  for (int i = 0; i < 60; ++i) {
    const Vec3 place = {view_test::Uniform(random, -9, 9), view_test::Uniform(random, -9, 9),
                        view_test::Uniform(random, -30, -8)};
    shot.Add(Upright(place, view_test::Uniform(random, 0.2, 2), view_test::Uniform(random, 0.2, 2), 0.5), i % 3 == 0);
  }
  HidingOptions coarse, fine;
  coarse.most_columns = 125;  // 8 px
  fine.most_columns = 250;    // 4 px
  const auto with_coarse = shot.Visible(coarse), with_fine = shot.Visible(fine);
  for (size_t row = 0; row < with_fine.size(); ++row) {
    // The share within a row of cells is taken along its middle, which errs by a part of a cell at slanted outlines.
    EXPECT_LE(with_fine[row], with_coarse[row] + 0.02) << row;
    EXPECT_TRUE(with_coarse[row] != 0 || with_fine[row] == 0) << row;
  }
}

}  // namespace
}  // namespace scantling
