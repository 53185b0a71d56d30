// Tables for people: widths in columns of the terminal, by hand.

#include "client/command/table.h"

#include <gtest/gtest.h>

#include "client/library/utf8.h"

namespace scantling::client {
namespace {

TEST(TextTable, PadsByWhatIsDrawnNotByBytes) {
  TextTable table({{"object"}, {"hours", Align::kRight}});
  table.AddRow({"fähre", "9"});
  table.AddRow({"渡し船", "10"});
  EXPECT_EQ(table.Text(),
            "  object  hours\n"
            "  fähre       9\n"
            "  渡し船     10\n");
}

TEST(TextTable, EmptyTableIsItsHeading) {
  TextTable table({{"a"}, {"b"}});
  EXPECT_TRUE(table.empty());
  EXPECT_EQ(table.Text(), "  a  b\n");
}

TEST(TextTable, LongCellsAreCutWhereTheColumnSaysSo) {
  TextTable table({{"object", Align::kLeft, 8}, {"why"}});
  table.AddRow({"lamplighter_01", "x"});
  EXPECT_EQ(table.Text(),
            "  object    why\n"
            "  lamplig…  x\n");
}

TEST(TextTable, LastColumnWrapsUnderItself) {
  TextTable table({{"id"}, {"why"}});
  std::string words;
  for (int i = 0; i < 40; ++i) words += "word ";  // 199 columns and a blank
  table.AddRow({"a", words});
  const std::string text = table.Text();
  size_t begin = 0;
  int lines = 0;
  while (begin < text.size()) {
    const size_t end = text.find('\n', begin);
    const std::string line = text.substr(begin, end - begin);
    EXPECT_LE(ColumnsOf(line), kLineColumns);
    EXPECT_NE(line.back(), ' ');
    if (++lines > 2) {
      EXPECT_EQ(line.substr(0, 6), "      ");
    }  // two of indent, two of "id", two of gap
    begin = end + 1;
  }
  // The column has 118 - 6 = 112 places: 22 words of 4 with 21 blanks are 109, so 40 words take two lines; and the
  // heading.
  EXPECT_EQ(lines, 3);
}

TEST(TextTable, ControlCharactersInCellsAreShown) {
  TextTable table({{"object"}});
  table.AddRow({"a\x1B[2Jb"});
  EXPECT_EQ(table.Text(), "  object\n  a\\x1b[2Jb\n");
}

TEST(TextTable, RowsOfAnotherLengthAreMadeToFit) {
  TextTable table({{"a"}, {"b"}});
  table.AddRow({"1"});
  table.AddRow({"1", "2", "3"});
  EXPECT_EQ(table.Text(), "  a  b\n  1\n  1  2\n");
}

TEST(Wrapped, BreaksBetweenWordsOnly) {
  EXPECT_EQ(Wrapped("one two three", 7), (std::vector<std::string>{"one two", "three"}));
  EXPECT_EQ(Wrapped("immeasurably long", 5), (std::vector<std::string>{"immeasurably", "long"}));
  EXPECT_EQ(Wrapped("", 5), std::vector<std::string>{""});
}

}  // namespace
}  // namespace scantling::client
