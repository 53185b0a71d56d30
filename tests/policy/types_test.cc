// Depth curves and look-ups. Values in log2(depth) are worked out by hand: between 4 m and 16 m, 8 m lies half way.

#include "server/policy/types.h"

#include <gtest/gtest.h>

#include <limits>

namespace scantling {
namespace {

const DepthCurve kCurve = {{{4, 0.5}, {16, 0.1}, {32, 0.3}}};

TEST(Evaluate, CurveWithoutPointsIsZero) { EXPECT_EQ(Evaluate({}, 3), 0); }

TEST(Evaluate, IsExactAtPoints) {
  EXPECT_EQ(Evaluate(kCurve, 4), 0.5);
  EXPECT_EQ(Evaluate(kCurve, 16), 0.1);
  EXPECT_EQ(Evaluate(kCurve, 32), 0.3);
}

TEST(Evaluate, RunsStraightInLogDepth) {
  // log2 8 = 3 lies half way between log2 4 = 2 and log2 16 = 4: (0.5 + 0.1) / 2. One rounding of the sum: 1e-15.
  EXPECT_NEAR(Evaluate(kCurve, 8), 0.3, 1e-15);
  // log2 (16 sqrt 2) = 4.5 lies half way between 4 and 5: (0.1 + 0.3) / 2; sqrt 2 is rounded, 1e-15.
  EXPECT_NEAR(Evaluate(kCurve, 16 * 1.4142135623730951), 0.2, 1e-15);
}

TEST(Evaluate, IsLevelBeyondBothEnds) {
  EXPECT_EQ(Evaluate(kCurve, 1e-9), 0.5);
  EXPECT_EQ(Evaluate(kCurve, 33), 0.3);
  EXPECT_EQ(Evaluate(kCurve, std::numeric_limits<double>::infinity()), 0.3);
}

TEST(Evaluate, SinglePointIsLevelEverywhere) {
  const DepthCurve level = {{{10, 0.25}}};
  EXPECT_EQ(Evaluate(level, 1), 0.25);
  EXPECT_EQ(Evaluate(level, 10), 0.25);
  EXPECT_EQ(Evaluate(level, 100), 0.25);
}

TEST(ClassCatalogue, FindsByNameOnly) {
  ClassCatalogue catalogue;
  catalogue.classes.resize(2);
  catalogue.classes[0].name = "person";
  catalogue.classes[1].name = "ferry";
  EXPECT_EQ(catalogue.Find("ferry"), 1);
  EXPECT_EQ(catalogue.Find("Ferry"), std::nullopt);
  EXPECT_EQ(catalogue.Find(""), std::nullopt);
}

TEST(HoldBoundsOf, StyleWinsOverTheClassWhereItNamesIt) {
  Style style;
  style.class_holds = {{"ferry", {3, 8}}, {"lead", {1, 2}}};
  ObjectClass lead, person;
  lead.name = "lead";
  lead.hold = {2, 4};
  person.name = "person";
  person.hold = {1, 6};
  EXPECT_EQ(HoldBoundsOf(style, lead).least, 1);
  EXPECT_EQ(HoldBoundsOf(style, lead).greatest, 2);
  EXPECT_EQ(HoldBoundsOf(style, person).least, 1);
  EXPECT_EQ(HoldBoundsOf(style, person).greatest, 6);
}

TEST(Policy, FindsStyleByName) {
  Policy policy;
  policy.styles.resize(2);
  policy.styles[0].name = "ink";
  policy.styles[1].name = "painted";
  EXPECT_EQ(policy.FindStyle("painted"), &policy.styles[1]);
  EXPECT_EQ(policy.FindStyle("pencil"), nullptr);
}

}  // namespace
}  // namespace scantling
