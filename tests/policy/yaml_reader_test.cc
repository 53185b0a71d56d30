// Typed reading: every kind of value, every wording of "got ..., want ...".

#include "server/policy/yaml_reader.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>

#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;

struct Document {
  explicit Document(std::string_view text) : node(ParseYaml(text, "f", violations).value_or(YamlNode{})) {}
  YamlReader reader() { return YamlReader(node, "f", violations); }
  std::vector<std::string> faults() const { return Texts(violations); }

  Violations violations;
  YamlNode node;
};

TEST(YamlReader, ReadsEveryKind) {
  Document document("n: -1.5\ni: 24\nb: true\nt: two words\nc: second\nl: [3, 1]\nm: {x: 1}\n");
  YamlReader reader = document.reader();
  constexpr std::array<std::string_view, 2> kNames = {"first", "second"};
  EXPECT_EQ(reader.Number("n", AtLeast(-2), kRequired), -1.5);
  EXPECT_EQ(reader.Integer("i", Between(0, 30), kRequired), 24);
  EXPECT_TRUE(reader.Flag("b", kRequired));
  EXPECT_EQ(reader.Text("t", ProseRule(), kRequired), "two words");
  EXPECT_EQ(reader.Choice("c", kNames, kRequired), 1u);
  EXPECT_THAT(reader.Integers("l", Between(0, 9), 5), ElementsAre(3, 1));
  YamlReader map = reader.Map("m", YamlReader::Missing::kFault);
  EXPECT_EQ(map.Number("x", AtLeast(0), kRequired), 1);
  map.Finish();
  reader.Finish();
  EXPECT_THAT(document.faults(), ElementsAre());
}

TEST(YamlReader, MissingKeysTakeFallbacksOrAreFaults) {
  Document document("a: {b: 1}\n");
  YamlReader reader = document.reader();
  YamlReader a = reader.Map("a", YamlReader::Missing::kFault);
  EXPECT_EQ(a.Number("c", AtLeast(0), 7), 7);
  EXPECT_THAT(document.faults(), ElementsAre());
  a.Number("c", Above(0), kRequired);
  reader.Map("d", YamlReader::Missing::kFault);
  EXPECT_THAT(document.faults(),
              ElementsAre("f:1:4: a.c: got no such key, want a number above 0 and at most 1000000000",
                          "f:1:1: d: got no such key, want a mapping of keys to values"));
}

TEST(YamlReader, MissingMapsSpeakOnce) {
  Document document("{}");
  YamlReader reader = document.reader();
  YamlReader gone = reader.Map("gone", YamlReader::Missing::kFault);
  EXPECT_EQ(gone.Number("x", Between(3, 4), kRequired), 3);
  EXPECT_EQ(gone.Text("y", NameRule(), kRequired), "");
  gone.Finish();
  EXPECT_EQ(document.faults().size(), 1u);
}

TEST(YamlReader, NumbersOutsideTheirRuleAreRefused) {
  Document document("a: 2\nb: 0\nc: 1e10\nd: 1.5\n");
  YamlReader reader = document.reader();
  reader.Number("a", Between(0, 1), kRequired);
  reader.Number("b", AboveUpTo(0, 1), kRequired);
  reader.Number("c", AtLeast(0), kRequired);
  reader.Integer("d", Between(0, 9), kRequired);
  reader.Number("c", NumberRule{}, kRequired);
  EXPECT_THAT(document.faults(), ElementsAre("f:1:4: a: got \"2\", want a number from 0 to 1",
                                             "f:2:4: b: got \"0\", want a number above 0 and at most 1",
                                             "f:3:4: c: got \"1e10\", want a number from 0 to 1000000000",
                                             "f:4:4: d: got \"1.5\", want a whole number from 0 to 9",
                                             "f:3:4: c: got \"1e10\", want a number from -1000000000 to 1000000000"));
}

TEST(YamlReader, WhatIsNoFiniteNumberIsRefused) {
  for (const char* value : {"nan", "inf", "-inf", ".inf", ".nan", "1e999", "0x10", "+1", "1,5", "1 m", "one", "\"1\"",
                            "[1]", "{a: 1}", "~", "1_000", "--1"}) {
    Document document("a: " + std::string(value));
    YamlReader reader = document.reader();
    reader.Number("a", Between(0, 100), kRequired);
    EXPECT_EQ(document.faults().size(), 1u) << value;
  }
}

TEST(YamlReader, SaysWhatWasGot) {
  Document document("a: \"1\"\nb: [1, 2]\nc: {}\nd:\n");
  YamlReader reader = document.reader();
  reader.Flag("a", kRequired);
  reader.Flag("b", kRequired);
  reader.Flag("c", kRequired);
  reader.Flag("d", false);
  EXPECT_THAT(
      document.faults(),
      ElementsAre("f:1:4: a: got the text \"1\", want true or false", "f:2:4: b: got a list of 2, want true or false",
                  "f:3:4: c: got a mapping, want true or false", "f:4:1: d: got nothing, want true or false"));
}

TEST(YamlReader, FlagsAreTrueOrFalseOnly) {
  for (const char* value : {"yes", "no", "True", "on", "1", "\"true\""}) {
    Document document("a: " + std::string(value));
    YamlReader reader = document.reader();
    reader.Flag("a", kRequired);
    EXPECT_EQ(document.faults().size(), 1u) << value;
  }
}

TEST(YamlReader, NamesAndTextsFollowTheirRules) {
  Document document("a: Big\nb: 9lives\nc: \"\"\nd: fine_name_2\ne: " + std::string(65, 'x') + "\n");
  YamlReader reader = document.reader();
  reader.Text("a", NameRule(), kRequired);
  reader.Text("b", NameRule(), kRequired);
  reader.Text("c", PathRule(), kRequired);
  EXPECT_EQ(reader.Text("d", NameRule(), kRequired), "fine_name_2");
  reader.Text("e", NameRule(), kRequired);
  const std::string name = "want a name of small letters, digits and _, a letter first, at most 64 bytes";
  EXPECT_THAT(document.faults(),
              ElementsAre("f:1:4: a: got \"Big\", " + name, "f:2:4: b: got \"9lives\", " + name,
                          "f:3:4: c: got the text \"\", want text that is not empty of at most 4096 bytes",
                          "f:5:4: e: got \"" + std::string(60, 'x') + "\"..., " + name));
}

TEST(YamlReader, ChoicesListWhatIsWanted) {
  Document document("a: fourth\n");
  YamlReader reader = document.reader();
  constexpr std::array<std::string_view, 3> kNames = {"first", "second", "third"};
  reader.Choice("a", kNames, kRequired);
  EXPECT_THAT(document.faults(), ElementsAre("f:1:4: a: got \"fourth\", want first, second or third"));
}

TEST(YamlReader, ListsAreBoundedAndTheirItemsChecked) {
  Document document("a: [1, x, 3]\nb: 7\nc: [{}, 1]\nd: [1, 2, 3]\n");
  YamlReader reader = document.reader();
  EXPECT_THAT(reader.Integers("a", Between(0, 9), 5), ElementsAre(1, 3));
  reader.Integers("b", Between(0, 9), 5);
  EXPECT_EQ(reader.Maps("c", 5).size(), 2u);
  reader.Integers("d", Between(0, 9), 2);
  EXPECT_THAT(document.faults(), ElementsAre("f:1:8: a[1]: got \"x\", want a whole number from 0 to 9",
                                             "f:2:4: b: got \"7\", want a list of at most 5 whole numbers",
                                             "f:3:9: c[1]: got \"1\", want a mapping of keys to values",
                                             "f:4:4: d: got a list of 3, want a list of at most 2 whole numbers"));
}

TEST(YamlReader, NamedMapsCheckNamesAndNumber) {
  Document document("a: {}\nB: {}\nc: 1\nd: {}\n");
  YamlReader reader = document.reader();
  EXPECT_EQ(reader.NamedMaps(3).size(), 2u);
  reader.Finish();  // all keys were asked for
  EXPECT_THAT(document.faults(),
              ElementsAre("f:1:1: got 4 names, want at most 3",
                          "f:2:1: got the name \"B\", want a name of small letters, digits and _, a letter first, at "
                          "most 64 bytes",
                          "f:3:4: c: got \"1\", want a mapping of keys to values"));
}

TEST(YamlReader, UnknownKeysNameTheNearest) {
  Document document("solidty: 1\nzzz: 2\n");
  YamlReader reader = document.reader();
  reader.Number("solidity", Between(0, 1), 1);
  reader.Number("importance", Between(0, 1), 1);
  reader.Finish();
  EXPECT_THAT(document.faults(), ElementsAre("f:1:1: got the unknown key \"solidty\", want \"solidity\" perhaps",
                                             "f:2:1: got the unknown key \"zzz\", want solidity or importance"));
}

TEST(YamlReader, DocumentThatIsNoMappingIsRefused) {
  Document document("[1, 2]");
  document.reader();
  EXPECT_THAT(document.faults(), ElementsAre("f:1:1: got a list of 2, want a mapping of keys to values"));
}

TEST(YamlReader, EmptyDocumentIsAMappingWithoutKeys) {
  Document document("");
  YamlReader reader = document.reader();
  EXPECT_EQ(reader.Number("a", AtLeast(0), 4), 4);
  reader.Finish();
  EXPECT_THAT(document.faults(), ElementsAre());
}

TEST(NearestWord, CountsEditsAndSwaps) {
  constexpr std::array<std::string_view, 3> kKnown = {"solidity", "importance", "phi"};
  EXPECT_EQ(NearestWord("solidtiy", kKnown), "solidity");     // one swap
  EXPECT_EQ(NearestWord("imporance", kKnown), "importance");  // one insertion
  EXPECT_EQ(NearestWord("phis", kKnown), "phi");
  EXPECT_EQ(NearestWord("pill", kKnown), "");  // two edits from a word of three
  EXPECT_EQ(NearestWord("", kKnown), "");
  EXPECT_EQ(NearestWord(std::string(65, 'a'), kKnown), "");
  EXPECT_EQ(NearestWord("phi", {}), "");
}

}  // namespace
}  // namespace scantling
