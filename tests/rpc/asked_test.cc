#include "server/rpc/asked.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace scantling {
namespace {

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
