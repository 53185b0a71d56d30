// Crowds: who is a member, and every refusal in its words.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <random>
#include <set>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

CrowdSpec Named(std::string name) {
  CrowdSpec crowd;
  crowd.name = std::move(name);
  return crowd;
}

// A person in a dwelling, a person and a vehicle of one asset outside.
std::vector<ObjectRow> Quay() {
  std::vector<ObjectRow> rows = {MakeRow("house"), MakeRow("ada"), MakeRow("bo"), MakeRow("cart")};
  rows[0].class_name = "dwelling";
  rows[1].container = "house";
  rows[2].asset = rows[3].asset = "extra";
  rows[3].class_name = "vehicle";
  return rows;
}

Built WithCrowds(std::vector<CrowdSpec> crowds, SceneLimits limits = {}) {
  ShotHeader header = MakeHeader();
  header.crowds = std::move(crowds);
  return Build(Quay(), header, limits);
}

std::vector<Violation> FaultsOf(const CrowdSpec& crowd, SceneLimits limits = {}) {
  return Faults(WithCrowds({crowd}, limits));
}

CrowdSpec Good() {
  CrowdSpec crowd = Named("market");
  crowd.class_names = {"person"};
  return crowd;
}

TEST(SceneCrowds, FiguresAreKeptAsSent) {
  CrowdSpec crowd = Good();
  crowd.keep_share = 0.5;
  crowd.columns = 8;
  crowd.rows = 8;
  crowd.least_covered_share = 1;
  const Built built = WithCrowds({crowd, Good()});
  EXPECT_THAT(Faults(built),
              ElementsAre(Violation{"crowds[1].name", "got \"market\", want a name that no other crowd has"}));
  ASSERT_EQ(built.scene.crowds.size(), 2u);
  const Crowd& kept = built.scene.crowds[0];
  EXPECT_EQ(kept.name, "market");
  EXPECT_EQ(kept.keep_share, 0.5);
  EXPECT_EQ(kept.columns, 8);
  EXPECT_EQ(kept.rows, 8);
  EXPECT_EQ(kept.least_covered_share, 1);
  EXPECT_EQ(built.scene.crowds[1].keep_share, 0);
  EXPECT_EQ(built.scene.crowds[1].columns, 0);
}

TEST(SceneCrowds, MembersAreWhatAnyNameStandsForOnceAndRising) {
  CrowdSpec all = Named("all"), by_object = Named("object"), by_asset = Named("asset"), by_class = Named("class"),
            by_container = Named("container");
  by_object.object_ids = {"cart", "ada", "cart"};
  by_asset.asset_ids = {"extra"};
  by_class.class_names = {"person"};
  by_container.container_ids = {"house"};
  all.object_ids = {"bo"};
  all.asset_ids = {"extra"};
  all.class_names = {"vehicle"};
  all.container_ids = {"house"};
  const Built built = WithCrowds({by_object, by_asset, by_class, by_container, all});
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_THAT(built.scene.crowds[0].members, ElementsAre(1, 3));
  EXPECT_THAT(built.scene.crowds[1].members, ElementsAre(2, 3));
  EXPECT_THAT(built.scene.crowds[2].members, ElementsAre(1, 2));
  EXPECT_THAT(built.scene.crowds[3].members, ElementsAre(1));
  EXPECT_THAT(built.scene.crowds[4].members, ElementsAre(1, 2, 3));
}

TEST(SceneCrowds, OnlyWhatStandsDirectlyInAContainerIsNamedByIt) {
  std::vector<ObjectRow> rows = {MakeRow("ferry"), MakeRow("cabin"), MakeRow("ada")};
  rows[1].container = "ferry";
  rows[2].container = "cabin";
  ShotHeader header = MakeHeader();
  header.crowds = {Named("deck")};
  header.crowds[0].container_ids = {"ferry"};
  EXPECT_THAT(Build(rows, header).scene.crowds[0].members, ElementsAre(1));
}

TEST(SceneCrowds, NamesMustBeGivenPlainAndUnique) {
  CrowdSpec nameless = Good(), lengthy = Good(), second = Good();
  nameless.name = "";
  lengthy.name = std::string(1025, 'n');
  EXPECT_THAT(Faults(WithCrowds({nameless, lengthy, Good(), second})),
              ElementsAre(Violation{"crowds[0].name", "got nothing, want a name of 1 to 1024 bytes"},
                          Violation{"crowds[1].name", "got 1025, want at most 1024 bytes"},
                          Violation{"crowds[3].name", "got \"market\", want a name that no other crowd has"}));
  EXPECT_THAT(FaultsOf(Named("nobody")),
              ElementsAre(Violation{
                  "crowds[0]", "got no names of members, want object_ids, asset_ids, class_names or container_ids"}));
}

TEST(SceneCrowds, NamesThatStandForNothingAreRefused) {
  CrowdSpec crowd = Good();
  crowd.object_ids = {"ada", "ghost"};
  crowd.asset_ids = {"extra", "extra", "ghost_rig"};
  crowd.class_names = {"person", "preson"};
  crowd.container_ids = {"house", "ada", "hall"};
  EXPECT_THAT(
      FaultsOf(crowd),
      ElementsAre(
          Violation{"crowds[0].class_names[1]", "got \"preson\", want a class of the catalogue (nearest: \"person\")"},
          Violation{"crowds[0].object_ids[1]", "got \"ghost\", want the id of an object of the shot"},
          Violation{"crowds[0].asset_ids[2]", "got \"ghost_rig\", want an asset that an object of the shot names"},
          Violation{"crowds[0].container_ids[1]", "got \"ada\", want the id of an object that holds others"},
          Violation{"crowds[0].container_ids[2]", "got \"hall\", want the id of an object that holds others"}));
}

TEST(SceneCrowds, AClassOfTheCatalogueThatNothingIsOfIsRefused) {
  ShotHeader header = MakeHeader();
  header.crowds = {Good()};
  header.crowds[0].class_names = {"vehicle", "person"};
  EXPECT_THAT(
      Faults(Build({MakeRow("ada")}, header)),
      ElementsAre(Violation{"crowds[0].class_names[0]", "got \"vehicle\", want the class of an object of the shot"}));
}

TEST(SceneCrowds, UnreadableNamesAreReportedOnce) {
  CrowdSpec crowd = Good();
  crowd.object_ids = {""};
  crowd.asset_ids = {"\xFF"};
  crowd.container_ids = {"a\x02"};
  EXPECT_THAT(FaultsOf(crowd),
              ElementsAre(Violation{"crowds[0].object_ids[0]", "got nothing, want a name of 1 to 1024 bytes"},
                          Violation{"crowds[0].asset_ids[0]", "got \"\\xff\", want UTF-8 text (byte 0 is 0xff)"},
                          Violation{"crowds[0].container_ids[0]",
                                    "got \"a\\x02\", want text without control characters (byte 1 is 0x02)"}));
}

TEST(SceneCrowds, FaultyObjectsMakeNoFaultsOfCrowds) {
  std::vector<ObjectRow> rows = Quay();
  rows[2].class_name = "preson";
  rows[3].box_max[0] = -9;
  ShotHeader header = MakeHeader();
  header.crowds = {Good()};
  header.crowds[0].class_names = {"vehicle", "person"};
  header.crowds[0].object_ids = {"bo", "cart"};
  rows[1].class_name = "dwelling";  // no good person is left
  for (const Violation& fault : Faults(Build(rows, header))) EXPECT_THAT(fault.field, testing::StartsWith("objects["));
  SceneLimits limits;
  limits.objects = 1;  // what is named may be among what was not read
  EXPECT_THAT(Faults(Build(Quay(), header, limits)), ElementsAre(Violation{"objects", "got 4, want at most 1"}));
}

TEST(SceneCrowds, SharesLieFromNoughtToOne) {
  CrowdSpec crowd = Good();
  crowd.columns = crowd.rows = 1;
  crowd.keep_share = 0;
  crowd.least_covered_share = 1;
  EXPECT_THAT(FaultsOf(crowd), IsEmpty());
  crowd.keep_share = -0.1;
  crowd.least_covered_share = 1.5;
  EXPECT_THAT(FaultsOf(crowd),
              ElementsAre(Violation{"crowds[0].keep_share", "got -0.1, want a share from 0 to 1"},
                          Violation{"crowds[0].least_covered_share", "got 1.5, want a share from 0 to 1"}));
  crowd.keep_share = std::numeric_limits<double>::quiet_NaN();
  crowd.least_covered_share = std::numeric_limits<double>::infinity();
  EXPECT_THAT(FaultsOf(crowd),
              ElementsAre(Violation{"crowds[0].keep_share", "got nan, want a share from 0 to 1"},
                          Violation{"crowds[0].least_covered_share", "got inf, want a share from 0 to 1"}));
}

std::vector<Violation> WithCells(int32_t columns, int32_t rows, std::optional<double> share = std::nullopt) {
  CrowdSpec crowd = Good();
  crowd.columns = columns;
  crowd.rows = rows;
  crowd.least_covered_share = share;
  return FaultsOf(crowd);
}

TEST(SceneCrowds, CellsAreBothGivenAndAtMostSixtyFour) {
  EXPECT_THAT(WithCells(64, 1, 0.5), IsEmpty());
  EXPECT_THAT(WithCells(8, 8), IsEmpty());
  EXPECT_THAT(WithCells(9, 8),
              ElementsAre(Violation{"crowds[0].cell_columns", "got 9 x 8 (72 cells), want at most 64 cells"}));
  EXPECT_THAT(WithCells(65, -1), ElementsAre(Violation{"crowds[0].cell_columns", "got 65, want 0 to 64"},
                                             Violation{"crowds[0].cell_rows", "got -1, want 0 to 64"}));
  const char* both = "got 0, want both numbers of cells above 0, or neither";
  EXPECT_THAT(WithCells(3, 0, 0.5), ElementsAre(Violation{"crowds[0].cell_rows", both}));
  EXPECT_THAT(WithCells(0, 3), ElementsAre(Violation{"crowds[0].cell_columns", both}));
  const int32_t most = std::numeric_limits<int32_t>::max();
  EXPECT_THAT(WithCells(most, most), ElementsAre(Violation{"crowds[0].cell_columns", "got 2147483647, want 0 to 64"},
                                                 Violation{"crowds[0].cell_rows", "got 2147483647, want 0 to 64"}));
}

TEST(SceneCrowds, AShareOfCellsWantsCells) {
  EXPECT_THAT(WithCells(0, 0, 0.5), ElementsAre(Violation{"crowds[0].least_covered_share",
                                                          "got 0.5, want cell_columns and cell_rows beside it"}));
}

TEST(SceneCrowds, NumbersOfCrowdsNamesAndMembersAreLimited) {
  std::vector<CrowdSpec> many;
  for (size_t i = 0; i < 64; ++i) {
    many.push_back(Good());
    many[i].name = Numbered("c", i);
  }
  EXPECT_THAT(Faults(WithCrowds(many)), IsEmpty());
  SceneLimits limits;
  limits.crowd_names = 63;
  EXPECT_THAT(Faults(WithCrowds(many, limits)),
              ElementsAre(Violation{"crowds", "got 64, want at most 63 names of members"}));
  limits = {};
  limits.crowd_members = 127;
  EXPECT_THAT(Faults(WithCrowds(many, limits)),
              ElementsAre(Violation{"crowds", "got 128, want at most 127 members of all crowds"}));
  many.push_back(Good());
  EXPECT_THAT(Faults(WithCrowds(many)), ElementsAre(Violation{"crowds", "got 65, want at most 64"}));
}

// Against asking every object of every crowd by its names.
TEST(SceneCrowds, AgreeWithThePlainDefinition) {
  std::mt19937 random(11);
  const std::vector<std::string> assets = {"", "a", "b", "c"}, classes = {"person", "vehicle", "dwelling"};
  for (int round = 0; round < 100; ++round) {
    std::vector<std::string> ids;
    for (size_t i = 0; i < 12; ++i) ids.push_back(Numbered("o", i));
    std::vector<ObjectRow> rows;
    for (size_t i = 0; i < ids.size(); ++i) {
      rows.push_back(MakeRow(ids[i]));
      rows[i].asset = assets[random() % 4];
      rows[i].class_name = classes[random() % 3];
      if (i > 0 && random() % 2 == 0) rows[i].container = ids[random() % i];
    }
    ShotHeader header = MakeHeader();
    for (size_t c = 0; c < 5; ++c) {
      CrowdSpec crowd = Named(Numbered("c", c));
      const ObjectRow& one = rows[random() % rows.size()];
      crowd.object_ids = {std::string(rows[random() % rows.size()].id)};
      if (!one.asset.empty() && random() % 2 == 0) crowd.asset_ids = {std::string(one.asset)};
      if (!one.container.empty() && random() % 2 == 0) crowd.container_ids = {std::string(one.container)};
      if (random() % 3 == 0) crowd.class_names = {std::string(one.class_name)};
      header.crowds.push_back(crowd);
    }
    const Built built = Build(rows, header);
    ASSERT_THAT(Faults(built), IsEmpty());
    for (size_t c = 0; c < 5; ++c) {
      const auto has = [](const std::vector<std::string>& names, std::string_view name) {
        return std::find(names.begin(), names.end(), name) != names.end();
      };
      std::vector<uint32_t> want;
      for (uint32_t row = 0; row < rows.size(); ++row) {
        const CrowdSpec& crowd = header.crowds[c];
        if (has(crowd.object_ids, rows[row].id) || has(crowd.asset_ids, rows[row].asset) ||
            has(crowd.class_names, rows[row].class_name) || has(crowd.container_ids, rows[row].container)) {
          want.push_back(row);
        }
      }
      EXPECT_EQ(built.scene.crowds[c].members, want) << round << " " << c;
    }
  }
}

TEST(SceneCrowds, OrderOfSendingChangesNoMember) {
  std::vector<ObjectRow> rows = Quay();
  ShotHeader header = MakeHeader();
  header.crowds = {Good()};
  header.crowds[0].container_ids = {"house"};
  header.crowds[0].asset_ids = {"extra"};
  std::sort(rows.begin(), rows.end(), [](const ObjectRow& a, const ObjectRow& b) { return a.id < b.id; });
  do {
    const Built built = Build(rows, header);
    ASSERT_THAT(Faults(built), IsEmpty());
    std::set<std::string_view> members;
    for (const uint32_t row : built.scene.crowds[0].members) members.insert(built.scene.objects.id[row]);
    EXPECT_EQ(members, (std::set<std::string_view>{"ada", "bo", "cart"}));
  } while (std::next_permutation(rows.begin(), rows.end(),
                                 [](const ObjectRow& a, const ObjectRow& b) { return a.id < b.id; }));
}

}  // namespace
}  // namespace scantling
