// Records by the rules of RFC 4180 section 2, and what is no such record.

#include "client/command/csv_read.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/command/csv.h"

namespace scantling::client {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

std::vector<CsvRow> Rows(std::string_view text) {
  std::vector<CsvRow> rows;
  CsvReader reader(text);
  CsvRow row;
  while (reader.Next(row)) rows.push_back(row);
  return rows;
}

TEST(CsvReader, TakesBothLineEndsAndALastRecordWithoutOne) {
  const auto rows = Rows("a,b\r\nc,\nd");
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_THAT(rows[0].cells, ElementsAre("a", "b"));
  EXPECT_THAT(rows[1].cells, ElementsAre("c", ""));
  EXPECT_THAT(rows[2].cells, ElementsAre("d"));
  EXPECT_EQ(rows[2].line, 3);
  EXPECT_TRUE(Rows("").empty());
}

TEST(CsvReader, ReadsBackWhatTheWriterQuotes) {
  const std::vector<std::string> cells = {"plain", "a,b", "say \"no\"", "two\nlines", "", "\"", "end\r\n"};
  std::vector<std::string> quoted;
  for (const std::string& cell : cells) quoted.push_back(CsvCell(cell));
  const auto rows = Rows(CsvRecord(quoted) + CsvRecord({"next"}));
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[0].cells, cells);
  EXPECT_EQ(rows[0].fault, "");
  EXPECT_EQ(rows[1].line, 4);  // two quoted cells hold a line break each
}

TEST(CsvReader, ByteOrderMarkIsNotPartOfTheFirstCell) {
  EXPECT_THAT(Rows("\xEF\xBB\xBFobject_id,tier\n")[0].cells, ElementsAre("object_id", "tier"));
}

TEST(CsvReader, StrayQuotesAreFaultsOfTheirRecordOnly) {
  const auto rows = Rows("a\"b,c\n\"d\"e,f\n\"g\nh,i\n");
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_THAT(rows[0].fault, HasSubstr("quote in the middle of a cell"));
  EXPECT_THAT(rows[1].fault, HasSubstr("text behind a closing quote"));
  EXPECT_THAT(rows[2].fault, HasSubstr("never closed"));
  EXPECT_EQ(rows[2].line, 3);
}

}  // namespace
}  // namespace scantling::client
