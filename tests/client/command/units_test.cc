// Units by hand arithmetic, and figures that claim no more than they know.

#include "client/command/units.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace scantling::client {
namespace {

v1::Decision AnimatedOver(int32_t first, int32_t last) {
  v1::Decision decision;
  v1::FrameRange* range = decision.add_animated();
  range->set_first(first);
  range->set_last(last);
  decision.set_anim_hours(80);
  return decision;
}

TEST(FeetOf, SixteenFramesMakeAFoot) {
  EXPECT_EQ(FeetOf(16), 1);
  EXPECT_EQ(FeetOf(240), 15);  // 240 / 16
  EXPECT_EQ(FeetOf(0), 0);
}

TEST(SecondsOf, FramesOverTheRate) {
  EXPECT_EQ(SecondsOf(240, {40, 24}), 10);  // 240 / 24
  EXPECT_EQ(SecondsOf(240, {40, 0}), 0);    // no rate, no seconds
}

TEST(AmountOf, OneDecisionInEveryUnit) {
  // Frames 1001 to 1240 are 240 frames: 15 feet, 10 seconds at 24 a second. 80 hours are 2 weeks of 40.
  const v1::Decision decision = AnimatedOver(1001, 1240);
  const WorkRates rates = {40, 24};
  EXPECT_EQ(AmountOf(decision, WorkUnit::kHours, rates), 80);
  EXPECT_EQ(AmountOf(decision, WorkUnit::kWeeks, rates), 2);
  EXPECT_EQ(AmountOf(decision, WorkUnit::kSeconds, rates), 10);
  EXPECT_EQ(AmountOf(decision, WorkUnit::kFeet, rates), 15);
  EXPECT_EQ(AmountOf(decision, WorkUnit::kWeeks, WorkRates{0, 24}), 0);
}

TEST(AmountOf, TotalsInFeetAreSecondsTimesRateOverSixteen) {
  v1::Totals totals;
  totals.set_animated_seconds(100);
  EXPECT_EQ(AmountOf(totals, WorkUnit::kFeet, WorkRates{40, 24}), 150);  // 100 * 24 / 16
}

TEST(WorkUnitOf, KnowsFourNamesAndNoOther) {
  EXPECT_EQ(WorkUnitOf("hours"), WorkUnit::kHours);
  EXPECT_EQ(WorkUnitOf("weeks"), WorkUnit::kWeeks);
  EXPECT_EQ(WorkUnitOf("seconds"), WorkUnit::kSeconds);
  EXPECT_EQ(WorkUnitOf("feet"), WorkUnit::kFeet);
  EXPECT_EQ(WorkUnitOf("Hours"), std::nullopt);
  EXPECT_EQ(WorkUnitOf(""), std::nullopt);
}

TEST(Figure, TwoSignificantDigits) {
  EXPECT_EQ(Figure(0), "0");
  EXPECT_EQ(Figure(0.01), "<0.1");
  EXPECT_EQ(Figure(0.44), "0.4");
  EXPECT_EQ(Figure(3.14), "3.1");
  EXPECT_EQ(Figure(9.96), "10");
  EXPECT_EQ(Figure(38.4), "38");
  EXPECT_EQ(Figure(99.6), "100");
  EXPECT_EQ(Figure(1234), "1,200");
  EXPECT_EQ(Figure(987654), "990,000");
  EXPECT_EQ(Figure(-1234), "-1,200");
  EXPECT_EQ(Figure(-0.01), ">-0.1");
}

TEST(Figure, WhatIsNoNumberSaysSo) {
  EXPECT_EQ(Figure(std::nan("")), "?");
  EXPECT_EQ(Figure(std::numeric_limits<double>::infinity()), "unlimited");
  EXPECT_EQ(Figure(1e300), "1e+300");
}

TEST(Measured, ThreeDigitsBelowAThousandAndWholeNumbersAbove) {
  EXPECT_EQ(Measured(0), "0");
  EXPECT_EQ(Measured(0.01234), "0.0123");
  EXPECT_EQ(Measured(9.999), "10.0");
  EXPECT_EQ(Measured(123.4), "123");
  EXPECT_EQ(Measured(1234.6), "1,235");
  EXPECT_EQ(Measured(1e-9), "1e-09");
}

TEST(Count, ThousandsAreMarked) {
  EXPECT_EQ(Count(0), "0");
  EXPECT_EQ(Count(999), "999");
  EXPECT_EQ(Count(1000), "1,000");
  EXPECT_EQ(Count(-1234567), "-1,234,567");
}

}  // namespace
}  // namespace scantling::client
