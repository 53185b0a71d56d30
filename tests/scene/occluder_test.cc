// What hides: every refusal in its words, and what is kept in box coordinates.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "tests/scene/block_maker.h"
#include "tests/scene/with_particulars.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

// In the plane z = 0 of a block's person, whose box is 0.5 x 1.75 x 0.25 m.
const std::vector<float> kCard = {-0.25f, 0, 0, 0.25f, 0, 0, 0, 1.75f, 0};

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
  const Built built = BuildWith(spec);
  EXPECT_THAT(Faults(built), ElementsAre(Fault("occluder.inner_box", "got nan, want a share of the box, 0 to 1")));
  EXPECT_THAT(built.scene.objects.inner_box, ElementsAre(0.0f));
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
  catalogue.classes[0].solidity = 0.5;  // exactly the least
  spec.inner_box = 0.9;
  EXPECT_TRUE(faults(spec).empty());
  EXPECT_TRUE(faults(WithMesh()).empty());
}

// Scene and faults of one person with a catalogue of one's own.
Built BuildIn(const ClassCatalogue& catalogue, const ObjectRow& row) {
  Built built;
  SceneBuilder builder(catalogue, {}, MakeHeader(), built.violations);
  builder.AddRow(row, "objects[0]");
  built.scene = builder.Finish();
  return built;
}

TEST(InnerBox, OfTheClassCountsForNothingWhereTheClassIsSeenThrough) {
  ClassCatalogue catalogue = MakeCatalogue();
  catalogue.classes[0].inner_box = 0.5;
  catalogue.classes[0].solidity = 0.499;
  EXPECT_THAT(BuildIn(catalogue, MakeRow("ada")).scene.objects.inner_box, ElementsAre(0.0f));
  catalogue.classes[0].solidity = 0.5;  // exactly occluder_least_solidity: solid enough
  EXPECT_THAT(BuildIn(catalogue, MakeRow("ada")).scene.objects.inner_box, ElementsAre(0.5f));
}

// Measured by the caller, in no place of the stage: there is nothing to hide by.
ObjectRow MeasuredRow(std::span<const MeasuredFigure> figures) {
  ObjectRow row = MakeRow("ada");
  row.transforms = {};
  row.box_min = row.box_max = {};
  row.measured = figures;
  return row;
}

TEST(InnerBox, WithoutABoxIsNone) {
  ClassCatalogue catalogue = MakeCatalogue();
  catalogue.classes[0].inner_box = 0.5;
  const std::vector<MeasuredFigure> figures(24, {10, 10, 10});
  ObjectRow row = MeasuredRow(figures);
  const Built of_class = BuildIn(catalogue, row);
  EXPECT_THAT(Faults(of_class), IsEmpty());
  EXPECT_THAT(of_class.scene.objects.inner_box, ElementsAre(0.0f));
  ParticularsSpec spec;
  spec.inner_box = 0.25;
  row.particulars = &spec;
  EXPECT_THAT(Faults(BuildIn(catalogue, row)),
              ElementsAre(Fault("occluder.inner_box", "got inner_box 0.25 without a box and its matrices, want both")));
  spec.inner_box = 0;
  EXPECT_THAT(Faults(BuildIn(catalogue, row)), IsEmpty());
}

TEST(InnerBox, OfABlocksColumnStandsBesideNoOccluder) {
  BlockMaker block;
  for (const char* id : {"ada", "ben", "cy", "dot"}) block.Add(id);
  block.inner_box = {0.5f, 0, -1, 0.25f};
  block.particular_of = {0, 1, 2, 3};
  block.particulars.resize(4);
  block.particulars[0].inner_box = 0.5;
  block.particulars[1].mesh = MeshSpec{kCard, kIndices};
  block.particulars[2].mesh = MeshSpec{kCard, kIndices};
  block.particulars[3].hold_group = "quay";
  EXPECT_THAT(
      Faults(BuildBlock(block)),
      ElementsAre(Violation{"blocks[0].inner_box[0]",
                            "got 0.5, want below 0 where there is blocks[0].particulars[0].particulars.occluder"},
                  Violation{"blocks[0].inner_box[1]",
                            "got 0, want below 0 where there is blocks[0].particulars[1].particulars.occluder"}));
  block.inner_box = {-1, -1, -1, 0.25f};
  const Built built = BuildBlock(block);
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_THAT(built.scene.objects.inner_box, ElementsAre(0.5f, 0.0f, 0.0f, 0.25f));
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

// The larger side of the card is 1.8 m: a ten thousandth of its half are 0.09 mm.
TEST(Mesh, OnACardLiesInItsPlane) {
  ObjectRow row = MakeRow("ada");
  row.box_min[2] = row.box_max[2] = 0.5;
  const std::vector<float> vertices = {-0.25f, 0, 0.5f, 0.25f, 0, 0.5f, 0.25f, 1.8f, 0.50005f};
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

TEST(Mesh, LikeFaultsAreNamedOnceAndCounted) {
  ParticularsSpec spec = WithMesh();
  const float nan = std::nanf(""), inf = std::numeric_limits<float>::infinity();
  const std::vector<float> stray = {0, nan, 0, inf, 0, 0, 0, -0.1f, 0};
  const std::vector<uint32_t> beyond = {0, 7, 1, 3, 2, 4'000'000'000};
  spec.mesh = MeshSpec{stray, beyond};
  EXPECT_THAT(
      FaultsOf(spec),
      ElementsAre(
          Fault("occluder.mesh.vertices_m[1]", "got nan (and 2 more), want a place in the object's box, 0 to 1.8 m"),
          Fault("occluder.mesh.triangles[1]", "got 7 (and 2 more), want an index below 3, the number of vertices")));
}

TEST(Mesh, SizesOfBothListsAreChecked) {
  ParticularsSpec spec = WithMesh();
  const std::vector<float> vertices(7, 0);
  const std::vector<uint32_t> triangles(3 * 65'537, 0);
  spec.mesh = MeshSpec{vertices, triangles};
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.mesh.vertices_m", "got 7, want 3 numbers a vertex"),
                                          Fault("occluder.mesh.triangles",
                                                "got 196611, want 3 indices a triangle, 1 to 65536 triangles")));
  spec = WithMesh();
  spec.mesh->triangles = std::span(triangles).first(3 * 65'536);
  EXPECT_THAT(FaultsOf(spec), IsEmpty());
  spec.mesh->vertices_m = {};
  spec.mesh->triangles = kIndices;
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.mesh.triangles[0]",
                                                "got 0 (and 2 more), want an index below 0, the number of vertices")));
}

TEST(Mesh, MayStickOutByATenThousandthOfItsHalfSizeAndIsPutOnTheFace) {
  // Half the height is 0.9 m, so 0.09 mm are let through.
  std::vector<float> vertices = kTriangle;
  vertices[7] = 1.80008f;
  ParticularsSpec spec = WithMesh();
  spec.mesh->vertices_m = vertices;
  const Built built = BuildWith(spec);
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.particulars[0].mesh.vertices[2][1], 1.0f);
  vertices[7] = 1.8001f;
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("occluder.mesh.vertices_m[7]",
                                                "got 1.8001, want a place in the object's box, 0 to 1.8 m")));
}

TEST(Mesh, AllMeshesOfTheShotAreLimitedTogether) {
  const ParticularsSpec spec = WithMesh();
  std::vector<ObjectRow> rows = {MakeRow("ada"), MakeRow("ben")};
  for (ObjectRow& row : rows) row.particulars = &spec;
  SceneLimits limits;
  limits.mesh_vertices = 5;
  limits.mesh_triangles = 1;
  EXPECT_THAT(Faults(Build(rows, MakeHeader(), limits)),
              ElementsAre(Violation{"objects[1].particulars.occluder.mesh.vertices_m",
                                    "got 6 vertices in the meshes so far, want at most 5 in a shot"},
                          Violation{"objects[1].particulars.occluder.mesh.triangles",
                                    "got 2 triangles in the meshes so far, want at most 1 in a shot"}));
  limits.mesh_vertices = 6;
  limits.mesh_triangles = 2;
  EXPECT_THAT(Faults(Build(rows, MakeHeader(), limits)), IsEmpty());
}

TEST(Mesh, OfAFaultyBoxIsNotBlamedToo) {
  ParticularsSpec spec = WithMesh();
  spec.openings.push_back({{0, 0, 0}, {0, 1, 0}});
  ObjectRow row = MakeRow("ada");
  row.particulars = &spec;
  row.box_max[1] = -1;
  EXPECT_THAT(Faults(Build({row})),
              ElementsAre(Violation{"objects[0].box.max_m.y", "got -1, want a number not below the box's min (0)"}));
  row = MakeRow("ada");
  row.particulars = &spec;
  row.transforms = row.transforms.first(8);
  EXPECT_EQ(Faults(Build({row})).size(), 1u);
  row.transforms = {};
  EXPECT_THAT(Faults(Build({row})),
              ElementsAre(Violation{"objects[0].transform.matrices",
                                    "got a box without a matrix, want one matrix or one per frame"}));
}

TEST(Mesh, WithoutABoxIsRefused) {
  const std::vector<MeasuredFigure> figures(24, {10, 10, 10});
  ObjectRow row = MeasuredRow(figures);
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
  limits.openings = 3;
  EXPECT_EQ(FaultsOf(spec, limits).size(), 3u);
  limits.openings = 2;
  EXPECT_THAT(FaultsOf(spec, limits), ElementsAre(Fault("openings", "got 3, want at most 2")));
}

TEST(Openings, AllFaultsOfOneAreNamed) {
  ParticularsSpec spec;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  spec.openings.push_back({{nan, 1, 0}, {0, 0.5, -1e10}});
  spec.openings.push_back({{-3, 3, 0}, {-2, 4, 0}});
  EXPECT_THAT(
      FaultsOf(spec),
      ElementsAre(
          Fault("openings[0].min_m.x", "got nan, want a number of metres within 1e+09 of 0"),
          Fault("openings[0].max_m.y", "got 0.5, want a number not below min_m (1)"),
          Fault("openings[0].max_m.z", "got -1e+10, want a number of metres within 1e+09 of 0"),
          Fault("openings[1]",
                "got an opening from -3 to -2 m along x, want one that meets the object's box, -0.25 to 0.25 m"),
          Fault("openings[1]",
                "got an opening from 3 to 4 m along y, want one that meets the object's box, 0 to 1.8 m")));
}

TEST(Openings, MeetTheBoxWhereTheyTouchIt) {
  ParticularsSpec spec;
  spec.openings.push_back({{0.25, 0, 0}, {0.5, 1, 0}});
  const Built built = BuildWith(spec);
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.particulars[0].openings[0].min[0], 1.0f);
  EXPECT_EQ(built.scene.particulars[0].openings[0].max[0], 2.0f);
}

TEST(Openings, MeetTheFloatBoxOfABlockThatWasRoundedInwards) {
  // The float next to 1.8 is 1.79999995: a flat opening at 1.8 m lies 48 nanometres above that box.
  BlockMaker block;
  block.Add("ada");
  block.boxes[4] = 1.8f;
  ASSERT_LT(static_cast<double>(1.8f), 1.8);
  block.particular_of = {0};
  block.particulars.resize(1);
  block.particulars[0].openings.push_back({{0, 1.8, 0}, {0, 1.8, 0}});
  EXPECT_THAT(Faults(BuildBlock(block)), IsEmpty());
}

TEST(Openings, OfACardLieInItsPlane) {
  ObjectRow row = MakeRow("ada");
  row.box_min[2] = row.box_max[2] = 0.5;
  ParticularsSpec spec;
  spec.openings.push_back({{0, 0.9, 0.25}, {0.25, 1.8, 1}});
  row.particulars = &spec;
  const Built built = Build({row});
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_THAT(built.scene.particulars[0].openings[0].min, ElementsAre(0.0f, 0.0f, 0.0f));
  EXPECT_THAT(built.scene.particulars[0].openings[0].max, ElementsAre(1.0f, 1.0f, 0.0f));
  spec.openings[0].max[2] = 0.25;  // before the card
  EXPECT_THAT(Faults(Build({row})),
              ElementsAre(Fault("openings[0]",
                                "got an opening from 0.25 to 0.25 m along z, want one that meets the object's box, "
                                "0.5 to 0.5 m")));
}

// Found by fuzzing: half of the thinnest box there is, 4.9e-324 m, is 0; of one of 1e-40 m, a metre is 2e40 away, which
// no float holds.
TEST(Openings, OfABoxAHairThickAreThoseOfACard) {
  for (const double thick : {5e-324, 1e-40, 1e-7}) {
    ObjectRow row = MakeRow("ada");
    row.box_min[2] = 0;
    row.box_max[2] = thick;
    ParticularsSpec spec;
    spec.openings.push_back({{0, 0.9, -1}, {0.25, 1.8, 1}});
    row.particulars = &spec;
    const Built built = Build({row});
    EXPECT_THAT(Faults(built), IsEmpty());
    EXPECT_THAT(built.scene.particulars[0].openings[0].max, ElementsAre(1.0f, 1.0f, 0.0f));
  }
  // A millionth of the larger half, 0.9 m, is 0.9 micrometres: from there on a box has a thickness. -1 m is then a
  // million half sizes of 1 micrometre and one before the middle.
  ObjectRow row = MakeRow("ada");
  row.box_min[2] = 0;
  row.box_max[2] = 2e-6;
  ParticularsSpec spec;
  spec.openings.push_back({{0, 0.9, -1}, {0.25, 1.8, 1}});
  row.particulars = &spec;
  EXPECT_EQ(Build({row}).scene.particulars[0].openings[0].min[2], -1'000'001.0f);
}

TEST(Openings, BeyondAThousandMillionHalfSizesAreRefused) {
  ParticularsSpec spec;
  spec.openings.push_back({{0, 0, 0}, {0.25, 1, 9e8}});
  spec.openings.push_back({{0, 0, -9e8}, {0.25, 1, 0}});
  const std::string want =
      " m along z, want one that ends within 1e+09 half sizes of the object's box, -0.15 to 0.15 m";
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("openings[0]", "got an opening from 0 to 9e+08" + want),
                                          Fault("openings[1]", "got an opening from -9e+08 to 0" + want)));
}

TEST(Openings, ThatCouldNotBeReadAreNotBlamedAgain) {
  ParticularsSpec spec;
  spec.openings.push_back({{5, 5, 5}, {0, 0, 0}, true});
  const Built built = BuildWith(spec);
  EXPECT_THAT(Faults(built), IsEmpty());  // the caller has reported it
  EXPECT_EQ(built.scene.objects.particulars[0], kNone);
}

TEST(Openings, OfTheWholeShotAreLimitedTogether) {
  ParticularsSpec spec;
  spec.openings.resize(2);
  std::vector<ObjectRow> rows = {MakeRow("ada"), MakeRow("ben")};
  for (ObjectRow& row : rows) row.particulars = &spec;
  SceneLimits limits;
  limits.all_openings = 3;
  EXPECT_THAT(
      Faults(Build(rows, MakeHeader(), limits)),
      ElementsAre(Violation{"objects[1].particulars.openings", "got 4 openings so far, want at most 3 in a shot"}));
}

}  // namespace
}  // namespace scantling
