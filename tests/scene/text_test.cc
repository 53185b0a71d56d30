#include "server/scene/text.h"

#include <gtest/gtest.h>

#include <string>

#include "server/scene/faults.h"

namespace scantling {
namespace {

TEST(IsPlainText, AcceptsLettersOfEveryLength) {
  EXPECT_TRUE(IsPlainText(""));
  EXPECT_TRUE(IsPlainText("crowd/person_000123"));
  EXPECT_TRUE(IsPlainText("quai_n\xC3\xA9on"));           // U+00E9
  EXPECT_TRUE(IsPlainText("\xE7\x81\xAF"));               // U+706F
  EXPECT_TRUE(IsPlainText("lamp\xF0\x9F\x94\xA6_left"));  // U+1F526
}

// Unicode Standard 15.0, table 3-7: the first and last of each row, and what lies just outside.
TEST(IsPlainText, FollowsTheTableOfWellFormedSequences) {
  for (const char* good : {"\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80", "\xEF\xBF\xBF",
                           "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"}) {
    EXPECT_TRUE(IsPlainText(good)) << testing::PrintToString(std::string(good));
  }
  for (const char* bad : {"\xC1\xBF", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xED\xBF\xBF", "\xF0\x8F\xBF\xBF",
                          "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\x80", "\xC2", "\xE2\x82", "\xC2 "}) {
    EXPECT_FALSE(IsPlainText(bad)) << testing::PrintToString(std::string(bad));
  }
}

TEST(IsPlainText, FindsOneBadByteAtEveryPositionOfALongText) {
  for (const char bad : {'\x01', '\x1F', '\x7F', '\xFF'}) {
    for (size_t at = 0; at < 24; ++at) {
      std::string text(24, 'a');
      text[at] = bad;
      EXPECT_FALSE(IsPlainText(text)) << at;
    }
  }
}

TEST(IsPlainText, EveryPrintableAsciiCharacterIsFine) {
  std::string text;
  for (char c = 0x20; c < 0x7F; ++c) text += c;
  EXPECT_TRUE(IsPlainText(text));
}

TEST(NameFault, SaysWhatIsWrong) {
  EXPECT_EQ(NameFault("lamp", 1, 1024), "");
  EXPECT_EQ(NameFault("", 0, 1024), "");
  EXPECT_EQ(NameFault("", 1, 1024), "got nothing, want a name of 1 to 1024 bytes");
  EXPECT_EQ(NameFault(std::string(1025, 'x'), 1, 1024), "got 1025, want at most 1024 bytes");
  EXPECT_EQ(NameFault("ab\xFF", 1, 1024), "got \"ab\\xff\", want UTF-8 text (byte 2 is 0xff)");
  EXPECT_EQ(NameFault("a\nb", 1, 1024), "got \"a\\nb\", want text without control characters (byte 1 is 0x0a)");
}

TEST(RemarkFault, AllowsLinesButNoOtherControlCharacter) {
  EXPECT_EQ(RemarkFault("one\n\ttwo\r\n", 4096), "");
  EXPECT_EQ(RemarkFault("a\x1B", 4096), "got \"a\\x1b\", want text without control characters (byte 1 is 0x1b)");
  EXPECT_EQ(RemarkFault(std::string(5000, 'x'), 4096), "got 5000, want at most 4096 bytes");
}

TEST(QuotedText, CutsLongTextAndEscapesWhatCannotBeShown) {
  EXPECT_EQ(QuotedText("lamp"), "\"lamp\"");
  EXPECT_EQ(QuotedText(std::string(70, 'x')), "\"" + std::string(64, 'x') + "...\"");
  EXPECT_EQ(QuotedText("a\"b"), "\"a\\\"b\"");
}

TEST(UnknownClass, SuggestsTheNearestName) {
  ClassCatalogue catalogue;
  for (const char* name : {"person", "vehicle", "vessel"}) {
    catalogue.classes.emplace_back();
    catalogue.classes.back().name = name;
  }
  // persn -> person: 1 insertion; vesel -> vessel: 1 insertion; vehicl -> vehicle: 1 insertion.
  EXPECT_EQ(UnknownClass("persn", catalogue), "got \"persn\", want a class of the catalogue (nearest: \"person\")");
  EXPECT_EQ(UnknownClass("vesel", catalogue), "got \"vesel\", want a class of the catalogue (nearest: \"vessel\")");
  EXPECT_EQ(UnknownClass("vehicl", catalogue), "got \"vehicl\", want a class of the catalogue (nearest: \"vehicle\")");
}

}  // namespace
}  // namespace scantling
