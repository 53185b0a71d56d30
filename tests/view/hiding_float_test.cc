// A box far deeper than its nearest corner is near: float moves that corner by much of a pixel, and what shows of it
// must still be seen.
//
// Camera: SquareCamera, u = 500 + 500 x / depth. Float holds a centre 4 km away to 1.2e-4 m, which is 0.2 px at a
// corner 0.27 m away, 400 px from the middle of the picture.

#include <gtest/gtest.h>

#include <cmath>

#include "tests/view/hiding_shot.h"

namespace scantling {
namespace {

using view_test::Box;
using view_test::HidingShot;

TEST(FindVisible, DeepBoxShowsItsNearestCorner) {
  view_test::Random random(7);
  int called_hidden = 0;
  for (int i = 0; i < 2000; ++i) {
    HidingShot shot;
    shot.scene().cameras[0].near_m = 0.2;
    // A needle along the camera's way, its near right edge at a picture place little beyond a line between cells.
    const double line = 2 * std::floor(view_test::Uniform(random, 300, 450));
    const double place = line + view_test::Uniform(random, 0.012, 0.1);
    const double x1 = (place - 500) / 500 * 0.27;
    const double half = std::floor(view_test::Uniform(random, 1000, 4000));  // float holds it exactly
    const Box box = {{x1 - 0.01, 0, -(0.27 + half)}, {0.01, 0, 0}, {0, 0.01, 0}, {0, 0, half}};
    const uint32_t deep = shot.Add(box);
    // A wall that covers the picture up to that line; its cells end there.
    const double wall_right = (line + 0.001 - 500) / 500 * 0.22;
    shot.Add(view_test::Upright({wall_right - 5, 0, -0.22}, 5, 5, 0), 1);
    called_hidden += shot.Visible()[deep] == 0;
  }
  EXPECT_EQ(called_hidden, 0);
}

}  // namespace
}  // namespace scantling
