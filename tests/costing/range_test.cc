// Ranges of sums: identities of the log-normal, and a million draws of the model itself.

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>
#include <utility>

#include "server/costing/costing.h"
#include "tests/costing/mixes.h"

namespace scantling {
namespace {

constexpr double kP90 = 1.2815515655446004;  // erfc(-x / sqrt 2) / 2 = 0.9, checked below

RateCard OneClass(double cv, double show_cv, double shot_cv) {
  RateCard card;
  card.classes.resize(1);
  card.classes[0].tier[3].hours_cv = cv;
  card.classes[0].tier[3].core_cv = cv;
  card.show_cv_hours = show_cv;
  card.shot_cv_hours = shot_cv;
  return card;
}

TEST(CostMix, TotalAddsClassesTiersAndBase) {
  EXPECT_EQ(FullMix().total(), 850);
  EXPECT_EQ(PlanMix().total(), 305);
  EXPECT_EQ(CostMix(0).total(), 0);
}

TEST(RangeOf, NothingHasNoRange) {
  const Range range = RangeOf(CostMix(3), CostKind::kAnimHours, SpreadCard());
  EXPECT_EQ(range.mean, 0);
  EXPECT_EQ(range.p90, 0);
}

TEST(RangeOf, NoSpreadLeavesTheMeanEverywhere) {
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 12);
  const Range range = RangeOf(mix, CostKind::kAnimHours, OneClass(0, 0, 0));
  EXPECT_EQ(range.mean, 12);
  EXPECT_EQ(range.p10, 12);
  EXPECT_EQ(range.p50, 12);
  EXPECT_EQ(range.p90, 12);
}

// One figure is itself log-normal, so the match is exact: median = mean / sqrt(1 + cv^2), p90 / p50 = exp(1.28 s).
TEST(RangeOf, SingleFigureIsItsOwnLogNormal) {
  EXPECT_NEAR(std::erfc(-kP90 / std::sqrt(2.0)) / 2, 0.9, 1e-15);
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 100);
  const Range range = RangeOf(mix, CostKind::kAnimHours, OneClass(0.3, 0, 0));
  const double sigma = std::sqrt(std::log(1.09));
  EXPECT_NEAR(range.p50, 100 / std::sqrt(1.09), 1e-12);  // a few roundings of 100
  EXPECT_NEAR(range.p90 / range.p50, std::exp(kP90 * sigma), 1e-13);
  EXPECT_NEAR(range.p50 / range.p10, std::exp(kP90 * sigma), 1e-13);
}

// A product of log-normals is log-normal with 1 + cv^2 multiplied: 1.09 * 1.0225 * 1.04.
TEST(RangeOf, ShowAndShotFactorsMultiply) {
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 100);
  const Range range = RangeOf(mix, CostKind::kAnimHours, OneClass(0.3, 0.15, 0.2));
  EXPECT_NEAR(range.p50, 100 / std::sqrt(1.09 * 1.0225 * 1.04), 1e-12);
}

TEST(RangeOf, BaseCarriesTheCommonFactorsOnly) {
  CostMix mix(1);
  mix.AddBase(100);
  const Range range = RangeOf(mix, CostKind::kAnimHours, OneClass(0.3, 0.15, 0.2));
  EXPECT_NEAR(range.p50, 100 / std::sqrt(1.0225 * 1.04), 1e-12);
}

// Two equal, independent classes halve the squared spread: 1 + 0.09 / 2. Tiers of one class rise together: no change.
TEST(RangeOf, ClassesAverageOutAndTiersOfOneClassDoNot) {
  RateCard card = OneClass(0.3, 0, 0);
  card.classes[0].tier[2].hours_cv = 0.3;
  card.classes.push_back(card.classes[0]);
  CostMix apart(2), together(2);
  apart.Add(0, Tier::kFullRig, 50);
  apart.Add(1, Tier::kFullRig, 50);
  together.Add(0, Tier::kFullRig, 50);
  together.Add(0, Tier::kProxy, 50);
  EXPECT_NEAR(RangeOf(apart, CostKind::kAnimHours, card).p50, 100 / std::sqrt(1.045), 1e-12);
  EXPECT_NEAR(RangeOf(together, CostKind::kAnimHours, card).p50, 100 / std::sqrt(1.09), 1e-12);
}

TEST(RangeOf, CoreHoursUseTheirOwnSpreads) {
  RateCard card = OneClass(0.3, 0, 0);
  card.classes[0].tier[3].core_cv = 0.4;
  card.show_cv_core = 0.1;
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 100);
  EXPECT_NEAR(RangeOf(mix, CostKind::kCoreHours, card).p50, 100 / std::sqrt(1.16 * 1.01), 1e-12);
}

// The third department's people are as sure as animators: hours_cv and the show's and the shot's cv of hours.
TEST(RangeOf, OtherHoursSpreadAsAnimationHoursDo) {
  RateCard card = OneClass(0.3, 0.15, 0.2);
  card.classes[0].tier[3].core_cv = 0.8;
  card.show_cv_core = card.shot_cv_core = 0.7;
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 100);
  const Range range = RangeOf(mix, CostKind::kOtherHours, card);
  EXPECT_NEAR(range.p50, 100 / std::sqrt(1.09 * 1.0225 * 1.04), 1e-12);  // a few roundings of 100
  const Range hours = RangeOf(mix, CostKind::kAnimHours, card);
  EXPECT_EQ(range.p10, hours.p10);
  EXPECT_EQ(range.p90, hours.p90);
}

// Tolerances. Moments are matched exactly, so mean and standard deviation may differ by sampling alone: of a million
// draws with cv 0.33 the mean is off by 0.00033, the standard deviation (kurtosis about 5) by 0.001 relative; four
// times that is allowed. A sum of log-normals is not quite log-normal: for these mixes four million draws put p10 0.8%
// and 1.0% above the match, p50 and p90 0.2% to 0.4% below. 1.5% is allowed; leaving out any one factor moves p10 by 6%
// or more and p90 by 3.5% or more.
TEST(RangeOf, AgreesWithAMillionDraws) {
  const RateCard card = SpreadCard();
  const std::pair<CostMix, CostKind> cases[] = {{FullMix(), CostKind::kAnimHours}, {PlanMix(), CostKind::kOtherHours}};
  for (const auto& [mix, kind] : cases) {
    const std::vector<double> draws = DrawHours(mix, CostMix(3), card, 1'000'000);
    const Range range = RangeOf(mix, kind, card);
    const auto count = static_cast<double>(draws.size());
    const double mean = std::accumulate(draws.begin(), draws.end(), 0.0) / count;
    double squares = 0;
    for (const double draw : draws) squares += (draw - mean) * (draw - mean);
    const double deviation = std::sqrt(squares / count);
    // Of the matched log-normal: sigma from p90 / p50, deviation = mean sqrt(exp(sigma^2) - 1).
    const double sigma = std::log(range.p90 / range.p50) / kP90;
    EXPECT_NEAR(range.mean / mean, 1, 4 * 0.00033);
    EXPECT_NEAR(range.mean * std::sqrt(std::expm1(sigma * sigma)) / deviation, 1, 4 * 0.001);
    EXPECT_NEAR(range.p10 / QuantileOf(draws, 0.1), 1, 0.015);
    EXPECT_NEAR(range.p50 / QuantileOf(draws, 0.5), 1, 0.015);
    EXPECT_NEAR(range.p90 / QuantileOf(draws, 0.9), 1, 0.015);
  }
}

TEST(RangeOf, WiderSpreadsGiveWiderRanges) {
  CostMix mix(1);
  mix.Add(0, Tier::kFullRig, 100);
  double last = 0;
  for (const double cv : {0.0, 0.1, 0.2, 0.4, 0.8}) {
    const Range range = RangeOf(mix, CostKind::kAnimHours, OneClass(cv, 0.1, 0.1));
    EXPECT_GT(range.p90 / range.p10, last);
    EXPECT_LE(range.p10, range.p50);
    EXPECT_LE(range.p50, range.p90);
    EXPECT_EQ(range.mean, 100);
    last = range.p90 / range.p10;
  }
}

}  // namespace
}  // namespace scantling
