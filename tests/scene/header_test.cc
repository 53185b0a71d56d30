#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

Built WithFrames(int32_t first, int32_t last) {
  ShotHeader header = MakeHeader();
  header.frames = {first, last};
  return BuildHeader(header);
}

TEST(SceneHeader, GoodShotHasNoFault) {
  const Built built = Build({MakeRow("lamplighter")});
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.shot_id, "qy_0010");
  EXPECT_EQ(built.scene.frames, (FrameRange{1001, 1024}));
  EXPECT_EQ(built.scene.objects.size(), 1u);
}

TEST(SceneHeader, AShotWithoutObjectsIsAShot) { EXPECT_THAT(Faults(BuildHeader(MakeHeader())), IsEmpty()); }

TEST(SceneHeader, EmptyFrameRangeIsRefused) {
  EXPECT_THAT(Faults(WithFrames(10, 9)), ElementsAre(Violation{"frames", "got 10 to 9, want last not below first"}));
  EXPECT_THAT(Faults(WithFrames(10, 10)), IsEmpty());
  EXPECT_THAT(Faults(WithFrames(0, -1)),
              ElementsAre(Violation{"frames", "got no frames, want first and last, last not below first"}));
}

TEST(SceneHeader, TooManyFramesNamesTheLimit) {
  EXPECT_THAT(Faults(WithFrames(1, 10'000)), IsEmpty());
  EXPECT_THAT(Faults(WithFrames(1, 10'001)),
              ElementsAre(Violation{"frames", "got 1 to 10001 (10001 frames), want 1 to 10000 frames"}));
}

TEST(SceneHeader, TheWidestRangeOverflowsNothing) {
  const int32_t least = std::numeric_limits<int32_t>::min(), most = std::numeric_limits<int32_t>::max();
  EXPECT_THAT(
      Faults(WithFrames(least, most)),
      ElementsAre(Violation{"frames.first", "got -2147483648, want a frame within 1000000000 of 0"},
                  Violation{"frames.last", "got 2147483647, want a frame within 1000000000 of 0"},
                  Violation{"frames", "got -2147483648 to 2147483647 (4294967296 frames), want 1 to 10000 frames"}));
}

TEST(SceneHeader, FramesFarFromZeroAreRefusedEvenWhenFew) {
  EXPECT_THAT(Faults(WithFrames(2'000'000'000, 2'000'000'001)),
              ElementsAre(Violation{"frames.first", "got 2000000000, want a frame within 1000000000 of 0"},
                          Violation{"frames.last", "got 2000000001, want a frame within 1000000000 of 0"}));
}

TEST(SceneHeader, RatesMustBeAboveZero) {
  ShotHeader header = MakeHeader();
  header.rate = {0, -1};
  EXPECT_THAT(Faults(BuildHeader(header)), ElementsAre(Violation{"rate.numerator", "got 0, want a number above 0"},
                                                       Violation{"rate.denominator", "got -1, want a number above 0"}));
}

TEST(SceneHeader, NamesOfShotAndSequenceAreChecked) {
  ShotHeader header = MakeHeader();
  header.shot_id = "qy\x01";
  header.sequence_id = std::string(1025, 's');
  EXPECT_THAT(
      Faults(BuildHeader(header)),
      ElementsAre(Violation{"shot_id", "got \"qy\\x01\", want text without control characters (byte 2 is 0x01)"},
                  Violation{"sequence_id", "got 1025, want at most 1024 bytes"}));
}

Directive Ruling(DirectiveScope scope, std::string target) {
  Directive directive;
  directive.scope = scope;
  directive.target = std::move(target);
  return directive;
}

TEST(SceneDirectives, TargetsThatExistAreFine) {
  ShotHeader header = MakeHeader();
  header.directives = {Ruling(DirectiveScope::kObject, "lamplighter"),
                       Ruling(DirectiveScope::kAsset, "lamplighter_rig"), Ruling(DirectiveScope::kClass, "dwelling")};
  ObjectRow row = MakeRow("lamplighter");
  row.asset = "lamplighter_rig";
  const Built built = Build({row}, header);
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.directives.size(), 3u);
}

TEST(SceneDirectives, UnknownTargetsOfEveryScopeAreRefused) {
  ShotHeader header = MakeHeader();
  header.directives = {Ruling(DirectiveScope::kObject, "ghost"), Ruling(DirectiveScope::kAsset, "ghost_rig"),
                       Ruling(DirectiveScope::kClass, "dweling")};
  EXPECT_THAT(Faults(Build({MakeRow("lamplighter")}, header)),
              ElementsAre(Violation{"directives[2].class_name",
                                    "got \"dweling\", want a class of the catalogue (nearest: \"dwelling\")"},
                          Violation{"directives[0].object_id", "got \"ghost\", want the id of an object of the shot"},
                          Violation{"directives[1].asset_id",
                                    "got \"ghost_rig\", want an asset that an object of the shot names"}));
}

TEST(SceneDirectives, EmptyTargetsAndUnreadableRemarksAreRefused) {
  ShotHeader header = MakeHeader();
  header.directives = {Ruling(DirectiveScope::kObject, "")};
  header.directives[0].who = "\xFF";
  header.directives[0].why = std::string(4097, 'w');
  EXPECT_THAT(Faults(BuildHeader(header)),
              ElementsAre(Violation{"directives[0].who", "got \"\\xff\", want UTF-8 text (byte 0 is 0xff)"},
                          Violation{"directives[0].why", "got 4097, want at most 4096 bytes"},
                          Violation{"directives[0].object_id", "got nothing, want a name of 1 to 1024 bytes"}));
}

Built WithInterest(const InterestSpec& interest) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  Built built;
  SceneBuilder builder(catalogue, {}, MakeHeader(), built.violations);
  builder.AddInterest(interest, "interest[0]");
  builder.AddRow(MakeRow("lamplighter"), "objects[0]");
  built.scene = builder.Finish();
  return built;
}

TEST(SceneInterest, ObjectsAreFoundThoughTheyComeLater) {
  const Built built = WithInterest({"lamplighter", 0.5, 0.5, FrameRange{1001, 1010}});
  EXPECT_THAT(Faults(built), IsEmpty());
  ASSERT_EQ(built.scene.interest.size(), 1u);
  EXPECT_EQ(built.scene.interest[0].object, 0u);
  EXPECT_EQ(built.scene.interest[0].frames, (FrameRange{1001, 1010}));
}

TEST(SceneInterest, PlacesLookAtAllFramesUnlessToldOtherwise) {
  const Built built = WithInterest({"", 0.25, 1, std::nullopt});
  EXPECT_THAT(Faults(built), IsEmpty());
  EXPECT_EQ(built.scene.interest[0].object, kNone);
  EXPECT_EQ(built.scene.interest[0].x, 0.25);
  EXPECT_EQ(built.scene.interest[0].frames, (FrameRange{1001, 1024}));
}

TEST(SceneInterest, EveryFaultIsNamed) {
  EXPECT_THAT(Faults(WithInterest({"", -0.1, std::numeric_limits<double>::quiet_NaN(), std::nullopt})),
              ElementsAre(Violation{"interest[0].place.x", "got -0.1, want a share from 0 to 1"},
                          Violation{"interest[0].place.y", "got nan, want a share from 0 to 1"}));
  EXPECT_THAT(Faults(WithInterest({"ghost", 0.5, 0.5, FrameRange{1001, 1025}})),
              ElementsAre(Violation{"interest[0].frames",
                                    "got 1001 to 1025, want frames of the shot (1001 to 1024), "
                                    "last not below first"},
                          Violation{"interest[0].object_id", "got \"ghost\", want the id of an object of the shot"}));
  EXPECT_THAT(Faults(WithInterest({"a\x02", 0.5, 0.5, std::nullopt})),
              ElementsAre(Violation{"interest[0].object_id",
                                    "got \"a\\x02\", want text without control characters (byte 1 is 0x02)"}));
}

}  // namespace
}  // namespace scantling
