// Every value of the proto's enums has a word of its own.

#include "client/command/words.h"

#include <gtest/gtest.h>

#include <set>
#include <string>

namespace scantling::client {
namespace {

TEST(Words, EveryEnumValueHasItsOwn) {
  std::set<std::string> tiers, reasons, terms;
  for (int i = 1; i <= v1::Tier_MAX; ++i) tiers.insert(TierWord(static_cast<v1::Tier>(i)));
  for (int i = 1; i <= v1::Reason_MAX; ++i) reasons.insert(ReasonPhrase(static_cast<v1::Reason>(i)));
  for (int i = 1; i <= v1::FloorTerm_MAX; ++i) terms.insert(FloorTermWord(static_cast<v1::FloorTerm>(i)));
  EXPECT_EQ(tiers.size(), size_t{v1::Tier_MAX});
  EXPECT_EQ(reasons.size(), size_t{v1::Reason_MAX});
  EXPECT_EQ(terms.size(), size_t{v1::FloorTerm_MAX});
  EXPECT_EQ(tiers.count("unknown tier") + reasons.count("unknown reason"), 0u);
}

TEST(Words, ValuesOfALaterDaemonAreCalledUnknown) {
  EXPECT_STREQ(TierWord(static_cast<v1::Tier>(99)), "unknown tier");
  EXPECT_STREQ(ReasonPhrase(static_cast<v1::Reason>(99)), "unknown reason");
}

TEST(BudgetsText, NamesWhatIsLimitedAndNothingElse) {
  v1::PlanOptions options;
  EXPECT_EQ(BudgetsText(options, "effects"), "");
  options.set_core_hours(0);
  EXPECT_EQ(BudgetsText(options, "effects"), "0 core-hours");
  options.set_other_hours(30);
  EXPECT_EQ(BudgetsText(options, "effects"), "0 core-hours and 30.0 effects-hours");
}

FrameRanges Ranges() {
  FrameRanges ranges;
  for (const auto& [first, last] : {std::pair(1, 10), {12, 12}, {20, 24}}) {
    v1::FrameRange* range = ranges.Add();
    range->set_first(first);
    range->set_last(last);
  }
  return ranges;
}

TEST(FramesText, RangesSingleFramesAndTheRest) {
  EXPECT_EQ(FramesText(Ranges(), 9), "1-10 12 20-24");
  EXPECT_EQ(FramesText(Ranges(), 1), "1-10 and 2 more");
  EXPECT_EQ(FramesText({}, 1), "");
}

TEST(FrameCount, EndsAreInclusive) { EXPECT_EQ(FrameCount(Ranges()), 10 + 1 + 5); }

}  // namespace
}  // namespace scantling::client
