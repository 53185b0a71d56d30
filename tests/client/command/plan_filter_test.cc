// What is shown, and in what order.

#include "client/command/plan_filter.h"

#include <gtest/gtest.h>

#include <cmath>

namespace scantling::client {
namespace {

v1::Plan ThreeObjects() {
  v1::Plan plan;
  const auto add = [&plan](const char* id, const char* name, v1::Tier tier, double hours) {
    v1::Decision* decision = plan.add_decisions();
    decision->set_object_id(id);
    decision->set_class_name(name);
    decision->set_tier(tier);
    decision->set_anim_hours(hours);
    decision->set_needs_animation(hours > 0);
    return decision;
  };
  add("a", "person", v1::PROXY, 2)->set_near_m(30);
  add("b", "gull", v1::COLOUR_PATCH, 0)->set_container_id("ferry");
  add("c", "person", v1::FULL_RIG, 8)->set_near_m(3);
  return plan;
}

std::string Ids(const v1::Plan& plan) {
  std::string ids;
  for (const v1::Decision& decision : plan.decisions()) ids += decision.object_id();
  return ids;
}

std::string Selected(const PlanFilter& filter, SortKey key = SortKey::kId, bool reversed = false) {
  v1::Plan plan = ThreeObjects();
  SelectDecisions(filter, key, reversed, plan);
  return Ids(plan);
}

TEST(SelectDecisions, EmptyFilterLetsAllThrough) { EXPECT_EQ(Selected({}), "abc"); }

TEST(SelectDecisions, EveryFilterNarrows) {
  EXPECT_EQ(Selected({.tiers = {v1::PROXY, v1::FULL_RIG}}), "ac");
  EXPECT_EQ(Selected({.classes = {"gull"}}), "b");
  EXPECT_EQ(Selected({.containers = {"ferry"}}), "b");
  EXPECT_EQ(Selected({.needs_animation = true}), "ac");
  EXPECT_EQ(Selected({.tiers = {v1::PROXY}, .classes = {"gull"}}), "");
}

TEST(SelectDecisions, KeysSortAsTheySay) {
  EXPECT_EQ(Selected({}, SortKey::kHours), "cab");
  EXPECT_EQ(Selected({}, SortKey::kDepth), "cab");  // b is never seen and comes last
  EXPECT_EQ(Selected({}, SortKey::kClass), "bac");
  EXPECT_EQ(Selected({}, SortKey::kTier), "cab");
  EXPECT_EQ(Selected({}, SortKey::kHours, true), "bac");
}

TEST(SelectDecisions, WhatIsNoNumberGoesLast) {
  v1::Plan plan = ThreeObjects();
  plan.mutable_decisions(0)->set_anim_hours(std::nan(""));
  SelectDecisions({}, SortKey::kHours, false, plan);
  EXPECT_EQ(Ids(plan), "cba");
}

TEST(SortKeyOf, KnowsExactlyItsNames) {
  EXPECT_EQ(SortKeyNames().size(), 9u);
  for (const std::string& name : SortKeyNames()) EXPECT_TRUE(SortKeyOf(name).has_value()) << name;
  EXPECT_FALSE(SortKeyOf("weight").has_value());
}

TEST(TierOf, TakesEitherSpelling) {
  EXPECT_EQ(TierOf("full-rig"), v1::FULL_RIG);
  EXPECT_EQ(TierOf("FULL_RIG"), v1::FULL_RIG);
  EXPECT_EQ(TierOf("Colour-Patch"), v1::COLOUR_PATCH);
  EXPECT_EQ(TierOf("proxy"), v1::PROXY);
  EXPECT_EQ(TierOf("omitted"), v1::OMITTED);
  EXPECT_EQ(TierOf("none"), std::nullopt);
}

TEST(FilterText, SaysWhatWasAskedFor) {
  EXPECT_EQ(FilterText({}), "");
  EXPECT_EQ(FilterText({.tiers = {v1::PROXY}, .classes = {"a", "b"}, .containers = {"ferry"}, .needs_animation = true}),
            "needing animation; tier proxy; class a or b; held by ferry");
}

TEST(ReasonOf, TakesTheNamesOfTheProtoInAnyDress) {
  EXPECT_EQ(ReasonOf("hidden"), v1::HIDDEN);
  EXPECT_EQ(ReasonOf("Off-Screen"), v1::OFF_SCREEN);
  EXPECT_EQ(ReasonOf("INDIRECTLY_SEEN"), v1::INDIRECTLY_SEEN);
  EXPECT_EQ(ReasonOf("reason-unspecified"), std::nullopt);
  EXPECT_EQ(ReasonOf("behind"), std::nullopt);
}

TEST(PlanFilter, BandsAndReasonsAreAmongWhatIsAsked) {
  v1::Decision decision;
  decision.set_band("backdrop");
  decision.set_reason(v1::HIDDEN);
  PlanFilter filter;
  filter.bands = {"backdrop", "background"};
  EXPECT_TRUE(filter.Accepts(decision));
  filter.reasons = {v1::OFF_SCREEN};
  EXPECT_FALSE(filter.Accepts(decision));
  filter.reasons = {v1::HIDDEN};
  EXPECT_TRUE(filter.Accepts(decision));
  EXPECT_EQ(FilterText(filter), "in the backdrop or background; because wholly behind something or under a mask");
}

}  // namespace
}  // namespace scantling::client
