// A host's stage in the API's terms. Expected values by hand, or by measuring the same picture both ways.

#include "client/library/live_host.h"

#include <gmock/gmock.h>

#include <cmath>
#include <limits>

namespace scantling::client {
namespace {

using testing::ElementsAre;

constexpr HostConventions kCentimetresZUp = {0.01, UpAxis::kZ, 1, 1001};

v1::Vector3 Point(double x, double y, double z) {
  v1::Vector3 point;
  point.set_x(x);
  point.set_y(y);
  point.set_z(z);
  return point;
}

// Column-major matrix times a point.
v1::Vector3 Moved(const v1::TransformTrack& track, const v1::Vector3& p) {
  const auto row = [&](int r) {
    return track.matrices(r) * p.x() + track.matrices(4 + r) * p.y() + track.matrices(8 + r) * p.z() +
           track.matrices(12 + r);
  };
  return Point(row(0), row(1), row(2));
}

// A turn of 30 degrees about the host's Z, a stretch, and a move; not symmetric, so that a transposition shows.
v1::TransformTrack Placed() {
  const double c = std::cos(M_PI / 6), s = std::sin(M_PI / 6);
  v1::TransformTrack track;
  for (const double number : {2 * c, 2 * s, 0.0, 0.0, -s, c, 0.0, 0.0, 0.0, 0.0, 3.0, 0.0, 100.0, 200.0, 300.0, 1.0}) {
    track.add_matrices(number);
  }
  return track;
}

void ExpectNear(const v1::Vector3& got, const v1::Vector3& want) {
  constexpr double kRounding = 1e-12;  // a dozen operations on numbers up to 6
  EXPECT_NEAR(got.x(), want.x(), kRounding);
  EXPECT_NEAR(got.y(), want.y(), kRounding);
  EXPECT_NEAR(got.z(), want.z(), kRounding);
}

TEST(HostConventions, ZUpBecomesYUpAndCentimetresMetres) {
  v1::Vector3 point = Point(100, 200, 300);
  ToShot(kCentimetresZUp, point);
  ExpectNear(point, Point(1, 3, -2));
}

TEST(HostConventions, BoxStaysWellOrdered) {
  v1::Box box;
  *box.mutable_min_m() = Point(-50, -20, 0);
  *box.mutable_max_m() = Point(50, 30, 180);
  ToShot(kCentimetresZUp, box);
  ExpectNear(box.min_m(), Point(-0.5, 0, -0.3));  // y -20..30 becomes z -0.3..0.2
  ExpectNear(box.max_m(), Point(0.5, 1.8, 0.2));
}

TEST(HostConventions, PlaceOnAnObjectIsTheSamePlaceOnStage) {
  // In the host: a local point, placed, then converted. In the API: converted, then placed.
  v1::Vector3 local = Point(10, -20, 30);
  v1::TransformTrack track = Placed();
  v1::Vector3 on_stage = Moved(track, local);
  ToShot(kCentimetresZUp, on_stage);
  ToShot(kCentimetresZUp, local);
  ObjectTrackToShot(kCentimetresZUp, track);
  ExpectNear(Moved(track, local), on_stage);
}

TEST(HostConventions, CameraLooksAtTheSamePlace) {
  // What lies 500 units before the lens, along the camera's own -Z, is there in both.
  v1::TransformTrack track = Placed();
  v1::Vector3 on_stage = Moved(track, Point(0, 0, -500));
  ToShot(kCentimetresZUp, on_stage);
  CameraTrackToShot(kCentimetresZUp, track);
  ExpectNear(Moved(track, Point(0, 0, -5)), on_stage);
  // An upright camera of a +Z up host looks down without being told otherwise: its -Z is the host's down, the API's -Y.
  v1::TransformTrack identity;
  for (int i = 0; i < 16; ++i) identity.add_matrices(i % 5 == 0);
  CameraTrackToShot(kCentimetresZUp, identity);
  ExpectNear(Moved(identity, Point(0, 0, -1)), Point(0, -1, 0));
}

TEST(HostConventions, CameraDistancesAreScaledAndFilmIsNot) {
  v1::ShotCamera camera;
  camera.set_window_width(36);
  camera.add_focal_mm(50);
  camera.set_near_m(10);
  camera.set_far_m(100'000);
  camera.add_focus_m(500);
  ToShot(kCentimetresZUp, camera);
  EXPECT_DOUBLE_EQ(camera.near_m(), 0.1);
  EXPECT_DOUBLE_EQ(camera.far_m(), 1000);
  EXPECT_DOUBLE_EQ(camera.focus_m(0), 5);
  EXPECT_EQ(camera.window_width(), 36);
  EXPECT_EQ(camera.focal_mm(0), 50);
}

TEST(HostConventions, OrthographicWindowIsOnStageAndScaled) {
  v1::ShotCamera camera;
  camera.set_projection(v1::ShotCamera::ORTHOGRAPHIC);
  camera.set_window_width(1000);
  camera.set_window_height(500);
  camera.set_offset_x(-20);
  camera.set_offset_y(40);
  ToShot(kCentimetresZUp, camera);
  EXPECT_DOUBLE_EQ(camera.window_width(), 10);
  EXPECT_DOUBLE_EQ(camera.window_height(), 5);
  EXPECT_DOUBLE_EQ(camera.offset_x(), -0.2);
  EXPECT_DOUBLE_EQ(camera.offset_y(), 0.4);
}

TEST(HostConventions, FramesGoThereAndBack) {
  EXPECT_EQ(ToShotFrame(kCentimetresZUp, 1), 1001);
  EXPECT_EQ(ToShotFrame(kCentimetresZUp, 240), 1240);
  for (const int frame : {-5, 0, 1, 240})
    EXPECT_EQ(ToHostFrame(kCentimetresZUp, ToShotFrame(kCentimetresZUp, frame)), frame);
}

TEST(HostConventions, ObjectIsConvertedInAllItsParts) {
  v1::SceneObject object;
  *object.mutable_box()->mutable_max_m() = Point(0, 0, 100);
  object.add_measured()->add_depth_m(250);
  v1::Particulars& particulars = *object.mutable_particulars();
  for (const float number : {1.0f, 2.0f, 3.0f})
    particulars.mutable_occluder()->mutable_mesh()->add_vertices_m(100 * number);
  particulars.add_beats(12);
  particulars.add_replaced()->set_first(1);
  particulars.mutable_replaced(0)->set_last(24);
  ToShot(kCentimetresZUp, object);
  EXPECT_DOUBLE_EQ(object.box().max_m().y(), 1);
  EXPECT_FLOAT_EQ(object.measured(0).depth_m(0), 2.5f);
  EXPECT_THAT(particulars.occluder().mesh().vertices_m(), ElementsAre(1.0f, 3.0f, -2.0f));
  EXPECT_EQ(particulars.beats(0), 1012);
  EXPECT_EQ(particulars.replaced(0).last(), 1024);
}

TEST(HostConventions, ScaleMustBeFiniteAndAboveNought) {
  EXPECT_TRUE(Check(kCentimetresZUp).ok());
  for (const double scale : {0.0, -1.0, std::nan(""), std::numeric_limits<double>::infinity()}) {
    EXPECT_EQ(Check({.metres_per_unit = scale}).code(), absl::StatusCode::kInvalidArgument);
  }
}

TEST(StableIds, RenameKeepsTheId) {
  StableIds ids;
  EXPECT_EQ(ids.IdOf("n1", "lamplighter"), "lamplighter");
  EXPECT_EQ(ids.IdOf("n1", "lamplighter_final_v2"), "lamplighter");
  EXPECT_EQ(ids.HandleOf("lamplighter"), "n1");
  EXPECT_EQ(ids.HandleOf("nobody"), std::nullopt);
}

TEST(StableIds, EqualNamesBecomeUnique) {
  StableIds ids;
  EXPECT_EQ(ids.IdOf("n1", "stall_2"), "stall_2");
  EXPECT_EQ(ids.IdOf("n2", "stall"), "stall");
  EXPECT_EQ(ids.IdOf("n3", "stall"), "stall_3");  // "stall_2" is somebody's
  EXPECT_EQ(ids.IdOf("n4", ""), "object");
}

TEST(StableIds, IdOfWhatIsGoneIsNotGivenAgain) {
  StableIds ids;
  ids.IdOf("n1", "gull");
  ids.Forget("n1");
  EXPECT_EQ(ids.HandleOf("gull"), std::nullopt);
  EXPECT_EQ(ids.IdOf("n2", "gull"), "gull_2");
}

TEST(StableIds, LongAndIllFormedNamesBecomeIdsTheDaemonTakes) {
  StableIds ids;
  std::string long_name;
  for (int i = 0; i < 1000; ++i) long_name += "\xC3\xA9";  // two bytes each
  const std::string id = ids.IdOf("n1", long_name);
  EXPECT_LE(id.size(), 1024u);
  EXPECT_EQ(id.size() % 2, 0u);  // not cut within a letter
  EXPECT_LE(ids.IdOf("n2", long_name).size(), 1024u);
  EXPECT_EQ(ids.IdOf("n3", "\xFF"), "\\xff");
}

}  // namespace
}  // namespace scantling::client
