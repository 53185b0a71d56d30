// Totals by hand from the small shot's figures.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/answer/answered.h"

namespace scantling {
namespace {

using testing::Answered;
using testing::MakeSmallShot;
using testing::SmallShot;

TEST(Totals, CountsByTierAddUpToTheObjects) {
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b", .loss = {1, 0, 0, 0}}, {.id = "c", .loss = {}}}));
  const Totals& totals = answered.plan().totals;
  EXPECT_EQ(totals.objects, 3);
  EXPECT_EQ(totals.count, (PerTier<int64_t>{1, 1, 0, 1}));
}

TEST(Totals, MeansAreTheSumsOfTheChosenRows) {
  // a at FULL_RIG 4 h, b at COLOUR_PATCH 1 h; everything full 8 h. Doubles of this size add exactly.
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b", .loss = {1, 0, 0, 0}}}));
  const Totals& totals = answered.plan().totals;
  EXPECT_DOUBLE_EQ(totals.plan.anim_hours.mean, 5);
  EXPECT_DOUBLE_EQ(totals.everything_full.anim_hours.mean, 8);
  EXPECT_DOUBLE_EQ(totals.plan.core_hours.mean, 2.5);
  EXPECT_DOUBLE_EQ(totals.animator_weeks, 5.0 / 40);
}

TEST(Totals, UnseenPlanBuysNothing) {
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b", .loss = {1, 0, 0, 0}}}));
  EXPECT_EQ(answered.plan().totals.bought_saving.anim_hours.mean, 0);
  EXPECT_EQ(answered.plan().totals.loss, 0);
  EXPECT_EQ(answered.plan().totals.gap, 0);
}

TEST(Totals, BudgetBuysTheDifferenceToTheUnseenPlan) {
  // Unseen: 4 + 4 h. With 6 h one of the two is a PROXY: 6 h, loss 1.
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b"}}), {.anim_hours = 6, .core_hours = std::nullopt});
  const Totals& totals = answered.plan().totals;
  // Without spread (no coefficient of variation in the small rate card) every draw is the mean.
  EXPECT_NEAR(totals.bought_saving.anim_hours.mean, 2, 1e-12);
  EXPECT_NEAR(totals.loss, 1, 1e-12);
  EXPECT_TRUE(totals.proved_optimal);
  EXPECT_LE(totals.loss_bound, totals.loss);
}

TEST(Totals, AnimatedSecondsCountOnlyWhatNeedsAnimation) {
  // One figure and one house, 24 animated frames each at 24 a second.
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b", .class_index = 1}}));
  EXPECT_DOUBLE_EQ(answered.plan().totals.animated_seconds, 1);
}

TEST(Totals, LimitsTellWhatMayBeAndIsSpent) {
  Budgets budgets;
  budgets.anim_hours = 6;
  const Answered answered(MakeSmallShot({{.id = "a"}, {.id = "b"}}), budgets);
  const std::vector<LimitFigures>& limits = answered.plan().totals.limits;
  ASSERT_EQ(limits.size(), 1u);
  EXPECT_EQ(limits[0].resource.kind, LimitKind::kAnimHours);
  EXPECT_NEAR(limits[0].most, 6, 1e-9);
  EXPECT_NEAR(limits[0].used, 6, 1e-9);
  // From 6 h on, two hours more win back one frame-octave: b at FULL_RIG.
  EXPECT_NEAR(limits[0].price, 0.5, 1e-6);
  EXPECT_NEAR(answered.plan().totals.price_anim_hour, 0.5, 1e-6);
}

TEST(Totals, WithoutAThirdDepartmentNothingIsToldOfIt) {
  const Answered answered(MakeSmallShot({{.id = "a"}}));
  EXPECT_EQ(answered.plan().totals.plan.other_hours.mean, 0);
  EXPECT_EQ(answered.of("a").other_hours, 0);
}

TEST(Totals, ThirdDepartmentIsSummedAsTheOthersAre) {
  SmallShot shot = MakeSmallShot({{.id = "a"}, {.id = "b", .loss = {1, 0, 0, 0}}});
  shot.policy.rates.other_department = "effects";
  shot.policy.rates.money_per_other_hour = 40;
  shot.costs.other_hours.assign(2, {0, 0.25, 0.5, 3});
  shot.costs.full_other_hours.assign(2, 5);
  // a at FULL_RIG 3 h, b at COLOUR_PATCH 0.25 h; everything full 10 h.
  const Answered answered(std::move(shot));
  EXPECT_DOUBLE_EQ(answered.plan().totals.plan.other_hours.mean, 3.25);
  EXPECT_DOUBLE_EQ(answered.plan().totals.everything_full.other_hours.mean, 10);
  EXPECT_DOUBLE_EQ(answered.of("b").other_hours, 0.25);
}

}  // namespace
}  // namespace scantling
