// What hides, is cast, is held and is drawn over: read from the message, and blamed by its paths.
//
// The person of shot_maker.h stands in -0.25..0.25 x 0..1.75 x -0.125..0.125 m: half sizes 0.25, 0.875, 0.125 about
// (0, 0.875, 0). Frames are 1001 to 1004.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/rpc/shot_maker.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

void SetRange(v1::FrameRange& range, int first, int last) {
  range.set_first(first);
  range.set_last(last);
}

void FillVector(v1::Vector3& v, double x, double y, double z) {
  v.set_x(x);
  v.set_y(y);
  v.set_z(z);
}

// Everything an object can have.
void FillParticulars(v1::Particulars& particulars) {
  v1::Mesh& mesh = *particulars.mutable_occluder()->mutable_mesh();
  for (const float number : {-0.25f, 0.f, 0.125f, 0.25f, 0.f, 0.125f, 0.f, 1.75f, 0.f}) mesh.add_vertices_m(number);
  for (const uint32_t index : {2u, 0u, 1u}) mesh.add_triangles(index);
  v1::Box& opening = *particulars.add_openings();
  FillVector(*opening.mutable_min_m(), -0.125, 0.875, -0.25);
  FillVector(*opening.mutable_max_m(), 0.125, 1.75, 0.25);
  v1::IndirectSight& shadow = *particulars.add_indirect();
  shadow.set_kind(v1::IndirectSight::SHADOW);
  SetRange(*shadow.add_frames(), 1002, 1003);
  particulars.add_indirect()->set_kind(v1::IndirectSight::REFLECTION);
  particulars.add_indirect()->set_kind(v1::IndirectSight::LIGHT);
  particulars.set_hold_group("reapers");
  SetRange(*particulars.add_replaced(), 1004, 1004);
  particulars.add_beats(1003);
}

void ExpectFilled(const Scene& scene, uint32_t row) {
  ASSERT_NE(scene.objects.particulars[row], kNone);
  const Particulars& particulars = scene.particulars[scene.objects.particulars[row]];
  EXPECT_EQ(particulars.object, row);
  EXPECT_THAT(particulars.mesh.vertices, ElementsAre(std::array<float, 3>{-1, -1, 1}, std::array<float, 3>{1, -1, 1},
                                                     std::array<float, 3>{0, 1, 0}));
  EXPECT_THAT(particulars.mesh.triangles, ElementsAre(std::array<uint32_t, 3>{2, 0, 1}));
  ASSERT_THAT(particulars.openings, SizeIs(1));
  EXPECT_EQ(particulars.openings[0].min, (std::array<float, 3>{-0.5, 0, -2}));
  EXPECT_EQ(particulars.openings[0].max, (std::array<float, 3>{0.5, 1, 2}));
  ASSERT_THAT(particulars.indirect, SizeIs(3));
  EXPECT_EQ(particulars.indirect[0].kind, IndirectKind::kShadow);
  EXPECT_EQ(particulars.indirect[0].frames, (FrameSpans{{1002, 1003}}));
  EXPECT_EQ(particulars.indirect[1].kind, IndirectKind::kReflection);
  EXPECT_EQ(particulars.indirect[2].kind, IndirectKind::kLight);
  EXPECT_EQ(particulars.indirect[2].frames, (FrameSpans{{1001, 1004}}));
  EXPECT_EQ(scene.hold_groups[particulars.hold_group], "reapers");
  EXPECT_EQ(scene.replaced_of(row), (FrameSpans{{1004, 1004}}));
  EXPECT_THAT(scene.beats_of(row), ElementsAre(1003));
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

v1::ObjectBlock& AddPeople(v1::Shot& shot) {
  v1::ObjectBlock& block = *shot.add_blocks();
  block.add_class_names("person");
  AddBlockPerson(block, "cat");
  AddBlockPerson(block, "dan");
  return block;
}

TEST(ParticularsFromProto, RowsAreReadWhole) {
  v1::Shot shot = MakeShot();
  FillParticulars(*shot.mutable_objects(1)->mutable_particulars());
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_EQ(read.scene.objects.particulars[0], kNone);
  ExpectFilled(read.scene, 1);
}

TEST(ParticularsFromProto, BlocksAreReadWhole) {
  v1::Shot shot = MakeShot();
  v1::ObjectBlock& block = AddPeople(shot);
  block.add_inner_box(0.75f);
  block.add_inner_box(-1);
  v1::ObjectBlock::Particular& particular = *block.add_particulars();
  particular.set_index(1);
  FillParticulars(*particular.mutable_particulars());
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_THAT(read.scene.objects.inner_box, ElementsAre(0.0f, 0.0f, 0.75f, 0.0f));
  EXPECT_EQ(read.scene.objects.particulars[2], kNone);
  ExpectFilled(read.scene, 3);
}

TEST(ParticularsFromProto, InnerBoxOfARowIsRead) {
  v1::Shot shot = MakeShot();
  shot.mutable_objects(0)->mutable_particulars()->mutable_occluder()->set_inner_box(0.5);
  shot.mutable_objects(1)->mutable_particulars()->mutable_occluder();  // neither inner box nor mesh: the class's
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_THAT(read.scene.objects.inner_box, ElementsAre(0.5f, 0.0f));
  EXPECT_THAT(read.scene.objects.particulars, ElementsAre(kNone, kNone));
}

TEST(ParticularsFromProto, DrawingsBeatsAndMasksOfTheShotAreRead) {
  v1::Shot shot = MakeShot();
  SetRange(*shot.add_replaced(), 1002, 1002);
  shot.add_beats(1003);
  shot.add_beats(1001);
  v1::Mask& mask = *shot.mutable_cameras(0)->add_masks();
  mask.set_top(0.25);
  mask.set_right(0.5);
  mask.set_bottom(0.75);
  SetRange(*mask.add_frames(), 1001, 1002);
  const Read read = ReadShot(shot);
  ASSERT_THAT(read.violations.listed(), IsEmpty());
  EXPECT_EQ(read.scene.replaced, (FrameSpans{{1002, 1002}}));
  EXPECT_THAT(read.scene.beats, ElementsAre(1001, 1003));
  ASSERT_THAT(read.scene.cameras[0].masks, SizeIs(1));
  const Mask& got = read.scene.cameras[0].masks[0];
  EXPECT_EQ(got.left, 0);
  EXPECT_EQ(got.top, 0.25);
  EXPECT_EQ(got.right, 0.5);
  EXPECT_EQ(got.bottom, 0.75);
  EXPECT_EQ(got.frames, (FrameSpans{{1001, 1002}}));
}

TEST(ParticularsFromProto, FaultsOfRowsCarryThePathsOfTheMessage) {
  EXPECT_THAT(
      FaultsWith([](v1::Shot& s) {
        v1::Particulars& particulars = *s.mutable_objects(1)->mutable_particulars();
        FillParticulars(particulars);
        particulars.mutable_occluder()->mutable_mesh()->set_triangles(1, 3);
        v1::Box& opening = *particulars.add_openings();
        FillVector(*opening.mutable_min_m(), 0, 0.5, 0);
        FillVector(*opening.mutable_max_m(), 0, 0.25, 0);
        particulars.mutable_indirect(0)->mutable_frames(0)->set_last(1005);
        particulars.mutable_indirect(1)->set_kind(v1::IndirectSight::KIND_UNSPECIFIED);
        particulars.mutable_indirect(2)->set_kind(static_cast<v1::IndirectSight::Kind>(9));
        particulars.set_hold_group("a\tb");
        particulars.mutable_replaced(0)->set_first(0);
        particulars.set_beats(0, 1000);
      }),
      ElementsAre(
          Violation{"objects[1].particulars.indirect[1].kind", "got 0, want SHADOW, REFLECTION or LIGHT"},
          Violation{"objects[1].particulars.indirect[2].kind", "got 9, want SHADOW, REFLECTION or LIGHT"},
          Violation{"objects[1].particulars.occluder.mesh.triangles[1]",
                    "got 3, want an index below 3, the number of vertices"},
          Violation{"objects[1].particulars.openings[1].max_m.y",
                    "got 0.25, want a number not below min_m "
                    "(0.5)"},
          Violation{"objects[1].particulars.indirect[0].frames[0]",
                    "got 1002 to 1005, want frames of the shot, 1001 to 1004"},
          Violation{"objects[1].particulars.replaced[0]", "got 0 to 1004, want frames of the shot, 1001 to 1004"},
          Violation{"objects[1].particulars.beats[0]", "got 1000, want frames of the shot, 1001 to 1004"},
          Violation{"objects[1].particulars.hold_group",
                    "got \"a\\tb\", want text without control characters (byte 1 is 0x09)"}));
}

TEST(ParticularsFromProto, HalfAnOpeningIsNoOpening) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                v1::Particulars& particulars = *s.mutable_objects(0)->mutable_particulars();
                FillVector(*particulars.add_openings()->mutable_min_m(), 0, 0.5, 0);
                particulars.add_openings()->mutable_max_m();
                particulars.add_openings();
              }),
              ElementsAre(Violation{"objects[0].particulars.openings[0].max_m", "got nothing, want x, y and z"},
                          Violation{"objects[0].particulars.openings[1].min_m", "got nothing, want x, y and z"},
                          Violation{"objects[0].particulars.openings[2].min_m", "got nothing, want x, y and z"},
                          Violation{"objects[0].particulars.openings[2].max_m", "got nothing, want x, y and z"}));
}

TEST(ParticularsFromProto, FaultsOfBlocksCarryThePathsOfTheMessage) {
  EXPECT_THAT(
      FaultsWith([](v1::Shot& s) {
        v1::ObjectBlock& block = AddPeople(s);
        block.add_inner_box(2);
        block.add_inner_box(-1);
        v1::ObjectBlock::Particular& particular = *block.add_particulars();
        particular.set_index(1);
        FillParticulars(*particular.mutable_particulars());
        particular.mutable_particulars()->mutable_indirect(0)->clear_kind();
        particular.mutable_particulars()->mutable_openings(0)->clear_max_m();
        particular.mutable_particulars()->set_beats(0, 7);
      }),
      ElementsAre(
          Violation{"blocks[0].particulars[0].particulars.openings[0].max_m", "got nothing, want x, y and z"},
          Violation{"blocks[0].particulars[0].particulars.indirect[0].kind", "got 0, want SHADOW, REFLECTION or LIGHT"},
          Violation{"blocks[0].inner_box[0]", "got 2, want a share of the box, 0 to 1, or below 0: its class's"},
          Violation{"blocks[0].particulars[0].particulars.beats[0]", "got 7, want frames of the shot, 1001 to 1004"}));
}

TEST(ParticularsFromProto, IndicesOfABlockRiseWithinIt) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                v1::ObjectBlock& block = AddPeople(s);
                block.add_particulars()->set_index(1);
                block.add_particulars()->set_index(0);
                block.add_particulars()->set_index(2);
              }),
              ElementsAre(Violation{"blocks[0].particulars[1].index", "got 0, want an index above the one before"},
                          Violation{"blocks[0].particulars[2].index", "got 2, want an index below 2 (objects)"}));
}

TEST(ParticularsFromProto, FaultsOfTheShotCarryThePathsOfTheMessage) {
  EXPECT_THAT(FaultsWith([](v1::Shot& s) {
                SetRange(*s.add_replaced(), 1001, 1002);
                SetRange(*s.add_replaced(), 1004, 1003);
                s.add_beats(1001);
                s.add_beats(1005);
                s.mutable_cameras(0)->add_masks()->set_right(1);
                s.mutable_cameras(0)->mutable_masks(0)->set_bottom(1);
                v1::Mask& mask = *s.mutable_cameras(0)->add_masks();
                mask.set_left(-0.5);
                mask.set_right(1);
                mask.set_bottom(1);
                SetRange(*mask.add_frames(), 1000, 1001);
              }),
              ElementsAre(Violation{"replaced[1]", "got 1004 to 1003, want last not below first"},
                          Violation{"beats[1]", "got 1005, want frames of the shot, 1001 to 1004"},
                          Violation{"cameras[0].masks[1].left", "got -0.5, want a share of the picture, 0 to 1"},
                          Violation{"cameras[0].masks[1].frames[0]",
                                    "got 1000 to 1001, want frames of the shot, 1001 to 1004"}));
}

}  // namespace
}  // namespace scantling
