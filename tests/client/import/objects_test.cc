// Objects of an import: boxes, ids, labels, instances, and what is left out.

#include "gmock/gmock.h"
#include "tests/client/import/build_gltf.h"

namespace scantling {
namespace {

using testing::Contains;

TEST(ImportObjects, BoxIsTheUnionOfThePrimitives) {
  GltfBuilder builder;
  const int a = builder.Mesh({0, 0, 0}, {1, 2, 1});
  builder.Mesh({-3, 0, 0}, {0, 1, 1});
  auto& meshes = builder.document["meshes"];
  meshes[a]["primitives"].push_back(meshes[1]["primitives"][0]);
  builder.Node({{"mesh", a}});
  const GltfImport got = Imported(builder);
  const v1::Box& box = got.shot.objects(0).box();
  EXPECT_EQ(box.min_m().x(), -3);
  EXPECT_EQ(box.max_m().x(), 1);
  EXPECT_EQ(box.max_m().y(), 2);
  EXPECT_EQ(got.counts.primitives, 3);
}

TEST(ImportObjects, WithoutMinAndMaxTheNumbersAreRead) {
  GltfBuilder builder;
  const int mesh = builder.Mesh({-1, 5, 2}, {4, 6, 3});
  builder.document["accessors"][0].erase("min");
  builder.Node({{"mesh", mesh}});
  const GltfImport got = Imported(builder);
  const v1::Box& box = got.shot.objects(0).box();
  EXPECT_EQ(box.min_m().x(), -1);
  EXPECT_EQ(box.max_m().y(), 6);
  EXPECT_EQ(box.max_m().z(), 3);
}

TEST(ImportObjects, GlbGivesTheSameShotAsGltf) {
  GltfBuilder builder;
  builder.Node({{"name", "a"}, {"mesh", builder.UnitCube()}});
  const auto glb = ImportGltfBytes(builder.Glb(), {});
  ASSERT_TRUE(glb.ok()) << glb.status().ToString();
  EXPECT_EQ(glb->shot.SerializeAsString(), Imported(builder).shot.SerializeAsString());
}

TEST(ImportObjects, IdsAreUniquePathsOfNames) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  const int first = builder.Node({{"name", "lamp"}, {"mesh", cube}});
  const int second = builder.Node({{"name", "lamp"}, {"mesh", cube}});
  const int nameless = builder.Node({{"mesh", cube}});
  builder.Node({{"name", "quay"}, {"children", {first, second, nameless}}});
  builder.Node({{"name", std::string(300, 'x')}, {"mesh", cube}});
  const GltfImport got = Imported(builder);
  ASSERT_EQ(got.shot.objects_size(), 4);
  EXPECT_EQ(got.shot.objects(0).id(), "quay/lamp");
  EXPECT_EQ(got.shot.objects(1).id(), "quay/lamp#2");
  EXPECT_EQ(got.shot.objects(2).id(), "quay/node_2");
  EXPECT_EQ(got.shot.objects(3).id(), "node_4");
}

TEST(ImportObjects, OnlyTheDefaultSceneIsImported) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  builder.Node({{"name", "a"}, {"mesh", cube}});
  builder.Node({{"name", "b"}, {"mesh", cube}});
  builder.document["scenes"] = {{{"nodes", {0}}}, {{"nodes", {1}}}};
  builder.document["scene"] = 1;
  const GltfImport got = Imported(builder);
  ASSERT_EQ(got.shot.objects_size(), 1);
  EXPECT_EQ(got.shot.objects(0).id(), "b");
}

TEST(ImportObjects, LabelsComeFromNodeThenMeshThenParent) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  builder.document["meshes"][cube]["name"] = "crate";
  builder.document["meshes"][cube]["extras"] = {{"class", "prop"}, {"importance", 2}};
  const int own = builder.Node({{"mesh", cube}, {"extras", {{"scantling_class", "cart"}, {"class", "person"}}}});
  const int plain = builder.Node({{"mesh", builder.UnitCube()}});
  builder.Node({{"children", {own, plain}}, {"extras", {{"class", "boat"}, {"asset", "punt"}, {"importance", 5}}}});
  const v1::Shot shot = Imported(builder).shot;
  EXPECT_EQ(shot.objects(0).class_name(), "cart");
  EXPECT_EQ(shot.objects(0).importance(), 2);
  EXPECT_EQ(shot.objects(0).asset_id(), "punt");
  EXPECT_EQ(shot.objects(1).class_name(), "boat");
  EXPECT_EQ(shot.objects(1).importance(), 5);
}

TEST(ImportObjects, AssetIsTheMeshAndAbsentClassTheDefault) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  builder.document["meshes"][cube]["name"] = "crate";
  builder.Node({{"mesh", cube}});
  builder.Node({{"mesh", builder.UnitCube()}});
  const GltfImport got = Imported(builder);
  EXPECT_EQ(got.shot.objects(0).asset_id(), "crate");
  EXPECT_EQ(got.shot.objects(1).asset_id(), "mesh_1");
  EXPECT_EQ(got.shot.objects(0).class_name(), "prop");
  EXPECT_FALSE(got.shot.objects(0).has_importance());
  EXPECT_THAT(got.warnings, Contains("no class given (2 objects); 'prop' is taken"));
}

TEST(ImportObjects, UnknownClassFallsToTheDefaultWithAWarning) {
  GltfBuilder builder;
  builder.Node({{"mesh", builder.UnitCube()}, {"extras", {{"class", "zeppelin"}}}});
  const GltfImport got = Imported(builder, {.default_class = "boat", .known_classes = {"boat", "person"}});
  EXPECT_EQ(got.shot.objects(0).class_name(), "boat");
  EXPECT_THAT(got.warnings, Contains("class 'zeppelin' is not known (1 object); 'boat' is taken"));
}

TEST(ImportObjects, ExtrasOfAWrongKindAreLeftOutWithAWarning) {
  GltfBuilder builder;
  builder.Node({{"mesh", builder.UnitCube()}, {"extras", {{"class", 5}, {"importance", -1}}}});
  const GltfImport got = Imported(builder);
  EXPECT_THAT(got.warnings, Contains("nodes[0].extras.class: is no string; left out"));
  EXPECT_THAT(got.warnings, Contains("nodes[0].extras.importance: is no number above 0; left out"));
}

TEST(ImportObjects, InnerBoxAndHoldGroupBecomeParticulars) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  const int own = builder.Node({{"mesh", cube}, {"extras", {{"inner_box", 0}, {"hold_group", "rowers"}}}});
  const int below = builder.Node({{"mesh", cube}});
  builder.Node({{"children", {own, below}}, {"extras", {{"scantling_inner_box", 0.75}}}});
  builder.Node({{"mesh", cube}});
  const v1::Shot shot = Imported(builder).shot;
  ASSERT_TRUE(shot.objects(0).particulars().occluder().has_inner_box());  // 0 is said, not left out
  EXPECT_EQ(shot.objects(0).particulars().occluder().inner_box(), 0);
  EXPECT_EQ(shot.objects(0).particulars().hold_group(), "rowers");
  EXPECT_EQ(shot.objects(1).particulars().occluder().inner_box(), 0.75);
  EXPECT_EQ(shot.objects(1).particulars().hold_group(), "");
  EXPECT_FALSE(shot.objects(2).has_particulars());
}

TEST(ImportObjects, BlocksHoldParticularsOfThoseThatHaveAny) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  builder.Node({{"mesh", cube}});
  builder.Node({{"mesh", cube}, {"extras", {{"inner_box", 0.5}}}});
  builder.Node({{"mesh", cube}, {"extras", {{"hold_group", "rowers"}}}});
  const v1::ObjectBlock block = Imported(builder, {.blocks = true}).shot.blocks(0);
  ASSERT_EQ(block.particulars_size(), 2);
  EXPECT_EQ(block.particulars(0).index(), 1u);
  EXPECT_EQ(block.particulars(0).particulars().occluder().inner_box(), 0.5);
  EXPECT_EQ(block.particulars(1).index(), 2u);
  EXPECT_EQ(block.particulars(1).particulars().hold_group(), "rowers");
  EXPECT_FALSE(block.particulars(1).particulars().has_occluder());
  EXPECT_EQ(block.inner_box_size(), 0);  // a column beside an occluder would be refused
}

TEST(ImportObjects, InnerBoxOutsideZeroToOneIsLeftOutWithAWarning) {
  GltfBuilder builder;
  builder.Node({{"mesh", builder.UnitCube()}, {"extras", {{"inner_box", 1.5}, {"hold_group", 3}}}});
  builder.Node({{"mesh", builder.UnitCube()}, {"extras", {{"inner_box", "solid"}}}});
  const GltfImport got = Imported(builder);
  EXPECT_FALSE(got.shot.objects(0).has_particulars());
  EXPECT_FALSE(got.shot.objects(1).has_particulars());
  EXPECT_THAT(got.warnings, Contains("nodes[0].extras.inner_box: is no number from 0 to 1; left out"));
  EXPECT_THAT(got.warnings, Contains("nodes[0].extras.hold_group: is no string; left out"));
  EXPECT_THAT(got.warnings, Contains("nodes[1].extras.inner_box: is no number from 0 to 1; left out"));
}

TEST(ImportObjects, WhatCoversNothingIsLeftOutAndCounted) {
  GltfBuilder builder;
  builder.Node({{"name", "empty"}});
  builder.Node({{"name", "line"}, {"mesh", builder.Mesh({0, 0, 0}, {1, 0, 0})}});
  builder.Node({{"name", "card"}, {"mesh", builder.Mesh({0, 0, 0}, {1, 1, 0})}});
  builder.Node({{"name", "flat"}, {"mesh", builder.UnitCube()}, {"scale", {1, 0, 1}}});
  const GltfImport got = Imported(builder);
  ASSERT_EQ(got.shot.objects_size(), 1);
  EXPECT_EQ(got.shot.objects(0).id(), "card");
  EXPECT_EQ(got.counts.without_mesh, 1);
  EXPECT_EQ(got.counts.without_extent, 2);
  EXPECT_EQ(got.counts.objects, 1);
}

json Instancing(int translation, int rotation, int scale) {
  json attributes;
  if (translation >= 0) attributes["TRANSLATION"] = translation;
  if (rotation >= 0) attributes["ROTATION"] = rotation;
  if (scale >= 0) attributes["SCALE"] = scale;
  return {{"EXT_mesh_gpu_instancing", {{"attributes", attributes}}}};
}

// Node at x = 10; instance 1 at (0, 0, 4), half a turn about Y, scale 2: its x axis becomes (-2, 0, 0).
TEST(ImportObjects, EveryInstanceIsAnObjectPlacedWithinItsNode) {
  GltfBuilder builder;
  const int translation = builder.Floats({1, 0, 0, 0, 0, 4}, "VEC3");
  const int rotation = builder.Shorts({0, 0, 0, 32767, 0, 32767, 0, 0}, "VEC4");
  const int scale = builder.Floats({1, 1, 1, 2, 2, 2}, "VEC3");
  builder.Node({{"name", "reeds"},
                {"mesh", builder.UnitCube()},
                {"translation", {10, 0, 0}},
                {"extensions", Instancing(translation, rotation, scale)}});
  const GltfImport got = Imported(builder);
  ASSERT_EQ(got.shot.objects_size(), 2);
  EXPECT_EQ(got.counts.instances, 2);
  EXPECT_EQ(got.shot.objects(0).id(), "reeds[0]");
  EXPECT_EQ(got.shot.objects(0).transform().matrices(12), 11);
  EXPECT_EQ(got.shot.objects(1).id(), "reeds[1]");
  EXPECT_EQ(got.shot.objects(1).asset_id(), got.shot.objects(0).asset_id());
  const auto& m = got.shot.objects(1).transform().matrices();
  EXPECT_NEAR(m[0], -2, 1e-12);  // products of exact ones and zeros
  EXPECT_EQ(m[12], 10);
  EXPECT_EQ(m[14], 4);
}

TEST(ImportObjects, BlocksHoldTheSameObjectsAsRows) {
  GltfBuilder builder;
  const int translation = builder.Floats({1, 0, 0, 0, 0, 4}, "VEC3");
  builder.Node({{"name", "reeds"},
                {"mesh", builder.UnitCube()},
                {"extras", {{"class", "prop"}, {"importance", 3}}},
                {"extensions", Instancing(translation, -1, -1)}});
  const GltfImport got = Imported(builder, {.blocks = true});
  ASSERT_EQ(got.shot.blocks_size(), 1);
  const v1::ObjectBlock& block = got.shot.blocks(0);
  EXPECT_EQ(block.id_blob(), "reeds[0]reeds[1]");
  EXPECT_THAT(block.id_lengths(), testing::ElementsAre(8, 8));
  EXPECT_THAT(block.class_of(), testing::ElementsAre(0, 0));
  EXPECT_EQ(block.class_names(0), "prop");
  EXPECT_THAT(block.asset_of(), testing::ElementsAre(1, 1));
  EXPECT_THAT(block.importance(), testing::ElementsAre(3, 3));
  EXPECT_THAT(block.poses(), testing::ElementsAre(1, 1));
  EXPECT_THAT(block.translation_m(), testing::ElementsAre(1, 0, 0, 0, 0, 4));
  EXPECT_THAT(block.linear(), testing::ElementsAre(1, 0, 0, 0, 1, 0, 0, 0, 1, 1, 0, 0, 0, 1, 0, 0, 0, 1));
  EXPECT_THAT(block.boxes_m(), testing::ElementsAre(0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 1, 1));
}

TEST(ImportObjects, SkinsMorphsAndExtensionsNotReadAreTold) {
  GltfBuilder builder;
  const int cube = builder.UnitCube();
  builder.document["meshes"][cube]["primitives"][0]["targets"] = {{{"POSITION", 0}}};
  builder.document["extensionsRequired"] = {"EXT_something"};
  builder.document["skins"] = {{{"joints", {0}}}};
  builder.Node({{"mesh", cube}, {"skin", 0}});
  const std::vector<std::string> warnings = Imported(builder).warnings;
  EXPECT_THAT(warnings, Contains("1 skinned nodes: boxes are those of the rest pose"));
  EXPECT_THAT(warnings, Contains("1 meshes with morph targets: boxes are those of the rest pose"));
  EXPECT_THAT(warnings, Contains("the file requires EXT_something, which is not read"));
}

}  // namespace
}  // namespace scantling
