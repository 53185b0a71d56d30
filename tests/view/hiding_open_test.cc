// Masks that only together cover something, and openings at the near plane.
//
// Camera: SquareCamera, u = 500 + 500 x / depth, near 0.5. Cells are 2 px.

#include <gtest/gtest.h>

#include "tests/view/hiding_shot.h"

namespace scantling {
namespace {

using view_test::Cover;
using view_test::HidingShot;
using view_test::SquareCamera;
using view_test::Upright;

// Half 1 at depth 9: 444..556 px both ways.
double VisibleUnder(const std::vector<Mask>& masks) {
  Camera camera = SquareCamera();
  camera.masks = masks;
  HidingShot shot(camera);
  const uint32_t object = shot.Add(Upright({0, 0, -10}, 1, 1, 1));
  return shot.Visible()[object];
}

TEST(Masks, ThreeOfDifferentSizesLeaveNoGap) {
  // Seams at u = 500.3 and v = 510.7, inside cells.
  EXPECT_EQ(VisibleUnder({Cover(0.3, 0.2, 0.5003, 0.5107), Cover(0.3, 0.5107, 0.5003, 0.8), Cover(0.5003, 0, 0.7, 1)}),
            0);
}

TEST(Masks, FourAboutAHoleLeaveItOpen) {
  // A hole of 4 x 4 px, 502..506: two cells each way of an outline 111.1 px wide and high; open cells count whole.
  const double visible = VisibleUnder({Cover(0.3, 0.3, 0.502, 0.7), Cover(0.506, 0.3, 0.7, 0.7),
                                       Cover(0.502, 0.3, 0.506, 0.502), Cover(0.502, 0.506, 0.506, 0.7)});
  EXPECT_NEAR(visible, 16 / (111.11 * 111.11), 1e-5);
}

// A house around the eye's side of the near plane: front at depth 0.4, inner front at 0.58.
HidingShot HouseBeforeTheEye(uint32_t& house, uint32_t& tenant) {
  HidingShot shot;
  house = shot.Add(Upright({0, 0, -4}, 4, 4, 3.6), 0.95);
  tenant = shot.Add(Upright({2, 1, -5}, 0.4, 0.4, 0.2));
  return shot;
}

TEST(Openings, OneAcrossTheNearPlaneOpensOnlyWhatItTouches) {
  uint32_t house, tenant;
  HidingShot shot = HouseBeforeTheEye(house, tenant);
  // Box x -0.1..-0.05: -0.4..-0.2 m from depth 0.4 on; at the near plane u = 100..300. The tenant is right of 500.
  shot.particulars(house).openings.push_back({{-0.1f, -0.1f, 0.8f}, {-0.05f, 0.1f, 1.2f}});
  EXPECT_EQ(shot.Visible()[tenant], 0);
  // Box x 0.05..0.1: 0.2..0.4 m; u up to 900 at the near plane and down to 589 at its far end, depth 1.12. The tenant
  // (654..750) shows.
  shot.particulars(house).openings[0] = {{0.05f, -0.1f, 0.8f}, {0.1f, 0.1f, 1.2f}};
  EXPECT_EQ(shot.Visible()[tenant], 1);
}

TEST(Openings, OneBehindTheEyeOpensNothing) {
  uint32_t house, tenant;
  HidingShot shot = HouseBeforeTheEye(house, tenant);
  shot.particulars(house).openings.push_back({{-1, -1, 1.5f}, {1, 1, 2}});
  EXPECT_EQ(shot.Visible()[tenant], 0);
}

}  // namespace
}  // namespace scantling
