// What the demonstration shot is made of: counts, names, containers, forms and refusals.

#include "client/sample/sample.h"

#include <map>
#include <set>
#include <string>

#include "client/sample/cast.h"
#include "client/sample/staging.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "yaml-cpp/yaml.h"

namespace scantling {
namespace {

std::map<std::string, int> CountClasses(const v1::Shot& shot) {
  std::map<std::string, int> counts;
  for (const v1::SceneObject& object : shot.objects()) ++counts[object.class_name()];
  return counts;
}

double MovingShare(const v1::Shot& shot) {
  double moving = 0, all = 0;
  for (const v1::SceneObject& object : shot.objects()) {
    moving += object.transform().matrices_size() > 16;
    ++all;
  }
  for (const v1::ObjectBlock& block : shot.blocks()) {
    for (const uint32_t poses : block.poses()) moving += poses > 1;
    all += block.poses_size();
  }
  return moving / all;
}

TEST(CountRoles, AddsUpAtEverySize) {
  for (int objects = 1; objects <= kMostSampleObjects; objects = objects < 4000 ? objects + 1 : objects * 3 / 2) {
    const sample::RoleCounts counts = sample::CountRoles(objects);
    int sum = 0;
    for (const int count : counts) {
      EXPECT_GE(count, 0);
      sum += count;
    }
    ASSERT_EQ(sum, objects);
  }
}

TEST(MakeSample, FullCastIsTheScenario) {
  const auto counts = CountClasses(MakeSample({}));
  EXPECT_EQ(counts.at("lead"), 2);
  EXPECT_EQ(counts.at("person"), 400);
  EXPECT_EQ(counts.at("passenger"), 60);
  EXPECT_EQ(counts.at("ferry"), 1);
}

TEST(MakeSample, CrowdsAreThoseOfMarketAndDeckWhereThereIsAny) {
  const v1::Shot full = MakeSample({});
  ASSERT_EQ(full.crowds_size(), 2);
  EXPECT_EQ(full.crowds(0).name(), "quay_crowd");
  EXPECT_EQ(full.crowds(0).cell_columns() * full.crowds(0).cell_rows(), 8);
  EXPECT_EQ(full.crowds(1).name(), "ferry_passengers");
  for (int objects = 1; objects < 200; ++objects) {
    const v1::Shot shot = MakeSample({.objects = objects, .frames = 1});
    const auto classes = CountClasses(shot);
    for (const v1::Crowd& crowd : shot.crowds()) EXPECT_GT(classes.count(crowd.class_names(0)), 0u) << objects;
    EXPECT_EQ(shot.crowds_size(), static_cast<int>(classes.count("person") + classes.count("passenger")));
  }
}

TEST(MakeSample, LoneObjectIsTheLamplighter) {
  const v1::Shot shot = MakeSample({.objects = 1});
  ASSERT_EQ(shot.objects_size(), 1);
  EXPECT_EQ(shot.objects(0).id(), "lamplighter");
  EXPECT_EQ(shot.objects(0).class_name(), "lead");
  EXPECT_EQ(shot.interest(0).object_id(), "lamplighter");
}

TEST(MakeSample, EveryClassIsInTheShippedCatalogue) {
  const YAML::Node classes = YAML::LoadFile(SCANTLING_SOURCE_DIR "/config/classes.yaml")["classes"];
  for (const auto& [name, count] : CountClasses(MakeSample({}))) EXPECT_TRUE(classes[name].IsDefined()) << name;
}

TEST(MakeSample, IdsAreUniqueAndContainersComeFirst) {
  for (const int objects : {1, 2, 3, 4, 7, 20, 50, 100, 333, 1500, 20'000}) {
    const v1::Shot shot = MakeSample({.objects = objects, .frames = 2});
    ASSERT_EQ(shot.objects_size(), objects);
    std::set<std::string> ids;
    for (const v1::SceneObject& object : shot.objects()) {
      if (!object.container_id().empty()) {
        EXPECT_EQ(ids.count(object.container_id()), 1u) << object.id() << " in " << object.container_id();
      }
      EXPECT_TRUE(ids.insert(object.id()).second) << object.id();
    }
  }
}

TEST(MakeSample, PassengersAreInTheFerryAndTenantsInHouses) {
  const v1::Shot shot = MakeSample({});
  for (const v1::SceneObject& object : shot.objects()) {
    const std::string& kind = object.class_name();
    if (kind == "passenger") {
      EXPECT_EQ(object.container_id(), "ferry");
    }
    if (kind == "tenant" || kind == "window") {
      EXPECT_THAT(object.container_id(), testing::StartsWith("house_"));
    }
  }
}

TEST(MakeSample, AFewDozenAssetsServeTheCrowd) {
  std::map<std::string, int> users;
  const v1::Shot shot = MakeSample({});
  for (const v1::SceneObject& object : shot.objects()) {
    if (object.class_name() == "person") ++users[object.asset_id()];
  }
  EXPECT_EQ(users.size(), 24u);
}

TEST(MakeSample, SameOptionsGiveTheSameBytesAndAnotherSeedOthers) {
  const std::string once = MakeSample({.objects = 300}).SerializeAsString();
  EXPECT_EQ(once, MakeSample({.objects = 300}).SerializeAsString());
  EXPECT_NE(once, MakeSample({.objects = 300, .seed = 2}).SerializeAsString());
}

TEST(MakeSample, AFifthMovesInASmallShotAndATenthInALargeOne) {
  // The roles' moving shares give an expected 21% and, times 0.47, 10%; one standard deviation is 1% of 1500 objects
  // and 0.2% of 20,000.
  EXPECT_NEAR(MovingShare(MakeSample({})), 0.21, 0.03);
  EXPECT_NEAR(MovingShare(MakeSample({.objects = 20'000, .frames = 2})), 0.10, 0.01);
}

TEST(PlanSet, ExpectedPosesStayNearTheStatedEightMillion) {
  for (const SampleOptions& options : {SampleOptions{.objects = 2'000'000}, SampleOptions{.objects = 1'000'000},
                                       SampleOptions{.objects = 20'000, .frames = 100'000}}) {
    const sample::Set set = sample::PlanSet(options);
    double movers = 0;
    for (int r = 0; r < sample::kRoles; ++r) {
      movers += set.counts[r] * sample::TraitsOf(static_cast<sample::Role>(r)).moving * set.moving;
    }
    // The cap takes the roles' mean moving share times 0.47 as a tenth; it is 0.1003 with the counts' rounding.
    EXPECT_NEAR(movers * options.frames, 8e6, 0.02 * 8e6) << options.objects;
  }
}

// One row built from object `i` of a block; pose and linear are read and advanced.
struct BlockReader {
  const v1::ObjectBlock& block;
  size_t id_at = 0;
  int pose_at = 0;

  std::string Id(int i) {
    const std::string id = block.id_blob().substr(id_at, block.id_lengths(i));
    id_at += block.id_lengths(i);
    return id;
  }
};

void ExpectSamePoses(const v1::SceneObject& row, int poses, BlockReader& reader) {
  ASSERT_EQ(row.transform().matrices_size(), 16 * poses) << row.id();
  for (int pose = 0; pose < poses; ++pose, ++reader.pose_at) {
    const double* m = row.transform().matrices().data() + 16 * pose;
    for (int k = 0; k < 9; ++k) EXPECT_EQ(m[4 * (k / 3) + k % 3], reader.block.linear(9 * reader.pose_at + k));
    for (int k = 0; k < 3; ++k) EXPECT_EQ(m[12 + k], reader.block.translation_m(3 * reader.pose_at + k));
  }
}

TEST(MakeSample, RowsAndBlocksHoldTheSameNumbers) {
  const v1::Shot rows = MakeSample({.objects = 400, .frames = 5});
  const v1::Shot packed = MakeSample({.objects = 400, .frames = 5, .blocks = true});
  ASSERT_EQ(packed.objects_size(), 0);
  ASSERT_EQ(packed.blocks_size(), 1);
  const v1::ObjectBlock& block = packed.blocks(0);
  ASSERT_EQ(block.id_lengths_size(), 400);
  BlockReader reader{block};
  for (int i = 0; i < 400; ++i) {
    const v1::SceneObject& row = rows.objects(i);
    EXPECT_EQ(reader.Id(i), row.id());
    EXPECT_EQ(block.class_names(block.class_of(i)), row.class_name());
    EXPECT_EQ(block.asset_ids(block.asset_of(i) - 1), row.asset_id());
    const uint32_t container = block.container_of(i);
    EXPECT_EQ(container == 0 ? "" : block.container_ids(container - 1), row.container_id());
    const v1::Colour& colour = row.colour();
    EXPECT_EQ(block.colour(i), 0x01000000 | colour.red() << 16 | colour.green() << 8 | colour.blue());
    EXPECT_EQ(block.boxes_m(6 * i), row.box().min_m().x());
    EXPECT_EQ(block.boxes_m(6 * i + 5), row.box().max_m().z());
    ExpectSamePoses(row, static_cast<int>(block.poses(i)), reader);
  }
  EXPECT_EQ(3 * reader.pose_at, block.translation_m_size());
}

TEST(MakeSample, LargeCastComesInBlocksUnderTheUsualMessageLimit) {
  const v1::Shot shot = MakeSample({.objects = 60'000, .frames = 240});
  EXPECT_EQ(shot.objects_size(), 0);
  int objects = 0;
  for (const v1::ObjectBlock& block : shot.blocks()) {
    EXPECT_LT(block.ByteSizeLong(), 4u << 20);  // gRPC's default limit of a received message
    objects += block.id_lengths_size();
  }
  EXPECT_EQ(objects, 60'000);
}

TEST(CheckSampleOptions, NamesEveryOptionOutOfRangeAtOnce) {
  const absl::Status status =
      CheckSampleOptions({.objects = 0, .frames = 100'001, .width_px = -1, .height_px = 65'537});
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(std::string(status.message()),
            "objects: got 0, want 1 to 2000000; frames: got 100001, want 1 to 100000; "
            "width_px: got -1, want 1 to 65536; height_px: got 65537, want 1 to 65536");
  EXPECT_EQ(MakeSample({.objects = 0}).ByteSizeLong(), 0u);
}

}  // namespace
}  // namespace scantling
