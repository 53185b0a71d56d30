// Faults of JSON: all of them, each where a person would look for it. Lines and columns are counted by hand.

#include "client/library/json_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "client/library/memory_limit.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::Field;
using testing::HasSubstr;
using testing::IsEmpty;

std::vector<JsonFault> Check(std::string_view text) { return CheckJson(text, *v1::Shot::descriptor()); }

auto FaultAt(int line, int column, const std::string& field, const std::string& description) {
  return AllOf(Field("line", &JsonFault::line, line), Field("column", &JsonFault::column, column),
               Field("field", &JsonFault::field, field),
               Field("description", &JsonFault::description, HasSubstr(description)));
}

TEST(CheckJson, SoundShotHasNoFault) {
  EXPECT_THAT(Check(R"({"shot_id":"qy_1","frames":{"first":1,"last":"2"},"objects":[{"id":"a","colour":null},{}],
                       "cameras":[{"focal_mm":[35,"36.5"],"projection":"ORTHOGRAPHIC"},{"projection":1}]})"),
              IsEmpty());
}

TEST(CheckJson, FieldsMayBeSpeltInCamelCase) { EXPECT_THAT(Check(R"({"shotId":"a"})"), IsEmpty()); }

TEST(CheckJson, AllFaultsComeAtOnceWithTheirPlaces) {
  EXPECT_THAT(Check("{\"shot\":1,\n"
                    " \"objects\":{},\n"
                    " \"frames\":[1]}"),
              ElementsAre(FaultAt(1, 2, "shot", "no such field, want one of: shot_id, sequence_id"),
                          FaultAt(2, 12, "objects", "got an object, want a list"),
                          FaultAt(3, 11, "frames", "got a list, want an object")));
}

TEST(CheckJson, ColumnsCountCharactersNotBytes) {
  // {"shot_id":"ü","x":1}: the key "x" is the sixteenth character.
  EXPECT_THAT(Check("{\"shot_id\":\"ü\",\"x\":1}"), ElementsAre(FaultAt(1, 16, "x", "no such field")));
}

TEST(CheckJson, PathsLeadThroughLists) {
  EXPECT_THAT(Check(R"({"objects":[{},{"transform":{"matrices":[1,true]}}]})"),
              ElementsAre(FaultAt(1, 44, "objects[1].transform.matrices[1]", "got true or false, want a number")));
}

TEST(CheckJson, KeyGivenTwiceIsAFaultInEitherSpelling) {
  EXPECT_THAT(Check(R"({"shot_id":"a","shotId":"b"})"), ElementsAre(FaultAt(1, 16, "shot_id", "given twice")));
}

TEST(CheckJson, WholeNumbersAreHeldToTheirRange) {
  EXPECT_THAT(Check(R"({"frames":{"first":1.5,"last":2147483648}})"),
              ElementsAre(FaultAt(1, 20, "frames.first", "got 1.5, want a whole number"),
                          FaultAt(1, 31, "frames.last", "want a whole number from -2147483648 to 2147483647")));
}

TEST(CheckJson, UnknownEnumValueNamesTheKnownOnes) {
  EXPECT_THAT(
      Check(R"({"directives":[{"tier":"HALF"}]})"),
      ElementsAre(FaultAt(1, 24, "directives[0].tier", "got \"HALF\", want one of: TIER_UNSPECIFIED, OMITTED")));
}

TEST(CheckJson, TextWhereANumberBelongsMustBeOne) {
  EXPECT_THAT(Check(R"({"objects":[{"importance":"big"}]})"),
              ElementsAre(FaultAt(1, 27, "objects[0].importance", "got \"big\", want a number")));
}

TEST(CheckJson, TrailingCommaAndCommentsAreNoJson) {
  EXPECT_THAT(Check("{\"shot_id\":\"a\",}"), ElementsAre(FaultAt(1, 16, "shot_id", "is no JSON: syntax error")));
  EXPECT_THAT(Check("// a shot\n{}"), ElementsAre(FaultAt(1, 1, "", "is no JSON")));
}

TEST(CheckJson, WhatHidesIsCastAndIsHeldIsKnown) {
  EXPECT_THAT(Check(R"({"replaced":[{"first":1,"last":2}],"beats":[1,"2"],
               "cameras":[{"masks":[{"left":0,"top":0.5,"right":1,"bottom":1,"frames":[{"first":1,"last":2}]}]}],
               "objects":[{"particulars":{"occluder":{"mesh":{"vertices_m":[0,0.5,1],"triangles":[0,0,0]}},
                 "openings":[{"min_m":{"x":1},"max_m":{"x":2}}],"indirect":[{"kind":"LIGHT"}],"hold_group":"g",
                 "replaced":[],"beats":[3]}}],
               "blocks":[{"inner_box":[0.5,-1],"particulars":[{"index":1,"particulars":{"occluder":{"innerBox":1}}}]}]})"),
              IsEmpty());
}

TEST(CheckJson, FaultsOfParticularsHaveTheirPlaces) {
  EXPECT_THAT(
      Check("{\"objects\":[{\"particulars\":{\"occluder\":{\"inner_box\":true},\n"
            " \"openings\":[{},{\"max_m\":{\"y\":[]}}],\"indirect\":[{\"kind\":\"GLOW\"}],\n"
            " \"beats\":[1,1.5],\"group\":1}}],\n"
            " \"cameras\":[{\"masks\":[{},{\"left\":\"far\"}]}],\n"
            " \"blocks\":[{\"particulars\":[{},{\"index\":-1}]}]}"),
      ElementsAre(FaultAt(1, 53, "objects[0].particulars.occluder.inner_box", "got true or false, want a number"),
                  FaultAt(2, 31, "objects[0].particulars.openings[1].max_m.y", "got a list, want a number"),
                  FaultAt(2, 57, "objects[0].particulars.indirect[0].kind", "got \"GLOW\", want one of: KIND_"),
                  FaultAt(3, 13, "objects[0].particulars.beats[1]", "got 1.5, want a whole number"),
                  FaultAt(3, 18, "objects[0].particulars.group", "no such field, want one of: occluder"),
                  FaultAt(4, 34, "cameras[0].masks[1].left", "got \"far\", want a number"),
                  FaultAt(5, 40, "blocks[0].particulars[1].index", "got -1, want a whole number from 0")));
}

TEST(CheckJson, NullInAListIsAFault) {
  EXPECT_THAT(Check(R"({"objects":[null]})"), ElementsAre(FaultAt(1, 13, "objects[0]", "got null, want an object")));
}

TEST(CheckJson, RootMustBeAnObject) {
  EXPECT_THAT(Check("[]"), ElementsAre(FaultAt(1, 1, "", "got a list, want an object")));
  EXPECT_THAT(Check("3"), ElementsAre(FaultAt(1, 1, "", "got a number, want an object")));
}

TEST(CheckJson, DeepNestingInsideAnUnknownFieldEnds) {
  const std::string deep = "{\"x\":" + std::string(100'000, '[');
  const std::vector<JsonFault> faults = Check(deep);
  ASSERT_EQ(faults.size(), 2u);
  EXPECT_THAT(faults[1].description, HasSubstr("nested more than 64 deep"));
}

TEST(CheckJson, FaultsEndAtTheirLimit) {
  std::string text = "{";
  for (int i = 0; i < 1000; ++i) text += "\"x" + std::to_string(i) + "\":0,";
  EXPECT_EQ(Check(text).size(), kMostJsonFaults);
}

TEST(CheckJson, ManyEmptyObjectsAreRefusedBeforeTheyAreMade) {
  // Each "{}," of 3 bytes becomes a camera of some hundred.
  const int64_t count = kMostShotMemoryBytes / static_cast<int64_t>(v1::ShotCamera().SpaceUsedLong()) + 1;
  std::string text = "{\"cameras\":[{}";
  text.reserve(static_cast<size_t>(3 * count) + 16);
  for (int64_t i = 1; i < count; ++i) text += ",{}";
  EXPECT_THAT(Check(text), ElementsAre(Field("description", &JsonFault::description, HasSubstr("more than 2048 MiB"))));
}

TEST(FindInJson, TellsWhereAValueBegins) {
  JsonPlace place;
  ASSERT_TRUE(FindInJson("{\"frames\":{\n  \"last\": 7}}", *v1::Shot::descriptor(), "frames.last", place));
  EXPECT_EQ(place.line, 2);
  EXPECT_EQ(place.column, 11);
  EXPECT_FALSE(FindInJson("{}", *v1::Shot::descriptor(), "frames.last", place));
}

}  // namespace
}  // namespace scantling::client
