// glTF cameras as shot cameras, against hand arithmetic.

#include <cmath>

#include "gmock/gmock.h"
#include "tests/client/import/build_gltf.h"

namespace scantling {
namespace {

GltfBuilder WithCameras() {
  GltfBuilder builder;
  builder.document["cameras"] = {
      {{"type", "perspective"}, {"perspective", {{"yfov", M_PI / 2}, {"znear", 0.5}, {"aspectRatio", 2}}}},
      {{"type", "orthographic"}, {"orthographic", {{"xmag", 3}, {"ymag", 1.5}, {"znear", 0}, {"zfar", 50}}}},
      {{"type", "perspective"}, {"name", "far"}, {"perspective", {{"yfov", 1}, {"znear", 0.1}, {"zfar", 9}}}}};
  builder.Node({{"name", "main"}, {"camera", 0}, {"translation", {1, 2, 3}}});
  builder.Node({{"name", "plan"}, {"camera", 1}});
  builder.Node({{"camera", 2}});
  return builder;
}

TEST(ImportCamera, PerspectiveKeepsItsAngleOfView) {
  const v1::Shot shot = Imported(WithCameras()).shot;
  ASSERT_EQ(shot.cameras_size(), 1);
  const v1::ShotCamera& camera = shot.cameras(0);
  EXPECT_EQ(camera.id(), "main");
  EXPECT_EQ(camera.projection(), v1::ShotCamera::PERSPECTIVE);
  // 90 degrees high: focal = 24 / 2 / tan 45 = 12 mm; twice as wide as high.
  EXPECT_NEAR(camera.focal_mm(0), 12, 1e-12);  // one tangent
  EXPECT_EQ(camera.window_height(), 24);
  EXPECT_EQ(camera.window_width(), 48);
  EXPECT_EQ(camera.image_width_px(), 2048);
  EXPECT_EQ(camera.image_height_px(), 1024);  // square pixels at aspect 2
  EXPECT_EQ(camera.near_m(), 0.5);
  EXPECT_EQ(camera.far_m(), 0);  // zfar absent: no far plane
  EXPECT_EQ(camera.transform().matrices(12), 1);
  EXPECT_EQ(camera.transform().matrices(14), 3);
}

TEST(ImportCamera, OrthographicWindowIsTwiceItsMagnification) {
  const v1::Shot shot = Imported(WithCameras(), {.cameras = {"plan"}}).shot;
  const v1::ShotCamera& camera = shot.cameras(0);
  EXPECT_EQ(camera.projection(), v1::ShotCamera::ORTHOGRAPHIC);
  EXPECT_EQ(camera.window_width(), 6);
  EXPECT_EQ(camera.window_height(), 3);
  EXPECT_EQ(camera.image_height_px(), 1024);
  EXPECT_EQ(camera.far_m(), 50);
  EXPECT_EQ(camera.focal_mm_size(), 0);
}

TEST(ImportCamera, WithoutAspectTheWindowIsThePictures) {
  const v1::Shot shot = Imported(WithCameras(), {.cameras = {"far"}, .width_px = 1000, .height_px = 400}).shot;
  EXPECT_EQ(shot.cameras(0).window_width(), 60);  // 24 * 1000 / 400
  EXPECT_EQ(shot.cameras(0).far_m(), 9);
}

TEST(ImportCamera, AllAreListedAndTheFirstIsTakenWithAWarning) {
  const GltfImport got = Imported(WithCameras());
  ASSERT_EQ(got.cameras.size(), 3u);
  EXPECT_EQ(got.cameras[1].name, "plan");
  EXPECT_FALSE(got.cameras[1].perspective);
  EXPECT_EQ(got.cameras[2].name, "far");
  EXPECT_FALSE(got.cameras[2].animated);
  EXPECT_THAT(got.warnings, testing::Contains("camera 'main' is taken of 'main', 'plan', 'far'"));
}

TEST(ImportCamera, SeveralMayBeChosenAndMove) {
  GltfBuilder builder = WithCameras();
  builder.Animate(0, "translation", "LINEAR", builder.Floats({0, 1}, "SCALAR"),
                  builder.Floats({0, 0, 0, 6, 0, 0}, "VEC3"));
  const GltfImport got = Imported(builder, {.cameras = {"plan", "main"}, .rate_numerator = 2});
  ASSERT_EQ(got.shot.cameras_size(), 2);
  EXPECT_EQ(got.shot.cameras(0).transform().matrices_size(), 16);
  ASSERT_EQ(got.shot.cameras(1).transform().matrices_size(), 48);
  EXPECT_EQ(got.shot.cameras(1).transform().matrices(16 + 12), 3);  // half a second of one
  EXPECT_TRUE(got.cameras[0].animated);
}

TEST(ImportCamera, PixelsThatAreNotSquareAreTold) {
  // A window twice as wide as high in a picture four times as wide: pixels 2 * 512 / 2048 = half as wide as high.
  EXPECT_THAT(Imported(WithCameras(), {.height_px = 512}).warnings,
              testing::Contains("camera 'main': its pixels come out 0.5 times as wide as high; square ones need a "
                                "picture 1024 px high"));
}

TEST(ImportCamera, UnknownOrDoubledNamesAreRefusedWithThoseThereAre) {
  EXPECT_EQ(Refusal(WithCameras().Gltf(), {.cameras = {"side", "main", "main"}}),
            "camera: got 'side', want one of: 'main', 'plan', 'far'\n"
            "camera: got 'main' twice, want each camera once");
}

TEST(ImportCamera, NumbersGltfDoesNotAllowAreRefused) {
  GltfBuilder builder = WithCameras();
  builder.document["cameras"][0]["perspective"] = {{"yfov", 4}, {"znear", 0}, {"zfar", -1}, {"aspectRatio", -2}};
  EXPECT_EQ(Refusal(builder.Gltf()),
            "cameras[0].perspective.yfov: got 4, want above 0 and below pi\n"
            "cameras[0].perspective.znear: got 0, want above 0\n"
            "cameras[0].perspective.zfar: got -1, want above znear 0\n"
            "cameras[0].perspective.aspectRatio: got -2, want above 0");
  builder.document["cameras"][1]["orthographic"] = {{"xmag", 0}, {"ymag", -1}, {"znear", -2}, {"zfar", -3}};
  EXPECT_EQ(Refusal(builder.Gltf(), {.cameras = {"plan"}}),
            "cameras[1].orthographic.xmag: got 0, want above 0\n"
            "cameras[1].orthographic.ymag: got -1, want above 0\n"
            "cameras[1].orthographic.znear: got -2, want 0 or above\n"
            "cameras[1].orthographic.zfar: got -3, want above znear -2");
}

TEST(ImportCamera, SceneWithoutCameraIsTold) {
  GltfBuilder builder;
  builder.Node({{"mesh", builder.UnitCube()}});
  const GltfImport got = Imported(builder);
  EXPECT_EQ(got.shot.cameras_size(), 0);
  EXPECT_THAT(got.warnings, testing::Contains("no camera in the scene; give the shot one before it is planned"));
}

}  // namespace
}  // namespace scantling
