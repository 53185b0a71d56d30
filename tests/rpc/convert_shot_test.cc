#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "tests/rpc/shot_maker.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

TEST(SceneFromProto, GoodShotIsReadWhole) {
  v1::Shot shot = MakeShot();
  shot.mutable_backdrop_colour()->set_blue(200);
  shot.mutable_objects(0)->set_container_id("ben");
  shot.mutable_objects(0)->mutable_colour()->set_red(255);
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  const Scene& scene = read.scene;
  EXPECT_EQ(scene.shot_id, "qy_0010");
  EXPECT_EQ(scene.sequence_id, "qy");
  EXPECT_EQ(scene.frames, (FrameRange{1001, 1004}));
  EXPECT_EQ(scene.rate, (FrameRate{24, 1}));
  EXPECT_EQ(scene.backdrop_colour, (std::array<uint8_t, 3>{0, 0, 200}));
  ASSERT_THAT(scene.cameras, SizeIs(1));
  EXPECT_EQ(scene.cameras[0].window_height, 15);
  EXPECT_TRUE(std::isinf(scene.cameras[0].far_m));
  EXPECT_EQ(scene.cameras[0].pose(0).focal_mm, 35);
  EXPECT_THAT(scene.objects.container, ElementsAre(1u, kNone));
  EXPECT_EQ(scene.objects.colour[0], (std::array<uint8_t, 4>{255, 0, 0, 1}));
  ASSERT_THAT(scene.directives, SizeIs(1));
  EXPECT_EQ(scene.directives[0].tier, Tier::kProxy);
  ASSERT_THAT(scene.interest, SizeIs(1));
  EXPECT_EQ(scene.interest[0].object, 1u);
  EXPECT_EQ(scene.chunks[0].centre_z[0], -10);
}

TEST(SceneFromProto, CrowdsAreReadWhole) {
  v1::Shot shot = MakeShot();
  shot.mutable_objects(0)->set_asset_id("extra");
  shot.mutable_objects(0)->set_container_id("ben");
  v1::Crowd& market = *shot.add_crowds();
  market.set_name("market");
  market.add_asset_ids("extra");
  market.set_keep_share(0.25);
  market.set_cell_columns(4);
  market.set_cell_rows(2);
  market.set_least_covered_share(0.5);
  const auto add = [&shot](const char* name) -> v1::Crowd& {
    shot.add_crowds()->set_name(name);
    return *shot.mutable_crowds(shot.crowds_size() - 1);
  };
  add("one").add_object_ids("ben");
  add("people").add_class_names("person");
  add("deck").add_container_ids("ben");
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  ASSERT_THAT(read.scene.crowds, SizeIs(4));
  const Crowd& crowd = read.scene.crowds[0];
  EXPECT_EQ(crowd.name, "market");
  EXPECT_EQ(crowd.keep_share, 0.25);
  EXPECT_EQ(crowd.columns, 4);
  EXPECT_EQ(crowd.rows, 2);
  EXPECT_EQ(crowd.least_covered_share, 0.5);
  EXPECT_THAT(crowd.members, ElementsAre(0u));
  EXPECT_THAT(read.scene.crowds[1].members, ElementsAre(1u));
  EXPECT_THAT(read.scene.crowds[2].members, ElementsAre(0u, 1u));
  EXPECT_THAT(read.scene.crowds[3].members, ElementsAre(0u));
}

TEST(SceneFromProto, FaultsOfCrowdsNameTheirFields) {
  EXPECT_THAT(
      FaultsWith([](v1::Shot& shot) {
        v1::Crowd& crowd = *shot.add_crowds();
        crowd.add_asset_ids("ghost");
        crowd.set_keep_share(2);
        crowd.set_least_covered_share(0);  // sent, though 0
      }),
      ElementsAre(
          Violation{"crowds[0].name", "got nothing, want a name of 1 to 1024 bytes"},
          Violation{"crowds[0].keep_share", "got 2, want a share from 0 to 1"},
          Violation{"crowds[0].least_covered_share", "got 0, want cell_columns and cell_rows beside it"},
          Violation{"crowds[0].asset_ids[0]", "got \"ghost\", want an asset that an object of the shot names"}));
}

TEST(SceneFromProto, AnEmptyShotSaysAllThatIsMissing) {
  EXPECT_THAT(ReadShot(v1::Shot()).violations.listed(),
              ElementsAre(Violation{"rate.numerator", "got 0, want a number above 0"},
                          Violation{"rate.denominator", "got 0, want a number above 0"},
                          Violation{"frames", "got no frames, want first and last, last not below first"},
                          Violation{"cameras", "got 0, want 1 to 16"}));
}

TEST(SceneFromProto, FarPlanesMayBeGiven) {
  v1::Shot shot = MakeShot();
  shot.mutable_cameras(0)->set_far_m(500);
  EXPECT_EQ(ReadShot(shot).scene.cameras[0].far_m, 500);
}

TEST(SceneFromProto, OrthographicCamerasAreRead) {
  v1::Shot shot = MakeShot();
  shot.mutable_cameras(0)->set_projection(v1::ShotCamera::ORTHOGRAPHIC);
  shot.mutable_cameras(0)->clear_focal_mm();
  const Read read = ReadShot(shot);
  EXPECT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_EQ(read.scene.cameras[0].projection, Projection::kOrthographic);
}

TEST(SceneFromProto, EnumsMustHaveAKnownValue) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                s.mutable_cameras(0)->set_projection(static_cast<v1::ShotCamera::Projection>(7));
                s.mutable_directives(0)->set_bound(v1::Directive::BOUND_UNSPECIFIED);
                s.mutable_directives(0)->set_tier(v1::TIER_UNSPECIFIED);
              }),
              ElementsAre(Violation{"cameras[0].projection", "got 7, want PERSPECTIVE or ORTHOGRAPHIC"},
                          Violation{"directives[0].bound", "got 0, want AT_LEAST, AT_MOST or EXACTLY"},
                          Violation{"directives[0].tier", "got 0, want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG"}));
}

TEST(SceneFromProto, DirectivesOfEveryScopeBoundAndTierAreRead) {
  v1::Shot shot = MakeShot();
  shot.mutable_objects(0)->set_asset_id("ada_rig");
  v1::Directive& asset = *shot.add_directives();
  asset.set_asset_id("ada_rig");
  asset.set_bound(v1::Directive::AT_MOST);
  asset.set_tier(v1::COLOUR_PATCH);
  v1::Directive& by_class = *shot.add_directives();
  by_class.set_class_name("person");
  by_class.set_bound(v1::Directive::EXACTLY);
  by_class.set_tier(v1::FULL_RIG);
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_EQ(read.scene.directives[1].scope, DirectiveScope::kAsset);
  EXPECT_EQ(read.scene.directives[1].bound, DirectiveBound::kAtMost);
  EXPECT_EQ(read.scene.directives[1].tier, Tier::kColourPatch);
  EXPECT_EQ(read.scene.directives[2].scope, DirectiveScope::kClass);
  EXPECT_EQ(read.scene.directives[2].bound, DirectiveBound::kExactly);
  EXPECT_EQ(read.scene.directives[2].target, "person");
}

TEST(SceneFromProto, ADirectiveNeedsATarget) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) { s.mutable_directives(0)->clear_object_id(); }),
              ElementsAre(Violation{"directives[0].object_id", "got nothing, want a name of 1 to 1024 bytes"}));
}

TEST(SceneFromProto, PointsOfInterestNeedAnObjectOrAPlace) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                s.mutable_interest(0)->Clear();
                s.add_interest()->set_object_id("");
                v1::PointOfInterest& place = *s.add_interest();
                place.mutable_place()->set_x(2);
                place.mutable_frames()->set_first(1);
              }),
              ElementsAre(Violation{"interest[0]", "got nothing, want object_id or place"},
                          Violation{"interest[1]", "got nothing, want object_id or place"},
                          Violation{"interest[2].place.x", "got 2, want a share from 0 to 1"},
                          Violation{"interest[2].frames",
                                    "got 1 to 0, want frames of the shot (1001 to 1004), last not "
                                    "below first"}));
}

TEST(SceneFromProto, ColoursEndAt255) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                s.mutable_backdrop_colour()->set_green(256);
                s.mutable_objects(1)->mutable_colour()->set_red(1000);
                s.mutable_objects(1)->mutable_colour()->set_blue(4294967295u);
              }),
              ElementsAre(Violation{"backdrop_colour.green", "got 256, want 0 to 255"},
                          Violation{"objects[1].colour.red", "got 1000, want 0 to 255"},
                          Violation{"objects[1].colour.blue", "got 4294967295, want 0 to 255"}));
}

TEST(SceneFromProto, FaultsOfTheSceneCarryThePathsOfTheMessage) {
  EXPECT_THAT(
      FaultsWith([](v1::Shot& s) {
        s.mutable_cameras(0)->add_focal_mm(0);
        s.mutable_objects(0)->mutable_box()->mutable_max_m()->set_y(-1);
        s.mutable_objects(1)->mutable_transform()->set_matrices(13, std::nan(""));
        s.mutable_objects(1)->set_class_name("persn");
      }),
      ElementsAre(
          Violation{"cameras[0].focal_mm", "got 2, want 1 or 4"},
          Violation{"cameras[0].focal_mm[1]", "got 0, want a number above 0 and at most 1e+06"},
          Violation{"objects[0].box.max_m.y", "got -1, want a number not below the box's min (0)"},
          Violation{"objects[1].class_name", "got \"persn\", want a class of the catalogue (nearest: \"person\")"},
          Violation{"objects[1].transform.matrices[13]", "got nan, want a number of metres within 1e+09 of 0"}));
}

TEST(SceneFromProto, HalfABoxIsNoBox) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) { s.mutable_objects(0)->mutable_box()->clear_min_m(); }),
              ElementsAre(Violation{"objects[0].box.min_m", "got nothing, want x, y and z"}));
  EXPECT_THAT(FaultsWith([](v1::Shot& s) { s.mutable_objects(0)->mutable_box()->clear_max_m(); }),
              ElementsAre(Violation{"objects[0].box.max_m", "got nothing, want x, y and z"}));
}

// Measured figures of one camera over all four frames.
v1::MeasuredTrack Track(const std::string& camera, float height_px) {
  v1::MeasuredTrack track;
  track.set_camera_id(camera);
  for (int f = 0; f < 4; ++f) {
    track.add_height_px(height_px);
    track.add_covered_px(50);
    track.add_depth_m(10);
  }
  return track;
}

// "ada" measured through two cameras, without geometry.
v1::Shot MeasuredShot() {
  v1::Shot shot = MakeShot();
  FillCamera(*shot.add_cameras(), "other");
  v1::SceneObject& ada = *shot.mutable_objects(0);
  ada.clear_box();
  ada.clear_transform();
  *ada.add_measured() = Track("other", 20);
  *ada.add_measured() = Track("main", 10);
  return shot;
}

TEST(SceneFromProto, MeasuredTracksComeInAnyOrder) {
  const Read read = ReadShot(MeasuredShot());
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_EQ(read.scene.measured_at(0, 0, 3).height_px, 10);
  EXPECT_EQ(read.scene.measured_at(0, 1, 0).height_px, 20);
}

TEST(SceneFromProto, TracksOfAShotWithoutCamerasAreNotBlamed) {
  v1::Shot shot = MeasuredShot();
  shot.clear_cameras();
  EXPECT_THAT(ReadShot(shot).violations.listed(), ElementsAre(Violation{"cameras", "got 0, want 1 to 16"}));
}

TEST(SceneFromProto, MeasuredFaultsNameTheTrackAsSent) {
  v1::Shot shot = MeasuredShot();
  shot.mutable_objects(0)->mutable_measured(1)->set_covered_px(2, -3);
  EXPECT_THAT(ReadShot(shot).violations.listed(),
              ElementsAre(Violation{"objects[0].measured[1].covered_px[2]",
                                    "got -3, want 0 to 1.75718e+06 (picture and overscan)"}));
}

TEST(SceneFromProto, EveryCameraNeedsItsWholeTrack) {
  v1::Shot shot = MeasuredShot();
  shot.mutable_objects(0)->mutable_measured()->RemoveLast();
  EXPECT_THAT(
      ReadShot(shot).violations.listed(),
      ElementsAre(Violation{"objects[0].measured", "got no track of camera \"main\", want one for each camera"}));
  shot = MeasuredShot();
  shot.mutable_objects(0)->mutable_measured(0)->set_camera_id("ghost");
  shot.mutable_objects(0)->mutable_measured(1)->mutable_depth_m()->RemoveLast();
  *shot.mutable_objects(0)->add_measured() = Track("main", 5);
  EXPECT_THAT(ReadShot(shot).violations.listed(),
              ElementsAre(Violation{"objects[0].measured[0].camera_id",
                                    "got \"ghost\", want the id of a camera of the "
                                    "shot"},
                          Violation{"objects[0].measured[1].depth_m", "got 3, want 4 (one per frame)"},
                          Violation{"objects[0].measured[2].camera_id",
                                    "got \"main\", already used at objects[0].measured[1], want one track for each "
                                    "camera"}));
}

TEST(SceneFromProto, SpentWorkNamesEachTierOnce) {
  v1::Shot shot = MakeShot();
  const auto spend = [&](v1::Tier tier, double hours) {
    v1::SpentWork& spent = *shot.mutable_objects(0)->add_spent();
    spent.set_tier(tier);
    spent.set_anim_hours(hours);
  };
  spend(v1::PROXY, 2.5);
  const Read good = ReadShot(shot);
  ASSERT_THAT(good.scene.spent, SizeIs(1));
  EXPECT_EQ(good.scene.spent[0].anim_hours, 2.5);
  spend(v1::PROXY, 1);
  spend(v1::TIER_UNSPECIFIED, 1);
  spend(v1::FULL_RIG, -1);
  EXPECT_THAT(ReadShot(shot).violations.listed(),
              ElementsAre(Violation{"objects[0].spent[1].tier",
                                    "got PROXY, already used at objects[0].spent[0], want "
                                    "each tier once"},
                          Violation{"objects[0].spent[2].tier", "got 0, want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG"},
                          Violation{"objects[0].spent", "got -1 hours at FULL_RIG, want 0 to 1e+09"}));
}

// The same person as FillPerson, in a block.
void AddBlockPerson(v1::ObjectBlock& block, const std::string& id) {
  *block.mutable_id_blob() += id;
  block.add_id_lengths(static_cast<uint32_t>(id.size()));
  block.add_class_of(0);
  for (const float number : {-0.25f, 0.f, -0.125f, 0.25f, 1.75f, 0.125f}) block.add_boxes_m(number);
  for (const float number : {1.f, 0.f, 0.f, 0.f, 1.f, 0.f, 0.f, 0.f, 1.f}) block.add_linear(number);
  for (const double number : {0., -0.875, -10.}) block.add_translation_m(number);
}

TEST(SceneFromProto, BlocksGiveTheSceneOfTheirRows) {
  v1::Shot rows = MakeShot(), blocks = MakeShot();
  blocks.clear_objects();
  v1::ObjectBlock& block = *blocks.add_blocks();
  block.add_class_names("person");
  AddBlockPerson(block, "ada");
  AddBlockPerson(block, "ben");
  const Read a = ReadShot(rows), b = ReadShot(blocks);
  ASSERT_THAT(a.violations.listed(), IsEmpty());
  ASSERT_THAT(b.violations.listed(), IsEmpty());
  EXPECT_EQ(b.scene.objects.id[1], "ben");
  EXPECT_EQ(a.scene.objects.class_index, b.scene.objects.class_index);
  EXPECT_EQ(a.scene.chunks[0].centre_y, b.scene.chunks[0].centre_y);
  EXPECT_EQ(a.scene.chunks[0].axis, b.scene.chunks[0].axis);
}

TEST(SceneFromProto, BlockFaultsCarryThePathsOfTheMessage) {
  v1::Shot shot = MakeShot();
  v1::ObjectBlock& block = *shot.add_blocks();
  block.add_class_names("person");
  AddBlockPerson(block, "cat");
  AddBlockPerson(block, "ada");
  block.add_asset_ids("rig");
  block.add_asset_of(2);
  block.add_asset_of(0);
  block.add_container_ids("ghost");
  block.add_container_of(0);
  block.add_container_of(1);
  block.add_colour(7);
  block.add_colour(0);
  block.add_importance(-1);
  block.add_importance(0);
  block.add_complexity(-2);
  block.add_complexity(0);
  block.set_boxes_m(6, std::numeric_limits<float>::infinity());
  EXPECT_THAT(
      ReadShot(shot).violations.listed(),
      ElementsAre(Violation{"blocks[0].asset_of[0]", "got 2, want 0 (none) to 1 (1 + index into asset_ids)"},
                  Violation{"blocks[0].colour[0]", "got 0x00000007, want 0 (not given) or 0x01RRGGBB"},
                  Violation{"blocks[0].importance[0]", "got -1, want a number above 0 (1e-06 to 1e+06)"},
                  Violation{"blocks[0].complexity[0]", "got -2, want a number above 0 (1e-06 to 1e+06)"},
                  Violation{"blocks[0].id_lengths[1]",
                            "got \"ada\", already used at objects[0].id, want ids "
                            "that are unique in the shot"},
                  Violation{"blocks[0].boxes_m[6]", "got inf, want a number of metres within 1e+09 of 0"},
                  Violation{"blocks[0].container_of[1]", "got \"ghost\", want the id of an object of the shot"}));
}

TEST(SceneFromProto, PosesOfBlocksAreRead) {
  v1::Shot shot = MakeShot();
  v1::ObjectBlock& block = *shot.add_blocks();
  block.add_class_names("person");
  AddBlockPerson(block, "cat");
  block.add_poses(3);
  EXPECT_THAT(ReadShot(shot).violations.listed(),
              ElementsAre(Violation{"blocks[0].poses[0]", "got 3, want 1 or 4"},
                          Violation{"blocks[0].linear", "got 9, want 9 for each of 3 poses"},
                          Violation{"blocks[0].translation_m", "got 3, want 3 for each of 3 poses"}));
}

}  // namespace
}  // namespace scantling
