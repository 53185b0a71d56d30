// The bounded YAML tree: what it takes, where it puts marks, and every refusal with its place.

#include "server/policy/yaml_tree.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

#include "absl/strings/str_cat.h"
#include "server/policy/utf8.h"
#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::StartsWith;

std::vector<std::string> FaultsOf(std::string_view text) {
  Violations violations;
  EXPECT_FALSE(ParseYaml(text, "f.yaml", violations).has_value());
  return Texts(violations);
}

YamlNode TreeOf(std::string_view text) {
  Violations violations;
  const std::optional<YamlNode> node = ParseYaml(text, "f.yaml", violations);
  EXPECT_THAT(Texts(violations), ElementsAre());
  return node.value_or(YamlNode{});
}

TEST(ParseYaml, EmptyTextIsNothing) {
  EXPECT_EQ(TreeOf("").kind, YamlNode::Kind::kNothing);
  EXPECT_EQ(TreeOf("# only a comment\n").kind, YamlNode::Kind::kNothing);
}

TEST(ParseYaml, KeepsKeysInOrderWithMarksFromOne) {
  const YamlNode root = TreeOf("b: 1\na:\n  - x\n  - {c: \"2\"}\n");
  ASSERT_EQ(root.kind, YamlNode::Kind::kMap);
  ASSERT_EQ(root.keys.size(), 2u);
  EXPECT_EQ(root.keys[0].text, "b");
  EXPECT_EQ(root.keys[1].text, "a");
  EXPECT_EQ(root.keys[1].mark.line, 2);
  EXPECT_EQ(root.keys[1].mark.column, 1);
  EXPECT_EQ(root.items[0].mark.line, 1);
  EXPECT_EQ(root.items[0].mark.column, 4);
  const YamlNode& list = root.items[1];
  ASSERT_EQ(list.items.size(), 2u);
  EXPECT_EQ(list.items[1].mark.line, 4);
  EXPECT_EQ(list.items[1].mark.column, 5);
  EXPECT_FALSE(root.items[0].quoted);
  EXPECT_TRUE(list.items[1].items[0].quoted);
}

TEST(ParseYaml, AnchorsAndAliasesAreRefusedAtTheirPlaces) {
  EXPECT_THAT(FaultsOf("a: &x 1\nb: *x\n"),
              ElementsAre("f.yaml:1:4: got an anchor, want none: values are written out here",
                          "f.yaml:2:4: got an alias, want the value written out"));
}

TEST(ParseYaml, ExpansionBombEndsAtItsFirstLevels) {
  std::string bomb = "a0: &a0 [x, x]\n";
  for (int i = 1; i < 64; ++i) {
    absl::StrAppend(&bomb, "a", i, ": &a", i, " [*a", i - 1, ", *a", i - 1, "]\n");
  }
  // Each line one anchor, each but the first two aliases: 64 + 2 * 63. Walking the 2^64 leaves would never end.
  EXPECT_EQ(FaultsOf(bomb).size(), 64u + 126u);
}

TEST(ParseYaml, TagsAreRefused) {
  EXPECT_THAT(FaultsOf("a: !!float 1\n"),
              ElementsAre("f.yaml:1:4: got the tag \"tag:yaml.org,2002:float\", want none"));
}

TEST(ParseYaml, DuplicateKeysAreRefusedWithBothPlaces) {
  EXPECT_THAT(FaultsOf("a: 1\nb: {c: 1, c: 2}\na: 3\n"),
              ElementsAre("f.yaml:2:11: got the key \"c\" again, want it once: it stands at line 2 already",
                          "f.yaml:3:1: got the key \"a\" again, want it once: it stands at line 1 already"));
}

TEST(ParseYaml, ASecondDocumentIsRefused) {
  EXPECT_THAT(FaultsOf("a: 1\n---\nb: 2\n"),
              ElementsAre("f.yaml:2:1: got a second document, want one document a file"));
}

TEST(ParseYaml, KeysThatAreNoWordsAreRefused) {
  EXPECT_THAT(FaultsOf("[a, b]: 1\n"), ElementsAre("f.yaml:1:1: got a list or mapping as a key, want a word"));
  EXPECT_THAT(FaultsOf("~: 1\n"), ElementsAre("f.yaml:1:1: got no key, want a word"));
}

TEST(ParseYaml, BrokenSyntaxHasItsPlace) {
  // The bracket opens in line 2; the parser says where the text ends without closing it.
  EXPECT_THAT(FaultsOf("a: 1\nb: [1, 2\n"), ElementsAre(StartsWith("f.yaml:3:1: got text that is not YAML (")));
  EXPECT_THAT(FaultsOf("a: b: c\n"), ElementsAre("f.yaml:1:5: got text that is not YAML (illegal map value)"));
}

TEST(ParseYaml, DepthIsBounded) {
  std::string text;
  for (size_t i = 0; i < kMostYamlDepth; ++i) text += "- ";
  EXPECT_EQ(TreeOf(text + "x").kind, YamlNode::Kind::kList);
  EXPECT_THAT(FaultsOf(text + "- x"), ElementsAre("f.yaml:1:65: got deeper nesting, want at most 32 levels"));
}

TEST(ParseYaml, NumberOfValuesIsBounded) {
  std::string text;
  for (size_t i = 0; i + 1 < kMostYamlNodes; ++i) text += "- a\n";  // the list itself is one
  EXPECT_EQ(TreeOf(text).items.size(), kMostYamlNodes - 1);
  EXPECT_THAT(FaultsOf(text + "- a\n"),
              ElementsAre("f.yaml:100000:3: got more values than that, want at most 100000 a file"));
}

TEST(ParseYaml, SizeIsBounded) {
  const std::string comment(kMostYamlBytes, '#');
  EXPECT_EQ(TreeOf(comment).kind, YamlNode::Kind::kNothing);
  EXPECT_THAT(FaultsOf(comment + "#"),
              ElementsAre("f.yaml:1:1: got more than 1048576 bytes, want at most that many in one file"));
}

TEST(ParseYaml, BytesThatAreNotTextAreRefused) {
  EXPECT_THAT(FaultsOf("a: 1\nb: \xff\n"), ElementsAre("f.yaml:2:4: got the byte 0xff, want UTF-8 text"));
  EXPECT_THAT(FaultsOf(std::string_view("a: \0b", 5)),
              ElementsAre("f.yaml:1:4: got the byte 0x00, want text without control characters"));
  EXPECT_THAT(FaultsOf("a: \"\\x07\"\n"),
              ElementsAre("f.yaml:1:4: got the byte 0x07, want text without control characters"));
}

// A megabyte of each of these is what breaks recursive or quadratic readers. The slowest took 0.2 s when written; ten
// seconds each only catches what has become quadratic (hours), not a slow machine.
TEST(ParseYaml, HostileMegabytesEndSoon) {
  for (const std::string_view unit : {"[",   "{",    "- ",  "? ", "a: ",    "\"",  "'",    "&a ",  "*a ",    "!",
                                      "[a,", "{a,a", "|\n", "a,", "--- \n", "%T ", "<<: ", "- - ", "a:\n  ", "{a: "}) {
    std::string text;
    while (text.size() + unit.size() <= kMostYamlBytes) text += unit;
    const auto start = std::chrono::steady_clock::now();
    Violations violations;
    ParseYaml(text, "f.yaml", violations);
    EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(10)) << unit;
  }
}

TEST(Quoted, EscapesAndCuts) {
  EXPECT_EQ(Quoted("a\"\n"), "\"a\\\"\\n\"");
  EXPECT_EQ(Quoted(std::string(61, 'x')), absl::StrCat("\"", std::string(60, 'x'), "\"..."));
  EXPECT_EQ(Quoted(std::string(60, 'x')), absl::StrCat("\"", std::string(60, 'x'), "\""));
}

// Source: The Unicode Standard 15.0, table 3-7: first and last of every row, and their neighbours outside.
TEST(FindUtf8Fault, FollowsTheTableOfWellFormedSequences) {
  for (const char* good :
       {"\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xEC\xBF\xBF", "\xED\x80\x80", "\xED\x9F\xBF", "\xEE\x80\x80",
        "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF3\xBF\xBF\xBF", "\xF4\x8F\xBF\xBF"}) {
    EXPECT_FALSE(FindUtf8Fault(good).found) << good;
  }
  for (const char* bad :
       {"\x80", "\xC0\x80", "\xC1\xBF", "\xC2", "\xC2\x7F", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xEF\xBF",
        "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\xFF", "\xE1\x80\xC0"}) {
    EXPECT_TRUE(FindUtf8Fault(bad).found) << bad;
  }
}

TEST(FindUtf8Fault, CountsLinesAndByteColumns) {
  const Utf8Fault fault = FindUtf8Fault("a\n\xC3\xA9 \xFF");
  ASSERT_TRUE(fault.found);
  EXPECT_EQ(fault.line, 2);
  EXPECT_EQ(fault.column, 4);  // two bytes of the letter, one space
}

}  // namespace
}  // namespace scantling
