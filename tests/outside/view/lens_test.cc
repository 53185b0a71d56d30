// Angles of view against the published table for 36 x 24 mm film.
//
// Source: closed form 2 atan(s / 2f) to 1e-4 degree; to 0.1 degree it is the table of field of view values for common
// focal lengths (Claff, 2006, photonstophotos.net).

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling {
namespace {

struct Row {
  double focal_mm, horizontal, vertical, diagonal;
};

constexpr Row kTable[] = {{24, 73.7398, 53.1301, 84.0622},
                          {35, 54.4322, 37.8493, 63.4400},
                          {50, 39.5978, 26.9915, 46.7930},
                          {85, 23.9132, 16.0714, 28.5583}};

Camera FilmCamera(double focal_mm) {
  Camera camera = view_test::SquareCamera();
  camera.window_width = 36;
  camera.window_height = 24;
  camera.width_px = 1800;
  camera.height_px = 1200;
  camera.poses[0].focal_mm = focal_mm;
  return camera;
}

double Degrees(double radians) { return radians * 180 / std::numbers::pi; }

// The table is rounded to 1e-4 degree.
TEST(AngleOfView, MatchesThePublishedTable) {
  for (const Row& row : kTable) {
    const CameraView view = ViewOf(FilmCamera(row.focal_mm), 0);
    const double right = (view.width_px - view.centre_u) / view.scale_u;
    const double top = view.centre_v / view.scale_v;
    EXPECT_NEAR(Degrees(2 * std::atan(right)), row.horizontal, 5.1e-5) << row.focal_mm;
    EXPECT_NEAR(Degrees(2 * std::atan(top)), row.vertical, 5.1e-5) << row.focal_mm;
    EXPECT_NEAR(Degrees(2 * std::atan(std::hypot(right, top))), row.diagonal, 5.1e-5) << row.focal_mm;
  }
}

// A speck 1e-4 m wide at 100 m spans 6e-5 degree: 1e-3 degree within the table's angle it is in frame, 1e-3 beyond not.
TEST(AngleOfView, DecidesWhatIsInFrame) {
  for (const Row& row : kTable) {
    const CameraView view = ViewOf(FilmCamera(row.focal_mm), 0);
    for (double beyond : {-1e-3, 1e-3}) {
      const double half = (row.horizontal / 2 + beyond) * std::numbers::pi / 180;
      const auto speck = view_test::Upright({100 * std::tan(half), 0, -100}, 5e-5, 5e-5, 5e-5);
      ViewBlock block;
      MeasureChunk(view_test::ChunkOf(speck), 0, view, block);
      EXPECT_EQ(block.flags[0], beyond < 0 ? kInFrame : 0) << row.focal_mm;
    }
  }
}

// Height on film: an object 1.8 m tall at 10 m through 50 mm stands 9 mm high on 24 mm film (similar triangles), which
// is 9/24 of 1200 px.
TEST(AngleOfView, ObjectHeightFollowsSimilarTriangles) {
  const auto person = view_test::Upright({0, 0, -10.25}, 0.3, 0.9, 0.25);  // front at 10 m
  const ObjectView got = MeasureObject(view_test::ChunkOf(person), 0, 0, ViewOf(FilmCamera(50), 0));
  EXPECT_NEAR(got.height_px, 450, 450 * 6e-8);  // 0.9 is stored as float
}

}  // namespace
}  // namespace scantling
