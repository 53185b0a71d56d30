// Savings: both sides on the same draws.

#include <gtest/gtest.h>

#include <cmath>

#include "server/costing/costing.h"
#include "tests/costing/mixes.h"

namespace scantling {
namespace {

TEST(SavingOf, EqualSidesSaveExactlyNothing) {
  const Range saving = SavingOf(FullMix(), FullMix(), CostKind::kAnimHours, SpreadCard());
  EXPECT_EQ(saving.mean, 0);
  EXPECT_EQ(saving.p10, 0);
  EXPECT_EQ(saving.p50, 0);
  EXPECT_EQ(saving.p90, 0);
}

TEST(SavingOf, BaseOnBothSidesCancels) {
  CostMix full = FullMix(), plan = PlanMix();
  const Range before = SavingOf(full, plan, CostKind::kAnimHours, SpreadCard());
  full.AddBase(1000);
  plan.AddBase(1000);
  const Range after = SavingOf(full, plan, CostKind::kAnimHours, SpreadCard());
  EXPECT_EQ(after.p10, before.p10);
  EXPECT_EQ(after.p90, before.p90);
}

TEST(SavingOf, MeanIsExact) {
  EXPECT_EQ(SavingOf(FullMix(), PlanMix(), CostKind::kAnimHours, SpreadCard()).mean, 850 - 305);
}

TEST(SavingOf, RepeatsBitForBit) {
  const Range first = SavingOf(FullMix(), PlanMix(), CostKind::kAnimHours, SpreadCard());
  const Range second = SavingOf(FullMix(), PlanMix(), CostKind::kAnimHours, SpreadCard());
  EXPECT_EQ(first.p10, second.p10);
  EXPECT_EQ(first.p50, second.p50);
  EXPECT_EQ(first.p90, second.p90);
}

TEST(SavingOf, NoSpreadLeavesTheDifferenceEverywhere) {
  RateCard card;
  card.classes.resize(3);
  const Range saving = SavingOf(FullMix(), PlanMix(), CostKind::kCoreHours, card);
  // Sums of a dozen figures below 1000 in another order: a few ulp of 1000.
  EXPECT_NEAR(saving.p10, 545, 1e-12);
  EXPECT_NEAR(saving.p90, 545, 1e-12);
}

TEST(SavingOf, ScalesWithTheFigures) {
  CostMix full(3), plan(3);
  full.Add(1, Tier::kFullRig, 10);
  plan.Add(1, Tier::kProxy, 4);
  const Range one = SavingOf(full, plan, CostKind::kAnimHours, SpreadCard());
  full.Add(1, Tier::kFullRig, 30);
  plan.Add(1, Tier::kProxy, 12);
  const Range four = SavingOf(full, plan, CostKind::kAnimHours, SpreadCard());
  EXPECT_DOUBLE_EQ(four.p10, 4 * one.p10);
  EXPECT_DOUBLE_EQ(four.p90, 4 * one.p90);
}

// Saving everything is the full cost itself: the quantiles of its exact log-normal. 4096 draws place a quantile q
// within sqrt(q (1 - q) / 4096) of its share, so the value within that over the density times the value: for sigma =
// 0.37 (cv 0.3 with 0.15 and 0.2) 0.98% at p10 and p90, 0.73% at p50; three times that is allowed.
TEST(SavingOf, SavingAllOfOneFigureHasItsLogNormalQuantiles) {
  const RateCard card = SpreadCard();
  CostMix full(3);
  full.Add(1, Tier::kFullRig, 100);
  const Range saving = SavingOf(full, CostMix(3), CostKind::kAnimHours, card);
  const Range exact = RangeOf(full, CostKind::kAnimHours, card);
  EXPECT_NEAR(saving.p10 / exact.p10, 1, 3 * 0.0098);
  EXPECT_NEAR(saving.p50 / exact.p50, 1, 3 * 0.0073);
  EXPECT_NEAR(saving.p90 / exact.p90, 1, 3 * 0.0098);
}

// The same tolerance as above, since spread and number of draws are alike; the million draws add a fifteenth of it.
TEST(SavingOf, AgreesWithAMillionDraws) {
  const RateCard card = SpreadCard();
  const std::vector<double> draws = DrawHours(FullMix(), PlanMix(), card, 1'000'000);
  const Range saving = SavingOf(FullMix(), PlanMix(), CostKind::kAnimHours, card);
  EXPECT_NEAR(saving.p10 / QuantileOf(draws, 0.1), 1, 0.03);
  EXPECT_NEAR(saving.p50 / QuantileOf(draws, 0.5), 1, 0.03);
  EXPECT_NEAR(saving.p90 / QuantileOf(draws, 0.9), 1, 0.03);
}

// Two independent sums would have the spread of both; shared draws make the saving surer than that.
TEST(SavingOf, IsNarrowerThanADifferenceOfIndependentSums) {
  const RateCard card = SpreadCard();
  CostMix full(3), plan(3);
  full.Add(1, Tier::kFullRig, 100);
  plan.Add(1, Tier::kFullRig, 90);
  const Range saving = SavingOf(full, plan, CostKind::kAnimHours, card);
  const Range whole = RangeOf(full, CostKind::kAnimHours, card);
  // One class, one spread: the saving is a tenth of the full cost in every draw; tolerance of the draws as above.
  EXPECT_NEAR((saving.p90 - saving.p10) / (whole.p90 - whole.p10), 0.1, 0.1 * 0.06);
}

TEST(SavingOf, GrowsWithWhatIsSaved) {
  const RateCard card = SpreadCard();
  double last_p10 = -1, last_p90 = -1;
  for (const double kept : {400.0, 300.0, 200.0, 0.0}) {
    CostMix plan(3);
    plan.Add(0, Tier::kFullRig, kept);
    CostMix full(3);
    full.Add(0, Tier::kFullRig, 400);
    const Range saving = SavingOf(full, plan, CostKind::kAnimHours, card);
    EXPECT_GT(saving.p10, last_p10);
    EXPECT_GT(saving.p90, last_p90);
    last_p10 = saving.p10;
    last_p90 = saving.p90;
  }
}

}  // namespace
}  // namespace scantling
