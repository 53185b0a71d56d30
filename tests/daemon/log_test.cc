#include "server/daemon/log.h"

#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

namespace scantling {
namespace {

// 2026-03-01 09:30:12.345 UTC is 20,513 days (56 years, 14 of them leap, and 59 days after 1970-01-01) and 34,212.345
// s.
LogEvent At(LogLevel level, LogFields fields) {
  return {std::chrono::system_clock::time_point(std::chrono::milliseconds(20'513LL * 86'400'000 + 34'212'345)), level,
          "call", std::move(fields)};
}

TEST(HumanLine, HoldsTimeLevelEventAndFields) {
  EXPECT_EQ(HumanLine(At(LogLevel::kInfo, {{"shot", "qy_010"}, {"objects", int64_t{5}}, {"ms", 1.5}})),
            "2026-03-01 09:30:12.345 info    call shot=qy_010 objects=5 ms=1.5");
}

TEST(HumanLine, QuotesWhatCouldBeReadAsSomethingElse) {
  EXPECT_EQ(
      HumanLine(At(LogLevel::kError, {{"a", "two words"}, {"b", ""}, {"c", "x=y"}, {"d", "line\nbreak\x1b[31m"}})),
      "2026-03-01 09:30:12.345 error   call a=\"two words\" b=\"\" c=\"x=y\" d=\"line\\nbreak\\u001b[31m\"");
}

TEST(JsonLine, ReadsBackAsSent) {
  const std::string hostile = "\"}\n{\"level\":\"error\" \\ \t \x01 \xc3\xa9";
  const auto line = JsonLine(At(LogLevel::kWarning, {{"shot", hostile}, {"objects", int64_t{5}}, {"ms", 1.5}}));
  EXPECT_EQ(line.find('\n'), std::string::npos);
  const auto read = nlohmann::json::parse(line);
  EXPECT_EQ(read["time"], "2026-03-01T09:30:12.345Z");
  EXPECT_EQ(read["level"], "warning");
  EXPECT_EQ(read["event"], "call");
  EXPECT_EQ(read["shot"], hostile);
  EXPECT_EQ(read["objects"], 5);
  EXPECT_EQ(read["ms"], 1.5);
}

TEST(JsonLine, BytesThatAreNoUtf8AreReplaced) {
  const auto read = nlohmann::json::parse(JsonLine(At(LogLevel::kInfo, {{"shot", "a\xff"}})));
  EXPECT_EQ(read["shot"], "a\xef\xbf\xbd");
}

TEST(JsonLine, InfinityBecomesNull) {
  const auto read =
      nlohmann::json::parse(JsonLine(At(LogLevel::kInfo, {{"ms", std::numeric_limits<double>::infinity()}})));
  EXPECT_TRUE(read["ms"].is_null());
}

}  // namespace
}  // namespace scantling
