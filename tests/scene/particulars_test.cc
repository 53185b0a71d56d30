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
#include "tests/scene/with_particulars.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;

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

TEST(FrameLists, OfTheShotAreNotCopiedToObjectsThatSendNone) {
  ShotHeader header = MakeHeader();
  header.replaced = {{1003, 1004}};
  header.beats = {1010};
  ParticularsSpec group, beat;
  group.hold_group = "reapers";
  beat.beats = {1012};
  ObjectRow ada = MakeRow("ada"), ben = MakeRow("ben");
  ada.particulars = &group;
  ben.particulars = &beat;
  const Built built = Build({ada, ben}, header);
  const Scene& scene = built.scene;
  ASSERT_EQ(scene.particulars.size(), 2u);
  EXPECT_EQ(&scene.beats_of(0), &scene.beats);
  EXPECT_EQ(&scene.replaced_of(0), &scene.replaced);
  EXPECT_THAT(scene.beats_of(1), ElementsAre(1010, 1012));
  EXPECT_EQ(&scene.replaced_of(1), &scene.replaced);
}

TEST(FrameLists, OfAllObjectsAreLimitedTogether) {
  ShotHeader header = MakeHeader();
  header.beats = {1010, 1011};
  header.replaced = {{1020, 1021}};
  ParticularsSpec spec;
  spec.indirect.push_back({IndirectKind::kShadow, {{1001, 1002}, {1004, 1005}}});
  spec.replaced = {{1003, 1003}};
  spec.beats = {1012, 1011, 1012};
  // 2 ranges cast; 1 replaced and the shot's 1; 2 beats, each once, and the shot's 2: 8 marks an object.
  std::vector<ObjectRow> rows = {MakeRow("ada"), MakeRow("ben")};
  for (ObjectRow& row : rows) row.particulars = &spec;
  SceneLimits limits;
  limits.frame_marks = 16;
  EXPECT_TRUE(Build(rows, header, limits).violations.empty());
  limits.frame_marks = 15;
  EXPECT_THAT(Faults(Build(rows, header, limits)),
              ElementsAre(Violation{"objects[1].particulars.beats",
                                    "got 16 beats and ranges of frames so far, want at most 15 in a shot"}));
  limits.frame_marks = 11;
  EXPECT_THAT(Faults(Build(rows, header, limits)),
              ElementsAre(Violation{"objects[1].particulars.replaced",
                                    "got 12 beats and ranges of frames so far, want at most 11 in a shot"},
                          Violation{"objects[1].particulars.beats",
                                    "got 16 beats and ranges of frames so far, want at most 11 in a shot"}));
  limits.frame_marks = 1;
  EXPECT_EQ(Faults(Build({rows[0]}, header, limits))[0],
            Fault("indirect", "got 2 beats and ranges of frames so far, want at most 1 in a shot"));
}

// Nothing is counted in a shot whose own frames are not known; what is wrong by itself is still said.
TEST(FrameLists, OfAShotWithoutFramesAreHeldToTheirOrderOnly) {
  constexpr int32_t kLeast = std::numeric_limits<int32_t>::min(), kMost = std::numeric_limits<int32_t>::max();
  ShotHeader header = MakeHeader();
  header.frames = {5, 1};
  header.replaced = {{1, 2}, {kLeast, kMost}, {3, 2}};
  header.beats = {kMost};
  header.cameras[0].masks = {{0, 0, 1, 1, {{kLeast, kMost}}}};
  ParticularsSpec spec;
  spec.indirect.push_back({IndirectKind::kShadow, {{kLeast, kMost}}});
  spec.indirect.push_back({IndirectKind::kShadow, {}});
  spec.replaced = {{kLeast, kMost}};
  spec.beats = {kLeast};
  const Built built = BuildWith(spec, header);
  EXPECT_TRUE(built.scene.replaced.empty());
  EXPECT_THAT(Faults(built), ElementsAre(Violation{"frames", "got 5 to 1, want last not below first"},
                                         Violation{"replaced[2]", "got 3 to 2, want last not below first"}));
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
  ShotHeader header = MakeHeader();
  header.beats = {1002, 1003};
  limits.beats = limits.indirect_sights = 2;
  EXPECT_TRUE(BuildWith(spec, header, limits).violations.empty());
  limits.beats = 1;
  EXPECT_THAT(Faults(BuildHeader(header, limits)), ElementsAre(Violation{"beats", "got 2, want at most 1"}));
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
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("hold_group",
                                                "got \"a\\nb\", want text without control characters (byte 1 is "
                                                "0x0a)")));
  const std::string longest(1024, 'x'), too_long(1025, 'x');
  spec.hold_group = longest;
  EXPECT_TRUE(FaultsOf(spec).empty());
  spec.hold_group = too_long;
  EXPECT_THAT(FaultsOf(spec), ElementsAre(Fault("hold_group", "got 1025, want at most 1024 bytes")));
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
