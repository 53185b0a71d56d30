// Whether the demonstration shot's picture is the one the scenario tells: projected boxes, no pixels.

#include <cmath>
#include <string>

#include "client/sample/camera.h"
#include "client/sample/sample.h"
#include "client/sample/staging.h"
#include "gtest/gtest.h"
#include "tests/client/sample/project.h"

namespace scantling::sample {
namespace {

constexpr double kWidth_px = 2048, kHeight_px = 858;

const v1::Shot& Shot() {
  static const v1::Shot* const shot = new v1::Shot(MakeSample({}));
  return *shot;
}

Picture See(const v1::SceneObject& object, int index) { return Project(object, Shot().cameras(0), index); }

bool InPicture(const v1::SceneObject& object, int index) { return See(object, index).Meets(kWidth_px, kHeight_px); }

int CountSeen(const std::string& class_name, int index) {
  int seen = 0;
  for (const v1::SceneObject& object : Shot().objects()) {
    seen += object.class_name() == class_name && InPicture(object, index);
  }
  return seen;
}

// 35 mm on a 24.892 mm window: at 8 m a metre is 35 / 24.892 * 2048 / 8 = 360 px.
TEST(SamplePicture, LamplighterStandsLargeInFrontWhileTheCameraTracks) {
  for (const int index : {0, 80, 167}) {
    const Picture picture = See(Shot().objects(0), index);
    EXPECT_TRUE(picture.Meets(kWidth_px, kHeight_px));
    EXPECT_NEAR(picture.height(), 1.6875 * 360, 45) << "the box's near edge is 3% nearer, and the camera tilts";
    EXPECT_GE(picture.top, 0);
    EXPECT_GT(picture.left, 0);
    EXPECT_LT(picture.right, kWidth_px);
  }
}

TEST(SamplePicture, CrowdIsTenToSixtyMetresAwayAndMuchOfItOffScreen) {
  int seen = 0, all = 0;
  for (const v1::SceneObject& object : Shot().objects()) {
    if (object.class_name() != "person") continue;
    ++all;
    const Picture picture = See(object, 80);
    if (!picture.Meets(kWidth_px, kHeight_px)) continue;
    ++seen;
    EXPECT_GT(picture.nearest_m, 9.9) << object.id();
    EXPECT_LT(picture.nearest_m, 60) << object.id();
  }
  EXPECT_GT(seen, 60);
  EXPECT_LT(seen, all / 2);
}

TEST(SamplePicture, FerryWithMostOfItsPassengersIsInView) {
  EXPECT_EQ(CountSeen("ferry", 0), 1);
  EXPECT_EQ(CountSeen("ferry", 167), 1);
  EXPECT_GT(CountSeen("passenger", 80), 40);
}

TEST(SamplePicture, HillsideFiguresAreAFewPixelsTallAndAboveTheFerry) {
  double ferry_top_px = 0;
  for (const v1::SceneObject& object : Shot().objects()) {
    if (object.id() == "ferry") ferry_top_px = See(object, 0).top;
  }
  int clear = 0;
  for (const v1::SceneObject& object : Shot().objects()) {
    if (object.class_name() != "reaper" || !InPicture(object, 0)) continue;
    const Picture picture = See(object, 0);
    // 1.55 to 1.82 m at 800 to 1500 m, a metre being 2880 / depth px: 3.0 to 6.6 px.
    EXPECT_GT(picture.height(), 2.9) << object.id();
    EXPECT_LT(picture.height(), 7) << object.id();
    clear += picture.bottom < ferry_top_px;
  }
  EXPECT_GT(clear, 40);
}

TEST(SamplePicture, HillTownComesWithTheWhip) {
  for (const int index : {0, 80, 167}) EXPECT_EQ(CountSeen("hill_dwelling", index), 0);
  EXPECT_GT(CountSeen("hill_dwelling", 239), 200);
  EXPECT_EQ(CountSeen("lead", 239), 0);
}

// Scaling a house and its distance about the camera by one factor leaves its picture as it was (2-fold similarity of
// the pinhole equations), so the seventh-size town must look like honest houses 560 to 840 m away.
TEST(SamplePicture, HillTownLooksLikeHonestHousesSevenTimesFarther) {
  const double* eye = MatrixAt(Shot().cameras(0).transform(), 239);
  for (const v1::SceneObject& object : Shot().objects()) {
    if (object.class_name() != "hill_dwelling") continue;
    v1::SceneObject honest = object;
    for (int axis = 0; axis < 3; ++axis) {
      double& at = *honest.mutable_transform()->mutable_matrices()->Mutable(12 + axis);
      at = eye[12 + axis] + 7 * (at - eye[12 + axis]);
    }
    for (v1::Vector3* corner : {honest.mutable_box()->mutable_min_m(), honest.mutable_box()->mutable_max_m()}) {
      corner->set_x(7 * corner->x());
      corner->set_y(7 * corner->y());
      corner->set_z(7 * corner->z());
    }
    EXPECT_NEAR(honest.box().max_m().y(), 8.5, 1.0) << "a house of 7 to 10 m";
    const Picture near = See(object, 239), far = See(honest, 239);
    const double* at = MatrixAt(honest.transform(), 0);
    EXPECT_NEAR(std::hypot(at[12] - eye[12], at[13] - eye[13], at[14] - eye[14]), 700, 140.001) << object.id();
    EXPECT_NEAR(near.top, far.top, 1e-6) << object.id();  // double rounding only
    EXPECT_NEAR(near.left, far.left, 1e-6) << object.id();
    EXPECT_NEAR(near.bottom, far.bottom, 1e-6) << object.id();
  }
}

TEST(SamplePicture, CameraTracksThenStandsAndItsAxesStayOrthonormal) {
  const v1::TransformTrack& track = Shot().cameras(0).transform();
  ASSERT_EQ(track.matrices_size(), 16 * 240);
  // 7 s at 1.1 m/s: 168 frames, 7.7 m.
  EXPECT_NEAR(MatrixAt(track, 168)[12], 7.7, 1e-12);
  EXPECT_EQ(MatrixAt(track, 239)[12], MatrixAt(track, 168)[12]);
  for (const int index : {0, 172, 239}) {
    const double* m = MatrixAt(track, index);
    for (int a = 0; a < 3; ++a) {
      for (int b = 0; b < 3; ++b) {
        const double dot = m[4 * a] * m[4 * b] + m[4 * a + 1] * m[4 * b + 1] + m[4 * a + 2] * m[4 * b + 2];
        EXPECT_NEAR(dot, a == b, 1e-15);  // sines and cosines within 4e-16
      }
    }
  }
}

TEST(SamplePicture, PixelsAreSquareAtAnyPictureSize) {
  const v1::Shot shot = MakeSample({.objects = 1, .frames = 1, .width_px = 1000, .height_px = 500});
  const v1::ShotCamera& camera = shot.cameras(0);
  EXPECT_DOUBLE_EQ(camera.window_width() / 1000, camera.window_height() / 500);
}

TEST(SamplePicture, TwentySeedsAllHaveTheirLeadsFerryAndCrowdInView) {
  for (uint64_t seed = 1; seed <= 20; ++seed) {
    const v1::Shot shot = MakeSample({.seed = seed, .frames = 24});
    int people = 0, leads = 0, ferries = 0;
    for (const v1::SceneObject& object : shot.objects()) {
      if (!Project(object, shot.cameras(0), 0).Meets(kWidth_px, kHeight_px)) continue;
      people += object.class_name() == "person";
      leads += object.class_name() == "lead";
      ferries += object.class_name() == "ferry";
    }
    EXPECT_EQ(leads, 2) << seed;
    EXPECT_EQ(ferries, 1) << seed;
    EXPECT_GT(people, 60) << seed;
  }
}

}  // namespace
}  // namespace scantling::sample
