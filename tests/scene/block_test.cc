#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>
#include <limits>

#include "tests/scene/block_maker.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

// Three good objects "a", "bb", "ccc", spoilt.
std::vector<Violation> FaultsWith(const std::function<void(BlockMaker&)>& spoil) {
  BlockMaker block;
  block.Add("a");
  block.Add("bb");
  block.Add("ccc");
  spoil(block);
  return Faults(BuildBlock(block));
}

TEST(SceneBlocks, GoodBlocksHaveNoFault) {
  EXPECT_THAT(FaultsWith([](BlockMaker&) {}), IsEmpty());
  EXPECT_THAT(Faults(BuildBlock({})), IsEmpty());
}

TEST(SceneBlocks, TablesAreResolved) {
  BlockMaker block;
  block.Add("a");
  block.Add("bb");
  block.asset_names = {"unused", "rig"};
  block.asset_of = {2, 0};
  block.container_ids = {"a"};
  block.container_of = {0, 1};
  block.colour = {0x01102030, 0};
  block.importance = {2.5f, 0};
  const Built built = BuildBlock(block);
  ASSERT_THAT(Faults(built), IsEmpty());
  const Objects& objects = built.scene.objects;
  EXPECT_EQ(built.scene.assets.size(), 1u);
  EXPECT_EQ(built.scene.assets[objects.asset[0]], "rig");
  EXPECT_EQ(objects.asset[1], kNone);
  EXPECT_THAT(objects.container, ElementsAre(kNone, 0u));
  EXPECT_THAT(objects.colour[0], ElementsAre(0x10, 0x20, 0x30, 1));
  EXPECT_EQ(objects.colour[1][3], 0);
  EXPECT_THAT(objects.importance, ElementsAre(2.5f, 1.0f));
}

TEST(SceneBlocks, EveryColumnMustHaveItsSize) {
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.class_of.pop_back();
                b.asset_of = {0};
                b.container_of = {0};
                b.importance = {1};
                b.complexity = {1};
                b.colour = {0};
                b.poses = {1};
                b.boxes.pop_back();
                b.id_blob += "x";
                b.linear.pop_back();
                b.translation.push_back(0);
              }),
              ElementsAre(Violation{"blocks[0].class_of", "got 2, want 3 (one per object)"},
                          Violation{"blocks[0].asset_of", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].container_of", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].importance", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].complexity", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].colour", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].poses", "got 1, want 3 (one per object) or none"},
                          Violation{"blocks[0].boxes_m", "got 17, want 6 for each of 3 objects"},
                          Violation{"blocks[0].id_blob", "got 7, want 6 bytes (the sum of id_lengths)"},
                          Violation{"blocks[0].linear", "got 26, want 9 for each of 3 poses"},
                          Violation{"blocks[0].translation_m", "got 10, want 3 for each of 3 poses"}));
}

TEST(SceneBlocks, HugeClaimedLengthsOverflowNothing) {
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.id_lengths = {0xffffffffu, 0xffffffffu, 8};
              }),
              ElementsAre(Violation{"blocks[0].id_blob", "got 6, want 8589934598 bytes (the sum of id_lengths)"}));
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.poses = {0xffffffffu, 1, 0};
              }),
              ElementsAre(Violation{"blocks[0].poses[0]", "got 4294967295, want 1 or 24"},
                          Violation{"blocks[0].poses[2]", "got 0, want 1 or 24"},
                          Violation{"blocks[0].linear", "got 27, want 9 for each of 4294967296 poses"},
                          Violation{"blocks[0].translation_m", "got 9, want 3 for each of 4294967296 poses"}));
}

TEST(SceneBlocks, AnUnreadableBlockBlamesNobodyElse) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  BlockMaker block;
  block.Add("ferry");
  block.class_of.clear();
  ObjectRow row = MakeRow("rower");
  row.container = "ferry";
  ShotHeader header = MakeHeader();
  header.directives.emplace_back();
  header.directives[0].target = "ferry";
  Violations violations;
  SceneBuilder builder(catalogue, {}, header, violations);
  builder.AddInterest({"ferry", 0.5, 0.5, std::nullopt}, "interest[0]");
  builder.AddBlock(block.View(), "blocks[0]");
  builder.AddRow(row, "objects[0]");
  builder.Finish();
  EXPECT_THAT(violations.listed(), ElementsAre(Violation{"blocks[0].class_of", "got 0, want 1 (one per object)"}));
}

TEST(SceneBlocks, IdsAreChecked) {
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.id_blob = "abb\xFF.";
                b.id_lengths = {1, 2, 2};
                b.Add("");
                b.Add("bb");
              }),
              ElementsAre(Violation{"blocks[0].id_lengths[2]", "got \"\\xff.\", want UTF-8 text (byte 0 is 0xff)"},
                          Violation{"blocks[0].id_lengths[3]", "got nothing, want a name of 1 to 1024 bytes"},
                          Violation{"blocks[0].id_lengths[4]",
                                    "got \"bb\", already used at blocks[0].id_lengths[1], "
                                    "want ids that are unique in the shot"}));
}

TEST(SceneBlocks, TableNumbersMustBeInTheTable) {
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.class_of[0] = 3;
                b.asset_names = {"rig"};
                b.asset_of = {0, 2, 0};
                b.container_of = {0, 0, 0xffffffffu};
              }),
              ElementsAre(Violation{"blocks[0].class_of[0]", "got 3, want an index below 3 (class_names)"},
                          Violation{"blocks[0].asset_of[1]", "got 2, want 0 (none) to 1 (1 + index into asset_ids)"},
                          Violation{"blocks[0].container_of[2]",
                                    "got 4294967295, want 0 (none) to 0 (1 + index into container_ids)"}));
}

TEST(SceneBlocks, TableNamesAreCheckedOnce) {
  EXPECT_THAT(
      FaultsWith([](BlockMaker& b) {
        b.class_names = {"persn"};
        b.asset_names = {"\x01", ""};
        b.asset_of = {1, 1, 2};
        b.container_ids = {"ghost"};
        b.container_of = {1, 0, 1};
      }),
      ElementsAre(
          Violation{"blocks[0].class_names[0]", "got \"persn\", want a class of the catalogue (nearest: \"person\")"},
          Violation{"blocks[0].asset_ids[0]", "got \"\\x01\", want text without control characters (byte 0 is 0x01)"},
          Violation{"blocks[0].asset_ids[1]", "got nothing, want a name of 1 to 1024 bytes"},
          Violation{"blocks[0].container_of[0]", "got \"ghost\", want the id of an object of the shot"},
          Violation{"blocks[0].container_of[2]", "got \"ghost\", want the id of an object of the shot"}));
}

TEST(SceneBlocks, ColoursAreMarkedAsGiven) {
  EXPECT_THAT(FaultsWith([](BlockMaker& b) {
                b.colour = {0x00102030, 0x02000000, 0x01ffffff};
              }),
              ElementsAre(Violation{"blocks[0].colour[0]", "got 0x00102030, want 0 (not given) or 0x01RRGGBB"},
                          Violation{"blocks[0].colour[1]", "got 0x02000000, want 0 (not given) or 0x01RRGGBB"}));
}

TEST(SceneBlocks, NumbersNameTheirPlaceInTheColumn) {
  EXPECT_THAT(
      FaultsWith([](BlockMaker& b) {
        b.boxes[6 + 4] = kNan;
        b.linear[2 * 9 + 3] = kNan;
        b.translation[2 * 3 + 1] = 1e10;
        b.importance = {-1, 0, 1};
        b.complexity = {0, kNan, 1};
      }),
      ElementsAre(Violation{"blocks[0].importance[0]", "got -1, want a number above 0 (1e-06 to 1e+06)"},
                  Violation{"blocks[0].boxes_m[10]", "got nan, want a number of metres within 1e+09 of 0"},
                  Violation{"blocks[0].complexity[1]", "got nan, want a number above 0 (1e-06 to 1e+06)"},
                  Violation{"blocks[0].linear[21]", "got nan, want a number within 1e+30 of 0"},
                  Violation{"blocks[0].translation_m[7]", "got 1e+10, want a number of metres within 1e+09 of 0"}));
}

TEST(SceneBlocks, BoxesAndMatricesAreChecked) {
  EXPECT_THAT(
      FaultsWith([](BlockMaker& b) {
        b.boxes[1] = 3;
        b.boxes[6 + 3] = b.boxes[6 + 0];
        b.boxes[6 + 4] = b.boxes[6 + 1];
        for (int i = 0; i < 3; ++i) b.linear[2 * 9 + i] = 0;
      }),
      ElementsAre(
          Violation{"blocks[0].boxes_m[4]", "got 1.75, want a number not below the box's min (3)"},
          Violation{"blocks[0].boxes_m[6]", "got 0 x 0 x 0.25 m, want a box thicker than 0 on at least two axes"},
          Violation{"blocks[0].linear[18]", "got a singular matrix (relative determinant 0), want at least 1e-06"}));
}

TEST(SceneBlocks, TooManyObjectsNamesTheLimit) {
  BlockMaker block;
  block.Add("a");
  block.Add("b");
  SceneLimits limits;
  limits.objects = 1;
  EXPECT_THAT(Faults(BuildBlock(block, MakeHeader(), limits)),
              ElementsAre(Violation{"objects", "got 2, want at most 1"}));
}

TEST(SceneBlocks, CyclesAcrossRowsAndBlocksNameTheFirstPlace) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  BlockMaker block;
  block.Add("held");
  block.container_ids = {"holder"};
  block.container_of = {1};
  ObjectRow row = MakeRow("holder");
  row.container = "held";
  Violations violations;
  SceneBuilder builder(catalogue, {}, MakeHeader(), violations);
  builder.AddBlock(block.View(), "blocks[4]");
  builder.AddRow(row, "objects[0]");
  builder.Finish();
  EXPECT_THAT(
      violations.listed(),
      ElementsAre(Violation{"blocks[4].container_of[0]",
                            "got a cycle of containers: \"held\" in \"holder\" in \"held\" (2 objects), want no "
                            "object that holds itself"}));
}

TEST(SceneBlocks, FaultsOfAMillionAreCounted) {
  BlockMaker block;
  for (int i = 0; i < 100'000; ++i) block.Add("same");
  const Built built = BuildBlock(block);
  EXPECT_EQ(built.violations.count(), 99'999u);
  EXPECT_THAT(Faults(built), SizeIs(10'000));
}

}  // namespace
}  // namespace scantling
