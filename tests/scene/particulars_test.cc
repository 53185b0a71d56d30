// What only some objects have: every refusal in its words, and what is kept in box coordinates.
//
// The person of make_shot.h stands in -0.25..0.25 x 0..1.8 x -0.15..0.15 m: half sizes 0.25, 0.9, 0.15 about (0, 0.9,
// 0).

#include "server/scene/particulars.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "tests/scene/block_maker.h"
#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

// One person with particulars, in a catalogue where people may hide things and vehicles are seen through.
Built BuildWith(const ParticularsSpec& particulars, ShotHeader header = MakeHeader(), SceneLimits limits = {}) {
  ObjectRow row = MakeRow("ada");
  row.particulars = &particulars;
  return Build({row}, std::move(header), limits);
}

std::vector<Violation> FaultsOf(const ParticularsSpec& particulars, SceneLimits limits = {}) {
  return Faults(BuildWith(particulars, MakeHeader(), limits));
}

Violation Fault(std::string field, std::string description) {
  return {"objects[0].particulars." + field, std::move(description)};
}

const std::vector<float> kTriangle = {-0.25f, 0, -0.15f, 0.25f, 0, -0.15f, 0.25f, 1.8f, 0.15f};
const std::vector<uint32_t> kIndices = {0, 1, 2};

ParticularsSpec WithMesh() {
  ParticularsSpec spec;
  spec.mesh = MeshSpec{kTriangle, kIndices};
  return spec;
}

TEST(Particulars, ObjectWithoutAnyHasNone) {
  const Built built = Build({MakeRow("ada")});
  EXPECT_EQ(built.scene.objects.particulars, std::vector<uint32_t>{kNone});
  EXPECT_EQ(built.scene.objects.inner_box, std::vector<float>{0});
  EXPECT_TRUE(built.scene.particulars.empty());
}

TEST(Particulars, MessageThatSaysNothingIsNotKept) {
  const Built built = BuildWith({});
  EXPECT_TRUE(built.violations.empty());
  EXPECT_EQ(built.scene.objects.particulars[0], kNone);
}

TEST(InnerBox, IsTheClasssWhereNoneWasSent) {
  ClassCatalogue catalogue = MakeCatalogue();
  catalogue.classes[0].inner_box = 0.5;
  Violations violations;
  SceneBuilder builder(catalogue, {}, MakeHeader(), violations);
  ObjectRow row = MakeRow("ada");
  builder.AddRow(row, "objects[0]");
  ParticularsSpec own;
  own.inner_box = 0.75;
  row.particulars = &own;
  row.id = "ben";
  builder.AddRow(row, "objects[1]");
  const ParticularsSpec mesh = WithMesh();
  row.particulars = &mesh;
  row.id = "cy";
  builder.AddRow(row, "objects[2]");
  const Scene scene = builder.Finish();
  EXPECT_TRUE(violations.empty());
  EXPECT_THAT(scene.objects.inner_box, ElementsAre(0.5f, 0.75f, 0.0f));  // what carries a mesh hides by it alone
  EXPECT_THAT(scene.objects.particulars, ElementsAre(kNone, kNone, 0u));
}

TEST(InnerBox, OutsideItsRangeIsRefused) {
  ParticularsSpec spec;
  for (const auto& [got, text] : {std::pair{1.5, "1.5"}, {-0.1, "-0.1"}}) {
    spec.inner_box = got;
    EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.inner_box",
                                                  std::string("got ") + text + ", want a share of the box, 0 to 1")));
  }
  spec.inner_box = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(FaultsOf(spec).size(), 1u);
}

TEST(InnerBox, OfAClassThatIsSeenThroughIsRefused) {
  ClassCatalogue catalogue = MakeCatalogue();
  catalogue.classes[0].solidity = 0.3;
  const auto faults = [&](const ParticularsSpec& spec) {
    Violations violations;
    SceneBuilder builder(catalogue, {}, MakeHeader(), violations);
    ObjectRow row = MakeRow("ada");
    row.particulars = &spec;
    builder.AddRow(row, "objects[0]");
    builder.Finish();
    return violations.listed();
  };
  const std::string why =
      " for class person, whose solidity 0.3 is under the catalogue's occluder_least_solidity 0.5, want none: it is "
      "seen through";
  ParticularsSpec spec;
  spec.inner_box = 0.9;
  EXPECT_THAT(faults(spec), ElementsAre(Fault("occluder.inner_box", "got inner_box 0.9" + why)));
  EXPECT_THAT(faults(WithMesh()), ElementsAre(Fault("occluder.mesh", "got a mesh" + why)));
  spec.inner_box = 0;
  EXPECT_TRUE(faults(spec).empty());
}

TEST(Mesh, IsKeptInBoxCoordinates) {
  const Built built = BuildWith(WithMesh());
  ASSERT_EQ(built.scene.particulars.size(), 1u);
  const OccluderMesh& mesh = built.scene.particulars[0].mesh;
  const std::array<std::array<float, 3>, 3> want = {{{-1, -1, -1}, {1, -1, -1}, {1, 1, 1}}};
  ASSERT_EQ(mesh.vertices.size(), 3u);
  for (size_t i = 0; i < 3; ++i) {
    // Sizes of 1.8 and 0.15 m are not floats: half an ulp each.
    for (size_t axis = 0; axis < 3; ++axis) EXPECT_NEAR(mesh.vertices[i][axis], want[i][axis], 2e-7);
  }
  EXPECT_THAT(mesh.triangles, ElementsAre(std::array<uint32_t, 3>{0, 1, 2}));
}

TEST(Mesh, OnACardLiesInItsPlane) {
  ObjectRow row = MakeRow("ada");
  row.box_min[2] = row.box_max[2] = 0.5;
  const std::vector<float> vertices = {-0.25f, 0, 0.5f, 0.25f, 0, 0.5f, 0.25f, 1.8f, 0.50001f};
  ParticularsSpec spec;
  spec.mesh = MeshSpec{vertices, kIndices};
  row.particulars = &spec;
  const Built built = Build({row});
  EXPECT_TRUE(built.violations.empty());
  for (const auto& vertex : built.scene.particulars[0].mesh.vertices) EXPECT_EQ(vertex[2], 0);
  const std::vector<float> off = {-0.25f, 0, 0.6f, 0.25f, 0, 0.5f, 0.25f, 1.8f, 0.5f};
  spec.mesh = MeshSpec{off, kIndices};
  EXPECT_THAT(Faults(Build({row})), ElementsAre(Fault("occluder.mesh.vertices_m[2]",
                                                      "got 0.6, want a place in the object's box, 0.5 to 0.5 m")));
}

TEST(Mesh, FaultsAreNamed) {
  ParticularsSpec spec = WithMesh();
  const std::vector<float> odd = {0, 0, 0, 1};
  spec.mesh->vertices_m = odd;
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.mesh.vertices_m", "got 4, want 3 numbers a vertex")));
  const std::vector<float> outside = {-0.25f, 0, -0.15f, 0.25f, 0, -0.15f, 0.25f, 2.5f, 0.15f};
  spec.mesh->vertices_m = outside;
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.mesh.vertices_m[7]",
                                                "got 2.5, want a place in the object's box, 0 to 1.8 m")));
  spec = WithMesh();
  const std::vector<uint32_t> two = {0, 1}, beyond = {0, 1, 3}, none;
  spec.mesh->triangles = two;
  EXPECT_THAT(FaultsOf(spec),
              ElementsAre(Fault("occluder.mesh.triangles", "got 2, want 3 indices a triangle, 1 to 65536 triangles")));
  spec.mesh->triangles = none;
  EXPECT_THAT(FaultsOf(spec),
              ElementsAre(Fault("occluder.mesh.triangles", "got 0, want 3 indices a triangle, 1 to 65536 triangles")));
  spec.mesh->triangles = beyond;
  EXPECT_THAT(FaultsOf(spec),
              ElementsAre(Fault("occluder.mesh.triangles[2]", "got 3, want an index below 3, the number of vertices")));
}

TEST(Mesh, VerticesOfTheWholeShotAreLimited) {
  SceneLimits limits;
  limits.mesh_vertices = 2;
  EXPECT_THAT(
      FaultsOf(WithMesh(), limits),
      ElementsAre(Fault("occluder.mesh.vertices_m", "got 3 vertices in the meshes so far, want at most 2 in a shot")));
}

TEST(Mesh, WithoutABoxIsRefused) {
  ObjectRow row = MakeRow("ada");
  row.transforms = {};
  row.box_min = row.box_max = {};
  const std::vector<MeasuredFigure> figures(24, {10, 10, 10});
  row.measured = figures;
  ParticularsSpec spec = WithMesh();
  spec.openings.push_back({});
  row.particulars = &spec;
  EXPECT_THAT(Faults(Build({row})),
              ElementsAre(Fault("occluder.mesh", "got a mesh without a box and its matrices, want both"),
                          Fault("openings", "got openings without a box and its matrices, want both")));
}

TEST(Openings, AreKeptInBoxCoordinatesAndMayStandProud) {
  ParticularsSpec spec;
  spec.openings.push_back({{-0.125, 0.9, 0}, {0.125, 1.8, 0.3}});
  const Built built = BuildWith(spec);
  EXPECT_TRUE(built.violations.empty());
  const Opening& opening = built.scene.particulars[0].openings[0];
  EXPECT_THAT(opening.min, ElementsAre(-0.5f, 0.0f, 0.0f));
  EXPECT_THAT(opening.max, ElementsAre(0.5f, 1.0f, 2.0f));
}

TEST(Openings, FaultsAreNamed) {
  ParticularsSpec spec;
  spec.openings.push_back({{0, 0.5, 0}, {0, 0.25, 0}});
  spec.openings.push_back({{0.5, 0, 0}, {0.75, 1, 0}});
  spec.openings.push_back({{0, 0, 0}, {0, 0, 1e300}});
  EXPECT_THAT(
      FaultsOf(spec),
      ElementsAre(Fault("openings[0].max_m.y", "got 0.25, want a number not below min_m (0.5)"),
                  Fault("openings[1]",
                        "got an opening from 0.5 to 0.75 m along x, want one that meets the object's box, -0.25 to "
                        "0.25 m"),
                  Fault("openings[2].max_m.z", "got 1e+300, want a number of metres within 1e+09 of 0")));
  SceneLimits limits;
  limits.openings = 2;
  EXPECT_THAT(FaultsOf(spec, limits), ElementsAre(Fault("openings", "got 3, want at most 2")));
}

TEST(IndirectSight, WithoutFramesIsInAllOfThem) {
  ParticularsSpec spec;
  spec.indirect.push_back({IndirectKind::kLight, {}});
  spec.indirect.push_back({IndirectKind::kShadow, {{1010, 1012}, {1005, 1006}, {1006, 1011}}});
  const Built built = BuildWith(spec);
  const auto& sights = built.scene.particulars[0].indirect;
  EXPECT_EQ(sights[0].frames, (FrameSpans{{1001, 1024}}));
  EXPECT_EQ(sights[1].frames, (FrameSpans{{1005, 1012}}));
}

TEST(FrameLists, OutsideTheShotAreRefused) {
  ParticularsSpec spec;
  spec.indirect.push_back({IndirectKind::kShadow, {{1000, 1002}}});
  spec.replaced = {{1005, 1004}, {1020, 1025}};
  spec.beats = {1024, 1025};
  EXPECT_THAT(FaultsOf(spec),
              ElementsAre(Fault("indirect[0].frames[0]", "got 1000 to 1002, want frames of the shot, 1001 to 1024"),
                          Fault("replaced[0]", "got 1005 to 1004, want last not below first"),
                          Fault("replaced[1]", "got 1020 to 1025, want frames of the shot, 1001 to 1024"),
                          Fault("beats[1]", "got 1025, want frames of the shot, 1001 to 1024")));
}

TEST(FrameLists, OfAnObjectTakeInTheShots) {
  ShotHeader header = MakeHeader();
  header.replaced = {{1003, 1004}};
  header.beats = {1010};
  ParticularsSpec spec;
  spec.replaced = {{1005, 1006}, {1020, 1020}};
  spec.beats = {1015, 1002, 1015};
  ObjectRow with = MakeRow("ada"), without = MakeRow("ben");
  with.particulars = &spec;
  const Built built = Build({with, without}, header);
  EXPECT_EQ(built.scene.replaced_of(0), (FrameSpans{{1003, 1006}, {1020, 1020}}));
  EXPECT_EQ(built.scene.replaced_of(1), (FrameSpans{{1003, 1004}}));
  EXPECT_THAT(built.scene.beats_of(0), ElementsAre(1002, 1010, 1015));
  EXPECT_THAT(built.scene.beats_of(1), ElementsAre(1010));
}

TEST(FrameLists, CountsAreLimited) {
  SceneLimits limits;
  limits.beats = 1;
  limits.indirect_sights = 1;
  ParticularsSpec spec;
  spec.indirect.resize(2);
  spec.beats = {1002, 1003};
  EXPECT_THAT(FaultsOf(spec, limits),
              ElementsAre(Fault("indirect", "got 2, want at most 1"), Fault("beats", "got 2, want at most 1")));
}

TEST(HoldGroup, IsInternedAndItsNameChecked) {
  ParticularsSpec spec;
  spec.hold_group = "reapers";
  ObjectRow ada = MakeRow("ada"), ben = MakeRow("ben");
  ada.particulars = ben.particulars = &spec;
  const Built built = Build({ada, ben});
  EXPECT_EQ(built.scene.hold_groups.size(), 1u);
  EXPECT_EQ(built.scene.hold_groups[0], "reapers");
  EXPECT_EQ(built.scene.particulars[1].hold_group, 0u);
  spec.hold_group = "a\nb";
  EXPECT_EQ(Faults(BuildWith(spec))[0].field, "objects[0].particulars.hold_group");
}

TEST(Masks, FaultsAreNamed) {
  ShotHeader header = MakeHeader();
  header.cameras[0].masks = {{0.5, 0, 0.5, 1, {}}, {0, -1, 1, 2, {}}, {0, 0.5, 1, 0.25, {{1, 2}}}};
  EXPECT_THAT(
      Faults(BuildHeader(header)),
      ElementsAre(Violation{"cameras[0].masks[0].right", "got 0.5, want a number above left (0.5)"},
                  Violation{"cameras[0].masks[1].top", "got -1, want a share of the picture, 0 to 1"},
                  Violation{"cameras[0].masks[1].bottom", "got 2, want a share of the picture, 0 to 1"},
                  Violation{"cameras[0].masks[2].bottom", "got 0.25, want a number above top (0.5)"},
                  Violation{"cameras[0].masks[2].frames[0]", "got 1 to 2, want frames of the shot, 1001 to 1024"}));
  SceneLimits limits;
  limits.masks = 2;
  EXPECT_THAT(Faults(BuildHeader(header, limits)), ElementsAre(Violation{"cameras[0].masks", "got 3, want at most 2"}));
}

TEST(Blocks, CarryInnerBoxesAndParticularsAsRowsDo) {
  BlockMaker block;
  block.Add("ada");
  block.Add("ben");
  block.Add("cy");
  block.inner_box = {0.5f, -1, 0};
  block.particular_of = {1};
  block.particulars.resize(1);
  block.particulars[0].beats = {1005};
  const Built built = BuildBlock(block);
  EXPECT_TRUE(built.violations.empty());
  EXPECT_THAT(built.scene.objects.inner_box, ElementsAre(0.5f, 0.0f, 0.0f));
  EXPECT_THAT(built.scene.objects.particulars, ElementsAre(kNone, 0u, kNone));
  EXPECT_EQ(built.scene.particulars[0].object, 1u);
}

TEST(Blocks, FaultsOfNewColumnsAreNamed) {
  BlockMaker block;
  block.Add("ada");
  block.Add("ben");
  block.inner_box = {2, std::nanf("")};
  EXPECT_THAT(
      Faults(BuildBlock(block)),
      ElementsAre(
          Violation{"blocks[0].inner_box[0]", "got 2, want a share of the box, 0 to 1, or below 0: its class's"},
          Violation{"blocks[0].inner_box[1]", "got nan, want a share of the box, 0 to 1, or below 0: its class's"}));
  block.inner_box = {1};
  EXPECT_THAT(Faults(BuildBlock(block)),
              ElementsAre(Violation{"blocks[0].inner_box", "got 1, want 2 (one per object) or none"}));
  block.inner_box.clear();
  block.particular_of = {1, 1, 2};
  block.particulars.resize(3);
  EXPECT_THAT(Faults(BuildBlock(block)),
              ElementsAre(Violation{"blocks[0].particulars[1].index", "got 1, want an index above the one before"},
                          Violation{"blocks[0].particulars[2].index", "got 2, want an index below 2 (objects)"}));
  block.particular_of = {1};
  block.particulars.resize(1);
  block.particulars[0].beats = {7};
  EXPECT_THAT(Faults(BuildBlock(block)), ElementsAre(Violation{"blocks[0].particulars[0].particulars.beats[0]",
                                                               "got 7, want frames of the shot, 1001 to 1024"}));
}

}  // namespace
}  // namespace scantling
