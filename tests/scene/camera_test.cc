#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();

// A shot with one good camera, spoilt.
Built With(const std::function<void(CameraSpec&)>& spoil) {
  ShotHeader header = MakeHeader();
  spoil(header.cameras[0]);
  return BuildHeader(header);
}

std::vector<Violation> FaultsWith(const std::function<void(CameraSpec&)>& spoil) { return Faults(With(spoil)); }

TEST(SceneCameras, AtLeastOneAndAtMostTheLimit) {
  ShotHeader header = MakeHeader();
  header.cameras.clear();
  EXPECT_THAT(Faults(BuildHeader(header)), ElementsAre(Violation{"cameras", "got 0, want 1 to 16"}));
  for (int i = 0; i < 3; ++i) header.cameras.push_back(MakeCamera(Numbered("c", static_cast<size_t>(i))));
  SceneLimits limits;
  limits.cameras = 2;
  EXPECT_THAT(Faults(BuildHeader(header, limits)), ElementsAre(Violation{"cameras", "got 3, want 1 to 2"}));
  EXPECT_THAT(BuildHeader(header, limits).scene.cameras, IsEmpty());
}

TEST(SceneCameras, DuplicateIdsNameBothPlaces) {
  ShotHeader header = MakeHeader();
  header.cameras = {MakeCamera("left"), MakeCamera("right"), MakeCamera("left")};
  EXPECT_THAT(Faults(BuildHeader(header)),
              ElementsAre(Violation{"cameras[2].id",
                                    "got \"left\", already used at cameras[0].id, want ids that are "
                                    "unique in the shot"}));
}

TEST(SceneCameras, NamesAreChecked) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.camera.id = ""; }),
              ElementsAre(Violation{"cameras[0].id", "got nothing, want a name of 1 to 1024 bytes"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.stereo_pair = "\xFF"; }),
              ElementsAre(Violation{"cameras[0].stereo_pair", "got \"\\xff\", want UTF-8 text (byte 0 is 0xff)"}));
}

TEST(SceneCameras, WindowAndPictureMustHaveASize) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.camera.window_width = 0;
                c.camera.window_height = kNan;
                c.camera.offset_x = kInfinity;
                c.camera.offset_y = -kInfinity;
              }),
              ElementsAre(Violation{"cameras[0].window_width", "got 0, want a number above 0 and at most 1e+09"},
                          Violation{"cameras[0].window_height", "got nan, want a number above 0 and at most 1e+09"},
                          Violation{"cameras[0].offset_x", "got inf, want a number within 1e+09 of 0"},
                          Violation{"cameras[0].offset_y", "got -inf, want a number within 1e+09 of 0"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.camera.width_px = 0;
                c.camera.height_px = 65'537;
                c.camera.overscan_px = -1;
                c.camera.f_number = -2.8;
              }),
              ElementsAre(Violation{"cameras[0].image_width_px", "got 0, want 1 to 65536"},
                          Violation{"cameras[0].image_height_px", "got 65537, want 1 to 65536"},
                          Violation{"cameras[0].overscan_px", "got -1, want 0 to 65536"},
                          Violation{"cameras[0].f_number", "got -2.8, want 0 (not given) or a number above 0"}));
}

TEST(SceneCameras, PlanesMustBeInOrder) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.camera.near_m = 0; }),
              ElementsAre(Violation{"cameras[0].near_m", "got 0, want a number of metres above 0"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.camera.far_m = 0.1; }),
              ElementsAre(Violation{"cameras[0].far_m", "got 0.1, want more than near_m (0.1)"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.camera.near_m = kNan;
                c.camera.far_m = kNan;
              }),
              ElementsAre(Violation{"cameras[0].near_m", "got nan, want a number of metres above 0"},
                          Violation{"cameras[0].far_m", "got nan, want a number of metres above near_m"}));
}

TEST(SceneCameras, OrthographicNearMayBeZeroAndHasNoFocalLength) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.camera.projection = Projection::kOrthographic;
                c.camera.near_m = 0;
                c.focal_mm.clear();
              }),
              IsEmpty());
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.camera.projection = Projection::kOrthographic;
                c.camera.near_m = -1;
              }),
              ElementsAre(Violation{"cameras[0].near_m", "got -1, want 0 metres or above"},
                          Violation{"cameras[0].focal_mm", "got 1, want none (orthographic camera)"}));
}

TEST(SceneCameras, FocalLengthsAreOneOrOnePerFrameAndAboveZero) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focal_mm.assign(24, 35); }), IsEmpty());
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focal_mm.clear(); }),
              ElementsAre(Violation{"cameras[0].focal_mm", "got 0, want 1 or 24"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.focal_mm = {35, 0, kNan};
              }),
              ElementsAre(Violation{"cameras[0].focal_mm", "got 3, want 1 or 24"},
                          Violation{"cameras[0].focal_mm[1]", "got 0, want a number above 0 and at most 1e+06"},
                          Violation{"cameras[0].focal_mm[2]", "got nan, want a number above 0 and at most 1e+06"}));
}

TEST(SceneCameras, NoFocalLengthIsAFaultInAShotWithoutFramesToo) {
  ShotHeader header = MakeHeader();
  header.frames = {5, 1};
  header.cameras[0].focal_mm.clear();
  EXPECT_THAT(Faults(BuildHeader(header)), ElementsAre(Violation{"frames", "got 5 to 1, want last not below first"},
                                                       Violation{"cameras[0].focal_mm", "got 0, want 1"}));
}

TEST(SceneCameras, FocusLiesBeyondTheFocalLength) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focus_m = {kInfinity}; }), IsEmpty());
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focus_m = {0.036}; }), IsEmpty());
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focus_m = {0.035}; }),
              ElementsAre(Violation{"cameras[0].focus_m[0]", "got 0.035, want more than the focal length (0.035 m)"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.focus_m = {0}; }),
              ElementsAre(Violation{"cameras[0].focus_m[0]", "got 0, want a number of metres above 0"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.focus_m = {1, 2};
              }),
              ElementsAre(Violation{"cameras[0].focus_m", "got 2, want 1 or 24"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.focal_mm.assign(24, 35);
                c.focal_mm[7] = 500;
                c.focus_m.assign(24, 0.4);
              }),
              ElementsAre(Violation{"cameras[0].focus_m[7]", "got 0.4, want more than the focal length (0.5 m)"}));
}

TEST(SceneCameras, NumberOfMatricesIsOneOrOnePerFrame) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.transforms.clear(); }),
              ElementsAre(Violation{"cameras[0].transform.matrices", "got 0, want 16 or 384 numbers"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.transforms.pop_back(); }),
              ElementsAre(Violation{"cameras[0].transform.matrices", "got 15, want 16 or 384 numbers"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                for (int i = 0; i < 16; ++i)
                  c.transforms.insert(c.transforms.end(), kIdentity.begin(), kIdentity.end());
              }),
              ElementsAre(Violation{"cameras[0].transform.matrices", "got 17, want 1 or 24 matrices"}));
}

TEST(SceneCameras, MatrixFaultsNameTheEntry) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) {
                c.transforms[1] = kNan;
                c.transforms[12] = 2e9;
                c.transforms[3] = 0.5;
                c.transforms[15] = 2;
              }),
              ElementsAre(Violation{"cameras[0].transform.matrices[1]", "got nan, want a number within 1e+30 of 0"},
                          Violation{"cameras[0].transform.matrices[12]", "got 2e+09, want a number within 1e+09 of 0"},
                          Violation{"cameras[0].transform.matrices[3]", "got 0.5, want 0 (the last row is 0 0 0 1)"},
                          Violation{"cameras[0].transform.matrices[15]", "got 2, want 1 (the last row is 0 0 0 1)"}));
}

TEST(SceneCameras, SingularShearedAndMirroredAreRefused) {
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.transforms[10] = 0; }),
              ElementsAre(Violation{"cameras[0].transform.matrices[0]",
                                    "got a singular matrix (relative determinant 0), want at least 1e-06"}));
  // Columns (1, 0, 0) and (0.75, 1, 0): cosine 0.75 / 1.25 = 0.6.
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.transforms[4] = 0.75; }),
              ElementsAre(Violation{"cameras[0].transform.matrices[0]",
                                    "got sheared axes (cosine 0.6 between two), want axes square to each other within "
                                    "0.0001"}));
  EXPECT_THAT(FaultsWith([](CameraSpec& c) { c.transforms[0] = -1; }),
              ElementsAre(Violation{"cameras[0].transform.matrices[0]",
                                    "got a mirrored matrix (negative determinant), want a right-handed one"}));
}

TEST(SceneCameras, ScaleIsStrippedAndTheRotationTurnedRound) {
  // Camera turned a quarter about +Y (its +X is world -Z, its +Z is world +X), scaled by 2, 3 and 4, at (5, 6, 7).
  const Built built = With([](CameraSpec& c) { c.transforms = {0, 0, -2, 0, 0, 3, 0, 0, 4, 0, 0, 0, 5, 6, 7, 1}; });
  EXPECT_THAT(Faults(built), IsEmpty());
  const CameraPose& pose = built.scene.cameras[0].pose(0);
  EXPECT_EQ(pose.world_to_camera, (std::array<double, 9>{0, 0, -1, 0, 1, 0, 1, 0, 0}));
  EXPECT_EQ(pose.position_m, (Vec3{5, 6, 7}));
  EXPECT_EQ(pose.focal_mm, 35);
}

TEST(SceneCameras, ASlightShearIsSquaredUp) {
  const Built built = With([](CameraSpec& c) { c.transforms[4] = 5e-5; });
  EXPECT_THAT(Faults(built), IsEmpty());
  const std::array<double, 9>& m = built.scene.cameras[0].pose(0).world_to_camera;
  for (size_t a = 0; a < 3; ++a) {
    for (size_t b = 0; b < 3; ++b) {
      const double dot = m[3 * a] * m[3 * b] + m[3 * a + 1] * m[3 * b + 1] + m[3 * a + 2] * m[3 * b + 2];
      EXPECT_NEAR(dot, a == b ? 1 : 0, 1e-15);  // a handful of roundings near 1
    }
  }
}

TEST(SceneCameras, AMovingFocalLengthMakesAPosePerFrame) {
  const Built built = With([](CameraSpec& c) {
    for (int i = 0; i < 24; ++i) c.focus_m.push_back(1 + i);
  });
  EXPECT_THAT(Faults(built), IsEmpty());
  ASSERT_EQ(built.scene.cameras[0].poses.size(), 24u);
  EXPECT_EQ(built.scene.cameras[0].pose(23).focus_m, 24);
  EXPECT_EQ(built.scene.cameras[0].pose(23).focal_mm, 35);
}

TEST(SceneCameras, PicturesAreNumberedWithPairsAsOne) {
  ShotHeader header = MakeHeader();
  header.cameras = {MakeCamera("a"), MakeCamera("l"), MakeCamera("b"), MakeCamera("r")};
  header.cameras[1].stereo_pair = header.cameras[3].stereo_pair = "eyes";
  const Built built = BuildHeader(header);
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.pictures, 3);
  std::vector<int32_t> pictures;
  for (const Camera& camera : built.scene.cameras) pictures.push_back(camera.picture);
  EXPECT_EQ(pictures, (std::vector<int32_t>{0, 1, 2, 1}));
}

TEST(SceneCameras, APairHasTwoEyes) {
  ShotHeader header = MakeHeader();
  header.cameras = {MakeCamera("a"), MakeCamera("b"), MakeCamera("c")};
  for (CameraSpec& camera : header.cameras) camera.stereo_pair = "eyes";
  EXPECT_THAT(Faults(BuildHeader(header)),
              ElementsAre(Violation{"cameras[2].stereo_pair",
                                    "got a camera more in the pair \"eyes\" (number 3), want two cameras at most"}));
}

}  // namespace
}  // namespace scantling
