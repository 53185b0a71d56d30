// UTF-8 against the Unicode Standard's own table of well-formed sequences (15.0, table 3-7) and hand-counted widths.

#include "client/library/utf8.h"

#include <gtest/gtest.h>

namespace scantling::client {
namespace {

TEST(IsUtf8, TakesTheEndsOfEveryRowOfTable37) {
  for (const char* text : {"", "a", "\x7F", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80",
                           "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"}) {
    EXPECT_TRUE(IsUtf8(text)) << text;
  }
}

TEST(IsUtf8, RefusesWhatLiesJustOutsideTable37) {
  // Lone continuation, overlong two, three and four bytes, surrogates, above U+10FFFF, cut short.
  for (const char* text : {"\x80", "\xC0\x80", "\xC1\xBF", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xF0\x8F\xBF\xBF",
                           "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\xC2", "\xE2\x82", "\xF0\x9F\x98", "a\xFF"}) {
    EXPECT_FALSE(IsUtf8(text));
  }
}

TEST(FirstCodePoint, DecodesTheEuroSign) {
  const CodePoint point = FirstCodePoint("\xE2\x82\xAC!");  // U+20AC: 0x2 << 12 | 0x02 << 6 | 0x2C
  EXPECT_TRUE(point.valid);
  EXPECT_EQ(point.bytes, 3u);
  EXPECT_EQ(point.value, char32_t{0x20AC});
}

TEST(ColumnsOf, CountsWhatIsDrawnRatherThanBytes) {
  EXPECT_EQ(ColumnsOf(""), 0);
  EXPECT_EQ(ColumnsOf("ferry"), 5);
  EXPECT_EQ(ColumnsOf("fähre"), 5);        // a precomposed letter is one column
  EXPECT_EQ(ColumnsOf("fa\u0308hre"), 5);  // a combining mark is none
  EXPECT_EQ(ColumnsOf("渡し船"), 6);       // three wide characters
  EXPECT_EQ(ColumnsOf("\xFF"), 1);         // an ill-formed byte holds a place
}

TEST(Printable, ShowsWhatWouldSteerATerminal) {
  EXPECT_EQ(Printable("a\x1B[31mb"), "a\\x1b[31mb");
  EXPECT_EQ(Printable("a\nb\x7F"), "a\\x0ab\\x7f");
  EXPECT_EQ(Printable("\u202Eabc"), "\\xe2\\x80\\xaeabc");  // right-to-left override
  EXPECT_EQ(Printable("bad \xC3"), "bad \\xc3");
  EXPECT_EQ(Printable("fähre 渡"), "fähre 渡");
}

TEST(CutToColumns, KeepsWholeCharactersWithinTheColumns) {
  EXPECT_EQ(CutToColumns("lamplighter", 11), "lamplighter");
  EXPECT_EQ(CutToColumns("lamplighter", 5), "lamp…");
  EXPECT_EQ(CutToColumns("渡し船", 4), "渡…");  // two wide characters and the mark would be five
  EXPECT_EQ(CutToColumns("渡し船", 5), "渡し…");
  EXPECT_EQ(CutToColumns("abc", 0), "");
}

}  // namespace
}  // namespace scantling::client
