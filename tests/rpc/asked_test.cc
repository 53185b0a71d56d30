#include "server/rpc/asked.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace scantling {
namespace {

using ::testing::ElementsAre;

Policy TwoStyles() {
  Policy policy;
  policy.styles.resize(2);
  policy.styles[0].name = "ink";
  policy.styles[1].name = "lensed";
  policy.default_style = "ink";
  return policy;
}

TEST(ReadAsked, StyleIsTheOptionsElseTheShotsElseTheDefault) {
  const Policy policy = TwoStyles();
  Violations violations;
  v1::PlanOptions options;
  EXPECT_EQ(ReadAsked(options, "", policy, violations).style, &policy.styles[0]);
  EXPECT_EQ(ReadAsked(options, "lensed", policy, violations).style, &policy.styles[1]);
  options.set_style("ink");
  EXPECT_EQ(ReadAsked(options, "lensed", policy, violations).style, &policy.styles[0]);
  EXPECT_TRUE(violations.empty());
}

TEST(ReadAsked, NoBudgetIsNotABudgetOfZero) {
  const Policy policy = TwoStyles();
  Violations violations;
  v1::PlanOptions options;
  EXPECT_TRUE(ReadAsked(options, "", policy, violations).plan.budgets.unseen_mode());
  options.set_core_hours(0);
  const Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_FALSE(asked.plan.budgets.anim_hours.has_value());
  EXPECT_EQ(asked.plan.budgets.core_hours, 0);
  EXPECT_TRUE(violations.empty());
}

TEST(ReadAsked, EveryFaultIsNotedAndCounted) {
  const Policy policy = TwoStyles();
  Violations violations;
  violations.Add("objects[0].id", "of the shot");
  v1::PlanOptions options;
  options.set_anim_hours(std::nan(""));
  options.set_core_hours(1.5e9);
  options.set_target_gap(1.5);
  options.set_style("woodcut");
  const Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_EQ(asked.style, nullptr);
  EXPECT_EQ(asked.faults, 4u);
  EXPECT_EQ(violations.count(), 5u);
  EXPECT_EQ(violations.listed()[1], (Violation{"options.anim_hours", "got nan, want a number from 0 to 1e+09"}));
  EXPECT_EQ(violations.listed()[2], (Violation{"options.core_hours", "got 1.5e+09, want a number from 0 to 1e+09"}));
  EXPECT_EQ(violations.listed()[3], (Violation{"options.target_gap", "got 1.5, want a number from 0 to 1"}));
  EXPECT_EQ(violations.listed()[4], (Violation{"options.style", "got \"woodcut\", want one of ink, lensed"}));
}

Policy WithEffects() {
  Policy policy = TwoStyles();
  policy.rates.other_department = "effects";
  return policy;
}

// Field and description of every fault, "field: description".
std::vector<std::string> Texts(const Violations& violations) {
  std::vector<std::string> texts;
  for (const Violation& fault : violations.listed()) texts.push_back(fault.field + ": " + fault.description);
  return texts;
}

void AddEarlier(v1::PlanOptions& options, const std::string& id, v1::Tier tier) {
  v1::EarlierDecision& earlier = *options.add_earlier();
  earlier.set_object_id(id);
  earlier.set_tier(tier);
}

TEST(ReadAsked, EveryOptionReachesTheRequest) {
  const Policy policy = WithEffects();
  v1::PlanOptions options;
  options.set_anim_hours(100);
  options.set_core_hours(20);
  options.set_other_hours(3);
  options.set_memory_mb(4096);
  options.set_target_gap(0.01);
  options.set_share_holds_in_containers(true);
  options.set_alike(true);
  AddEarlier(options, "ada", v1::PROXY);
  AddEarlier(options, "ben", v1::OMITTED);
  options.set_change_margin(0.1);
  options.set_change_margin_least(0.5);
  Violations violations;
  const Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_TRUE(violations.empty());
  const PlanRequest request = asked.RequestOn(3);
  EXPECT_EQ(request.threads, 3);
  EXPECT_EQ(request.budgets.anim_hours, 100);
  EXPECT_EQ(request.budgets.core_hours, 20);
  EXPECT_EQ(request.budgets.other_hours, 3);
  EXPECT_EQ(request.budgets.memory_mb, 4096);
  EXPECT_EQ(request.target_gap, 0.01);
  EXPECT_TRUE(request.holds.share_in_containers);
  EXPECT_TRUE(request.alike);
  ASSERT_EQ(request.earlier.size(), 2u);
  EXPECT_EQ(request.earlier[0].id, "ada");
  EXPECT_EQ(request.earlier[0].tier, Tier::kProxy);
  EXPECT_EQ(request.earlier[1].id, "ben");
  EXPECT_EQ(request.earlier[1].tier, Tier::kOmitted);
  EXPECT_EQ(request.change_margin, 0.1);
  EXPECT_EQ(request.change_margin_least, 0.5);
}

TEST(ReadAsked, WhatIsNotGivenStaysOpen) {
  const Policy policy = WithEffects();
  Violations violations;
  const Asked asked = ReadAsked({}, "", policy, violations);
  EXPECT_TRUE(asked.plan.budgets.unseen_mode());
  EXPECT_FALSE(asked.plan.alike);
  EXPECT_TRUE(asked.plan.earlier.empty());
  EXPECT_FALSE(asked.plan.change_margin.has_value());
  EXPECT_FALSE(asked.plan.change_margin_least.has_value());
}

TEST(ReadAsked, ThirdDepartmentsHoursNeedADepartment) {
  const Policy policy = TwoStyles();
  v1::PlanOptions options;
  options.set_other_hours(3);
  Violations violations;
  EXPECT_EQ(ReadAsked(options, "", policy, violations).reason, "OPTIONS_INVALID");
  EXPECT_THAT(Texts(violations),
              ElementsAre("options.other_hours: got 3, want none: the rate card has no third department"));
}

TEST(ReadAsked, RangesOfTheFurtherLimits) {
  const Policy policy = WithEffects();
  v1::PlanOptions options;
  options.set_other_hours(-0.5);
  options.set_memory_mb(2e12);
  options.set_change_margin(1.25);
  options.set_change_margin_least(std::numeric_limits<double>::infinity());
  Violations violations;
  const Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_EQ(asked.reason, "OPTIONS_INVALID");
  EXPECT_EQ(asked.faults, 4u);
  EXPECT_THAT(Texts(violations), ElementsAre("options.other_hours: got -0.5, want a number from 0 to 1e+09",
                                             "options.memory_mb: got 2e+12, want a number from 0 to 1e+12",
                                             "options.change_margin: got 1.25, want a number from 0 to 1",
                                             "options.change_margin_least: got inf, want a number from 0 to 1e+09"));
}

TEST(ReadAsked, EndsOfRangesAreTaken) {
  const Policy policy = WithEffects();
  v1::PlanOptions options;
  options.set_other_hours(1e9);
  options.set_memory_mb(1e12);
  options.set_change_margin(1);
  options.set_change_margin_least(1e9);
  Violations violations;
  ReadAsked(options, "", policy, violations);
  options.set_other_hours(0);
  options.set_memory_mb(0);
  options.set_change_margin(0);
  options.set_change_margin_least(0);
  ReadAsked(options, "", policy, violations);
  EXPECT_THAT(Texts(violations), ElementsAre());
}

TEST(ReadAsked, EveryFaultOfEarlierDecisionsHasItsPlace) {
  const Policy policy = TwoStyles();
  v1::PlanOptions options;
  AddEarlier(options, "ada", v1::PROXY);
  AddEarlier(options, "", v1::PROXY);
  AddEarlier(options, "ada", v1::TIER_UNSPECIFIED);
  AddEarlier(options, "ben", static_cast<v1::Tier>(9));
  Violations violations;
  const Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_EQ(asked.reason, "OPTIONS_INVALID");
  EXPECT_THAT(
      Texts(violations),
      ElementsAre(
          "options.earlier[1].object_id: got nothing, want an object's id",
          "options.earlier[2].object_id: got \"ada\", want an object that options.earlier[0] does not name already",
          "options.earlier[2].tier: got 0, want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG",
          "options.earlier[3].tier: got 9, want OMITTED, COLOUR_PATCH, PROXY or FULL_RIG"));
}

TEST(ReadFrontier, DefaultsAreAnimatorHoursInThirtyTwoPoints) {
  const Policy policy = TwoStyles();
  Violations violations;
  const AskedFrontier frontier = ReadFrontier({}, policy, violations);
  EXPECT_TRUE(violations.empty());
  EXPECT_EQ(frontier.sweep.along, Along::kAnimHours);
  EXPECT_EQ(frontier.sweep.points, 32);
  EXPECT_FALSE(frontier.sweep.most_hours.has_value());
  EXPECT_FALSE(frontier.sweep.least_hours.has_value());
}

TEST(ReadFrontier, SweepAndOptionsReachTheRequest) {
  const Policy policy = WithEffects();
  v1::TraceFrontierRequest request;
  request.mutable_shot()->set_style("lensed");
  request.mutable_options()->set_core_hours(20);
  request.set_points(2);
  request.set_most_hours(50);
  request.set_least_hours(10);
  const std::pair<v1::TraceFrontierRequest::Along, Along> all[] = {
      {v1::TraceFrontierRequest::ALONG_UNSPECIFIED, Along::kAnimHours},
      {v1::TraceFrontierRequest::ANIM_HOURS, Along::kAnimHours},
      {v1::TraceFrontierRequest::CORE_HOURS, Along::kCoreHours},
      {v1::TraceFrontierRequest::OTHER_HOURS, Along::kOtherHours}};
  for (const auto& [sent, read] : all) {
    request.set_along(sent);
    Violations violations;
    const AskedFrontier frontier = ReadFrontier(request, policy, violations);
    EXPECT_THAT(Texts(violations), ElementsAre());
    EXPECT_EQ(frontier.sweep.along, read);
    EXPECT_EQ(frontier.sweep.points, 2);
    EXPECT_EQ(frontier.sweep.most_hours, 50);
    EXPECT_EQ(frontier.sweep.least_hours, 10);
    EXPECT_EQ(frontier.sweep.plan.budgets.core_hours, 20);
    EXPECT_EQ(frontier.asked.style, &policy.styles[1]);
  }
}

TEST(ReadFrontier, FaultsOfTheSweepAreTheOptions) {
  const Policy policy = TwoStyles();
  v1::TraceFrontierRequest request;
  request.mutable_options()->set_style("woodcut");
  request.set_along(v1::TraceFrontierRequest::OTHER_HOURS);
  request.set_points(1025);
  request.set_most_hours(std::nan(""));
  request.set_least_hours(-1);
  Violations violations;
  const AskedFrontier frontier = ReadFrontier(request, policy, violations);
  EXPECT_EQ(ReasonFor(violations, frontier.asked), "OPTIONS_INVALID");
  EXPECT_THAT(
      Texts(violations),
      ElementsAre("options.style: got \"woodcut\", want one of ink, lensed",
                  "along: got OTHER_HOURS, want another: the rate card has no third department",
                  "points: got 1025, want 2 to 1024, or 0 for 32", "most_hours: got nan, want a number from 0 to 1e+09",
                  "least_hours: got -1, want a number from 0 to 1e+09"));
}

// The faults of a request spoilt by `spoil`.
template <typename Spoil>
std::vector<std::string> FaultsOfSweep(const Spoil& spoil) {
  const Policy policy = WithEffects();
  v1::TraceFrontierRequest request;
  spoil(request);
  Violations violations;
  ReadFrontier(request, policy, violations);
  return Texts(violations);
}

TEST(ReadFrontier, NumbersOfPoints) {
  for (const int points : {0, 2, 1024}) {
    EXPECT_THAT(FaultsOfSweep([&](auto& request) { request.set_points(points); }), ElementsAre()) << points;
  }
  EXPECT_THAT(FaultsOfSweep([](auto& request) { request.set_points(1); }),
              ElementsAre("points: got 1, want 2 to 1024, or 0 for 32"));
  EXPECT_THAT(FaultsOfSweep([](auto& request) { request.set_points(-7); }),
              ElementsAre("points: got -7, want 2 to 1024, or 0 for 32"));
}

TEST(ReadFrontier, AlongSomethingUnknown) {
  EXPECT_THAT(FaultsOfSweep([](auto& request) { request.set_along(static_cast<v1::TraceFrontierRequest::Along>(7)); }),
              ElementsAre("along: got 7, want ANIM_HOURS, CORE_HOURS, OTHER_HOURS or BOTH"));
}

TEST(ReadFrontier, EndsTheWrongWayRound) {
  const auto ends = [](double most, double least) {
    return FaultsOfSweep([=](auto& request) {
      request.set_most_hours(most);
      request.set_least_hours(least);
    });
  };
  EXPECT_THAT(ends(10, 20), ElementsAre("most_hours: got 10, want more than least_hours, 20"));
  EXPECT_THAT(ends(10, 10), ElementsAre("most_hours: got 10, want more than least_hours, 10"));
  EXPECT_THAT(ends(20, 10), ElementsAre());
}

TEST(ReadFrontier, BothBudgetsHaveNoEndsToGive) {
  EXPECT_THAT(FaultsOfSweep([](auto& request) {
                request.set_along(v1::TraceFrontierRequest::BOTH);
                request.set_most_hours(20);
                request.set_least_hours(30);
              }),
              ElementsAre("most_hours: got 20, want none: BOTH sweeps two budgets",
                          "least_hours: got 30, want none: BOTH sweeps two budgets"));
}

TEST(ReasonFor, ShotsFaultsComeBeforeTheOptions) {
  const Policy policy = TwoStyles();
  v1::PlanOptions options;
  options.set_style("woodcut");
  Violations violations;
  Asked asked = ReadAsked(options, "", policy, violations);
  EXPECT_EQ(ReasonFor(violations, asked), "STYLE_UNKNOWN");
  violations.Add("objects[0].id", "of the shot");
  EXPECT_EQ(ReasonFor(violations, asked), "SHOT_INVALID");
  Violations others;
  options.set_anim_hours(-1);
  asked = ReadAsked(options, "", policy, others);
  EXPECT_EQ(ReasonFor(others, asked), "OPTIONS_INVALID");
}

}  // namespace
}  // namespace scantling
