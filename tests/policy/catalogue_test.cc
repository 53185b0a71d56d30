// The class catalogue: defaults, order and every refusal.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/policy/load.h"
#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;

std::vector<std::string> FaultsOf(std::string_view text) {
  Violations violations;
  const bool read = ParseCatalogue(text, "c", violations).has_value();
  EXPECT_EQ(read, violations.empty());
  return Texts(violations);
}

constexpr std::string_view kTwo =
    "default_class: b\n"
    "classes:\n"
    "  b: {kind: figure, phi: {PROXY: 0.04, COLOUR_PATCH: 0.3}}\n"
    "  a:\n"
    "    kind: set_element\n"
    "    description: a house\n"
    "    phi: {PROXY: 0.01, COLOUR_PATCH: 0.2, OMITTED: 0.9}\n"
    "    omitted_presence: 2\n"
    "    solidity: 0.8\n"
    "    importance: 0.25\n"
    "    real_height_m: 9\n"
    "    articulation: 0\n"
    "    cycles_per_second: 0\n"
    "    least_hold: 2\n"
    "    greatest_hold: 3\n"
    "    inner_box: 0.75\n"
    "    moves_at_rest: false\n"
    "    contact: ground\n"
    "    least_tier_when_indirect: COLOUR_PATCH\n";

TEST(ParseCatalogue, KeepsTheOrderOfTheFileAndTakesDefaults) {
  Violations violations;
  const std::optional<ClassCatalogue> catalogue = ParseCatalogue(kTwo, "c", violations);
  ASSERT_TRUE(catalogue.has_value()) << testing::PrintToString(Texts(violations));
  ASSERT_EQ(catalogue->classes.size(), 2u);
  EXPECT_EQ(catalogue->default_class, 0);
  EXPECT_EQ(catalogue->occluder_least_solidity, 0.5);
  const ObjectClass& b = catalogue->classes[0];
  EXPECT_EQ(b.name, "b");
  EXPECT_EQ(b.kind, ClassKind::kFigure);
  EXPECT_THAT(b.phi, ElementsAre(1, 0.3, 0.04, 0));
  EXPECT_EQ(b.omitted_presence, 3);
  EXPECT_EQ(b.solidity, 0.6);
  EXPECT_EQ(b.importance, 1);
  EXPECT_EQ(b.real_height_m, std::nullopt);
  EXPECT_EQ(b.articulation, 0.1);
  EXPECT_EQ(b.cycles_per_second, 2);
  EXPECT_EQ(b.hold.least, 1);
  EXPECT_EQ(b.hold.greatest, 4);
  EXPECT_EQ(b.inner_box, 0);
  EXPECT_TRUE(b.moves_at_rest);
  EXPECT_EQ(b.contact, Contact::kRigid);
  EXPECT_EQ(b.least_tier_when_indirect, Tier::kProxy);
}

TEST(ParseCatalogue, ReadsEveryKey) {
  Violations violations;
  const std::optional<ClassCatalogue> catalogue = ParseCatalogue(kTwo, "c", violations);
  ASSERT_TRUE(catalogue.has_value());
  const ObjectClass& a = catalogue->classes[1];
  EXPECT_EQ(a.kind, ClassKind::kSetElement);
  EXPECT_EQ(a.description, "a house");
  EXPECT_THAT(a.phi, ElementsAre(0.9, 0.2, 0.01, 0));
  EXPECT_EQ(a.omitted_presence, 2);
  EXPECT_EQ(a.solidity, 0.8);
  EXPECT_EQ(a.importance, 0.25);
  EXPECT_EQ(a.real_height_m, 9);
  EXPECT_EQ(a.articulation, 0);
  EXPECT_EQ(a.cycles_per_second, 0);
  EXPECT_EQ(a.hold.least, 2);
  EXPECT_EQ(a.hold.greatest, 3);
  EXPECT_EQ(a.inner_box, 0.75);
  EXPECT_FALSE(a.moves_at_rest);
  EXPECT_EQ(a.contact, Contact::kGround);
  EXPECT_EQ(a.least_tier_when_indirect, Tier::kColourPatch);
}

TEST(ParseCatalogue, EmptyTextMissesEverything) {
  EXPECT_THAT(FaultsOf(""),
              ElementsAre("c:1:1: classes: got no such key, want a mapping of keys to values",
                          "c:1:1: default_class: got no such key, want a name of small letters, digits and "
                          "_, a letter first, at most 64 bytes"));
}

TEST(ParseCatalogue, DefaultClassMustBeOne) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "default_class: b", "default_class: z")),
              ElementsAre("c:1:16: default_class: got \"z\", want one of the classes"));
  EXPECT_THAT(FaultsOf("default_class: z\nclasses: {}\n"),
              ElementsAre("c:1:16: default_class: got \"z\", want one of the classes"));
}

TEST(ParseCatalogue, PhiMustNotRiseTowardsTheFullRig) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "PROXY: 0.04", "PROXY: 0.5")),
              ElementsAre("c:3:53: classes.b.phi.COLOUR_PATCH: got 0.3, want at least the 0.5 of PROXY"));
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "OMITTED: 0.9", "OMITTED: 0.1")),
              ElementsAre("c:7:52: classes.a.phi.OMITTED: got 0.1, want at least the 0.2 of COLOUR_PATCH"));
}

TEST(ParseCatalogue, FullRigDropsNothingAndIsNotWritten) {
  EXPECT_THAT(
      FaultsOf(Replaced(std::string(kTwo), "OMITTED: 0.9", "FULL_RIG: 0")),
      ElementsAre("c:7:43: classes.a.phi: got the unknown key \"FULL_RIG\", want PROXY, COLOUR_PATCH or OMITTED"));
}

TEST(ParseCatalogue, GreatestHoldIsNotBelowTheLeast) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "greatest_hold: 3", "greatest_hold: 1")),
              ElementsAre("c:15:20: classes.a.greatest_hold: got 1, want at least least_hold, 2"));
}

TEST(ParseCatalogue, HoldsEndWhereTheLongestOfAnyStyleDoes) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "greatest_hold: 3", "greatest_hold: 13")),
              ElementsAre("c:15:20: classes.a.greatest_hold: got \"13\", want a whole number from 1 to 12"));
}

TEST(ParseCatalogue, WhatIsSeenThroughHasNoInnerBox) {
  // a fills 0.8 of its box: enough at 0.8, too little at 0.81; without an inner box it may be as thin as it likes.
  const auto with = [](const char* least) {
    return Replaced(std::string(kTwo), "default_class: b\n",
                    "default_class: b\noccluder_least_solidity: " + std::string(least) + "\n");
  };
  EXPECT_THAT(FaultsOf(with("0.8")), ElementsAre());
  EXPECT_THAT(FaultsOf(with("0.81")),
              ElementsAre("c:17:16: classes.a.inner_box: got 0.75, want 0: its solidity of 0.8 is under "
                          "occluder_least_solidity, 0.81"));
  EXPECT_THAT(FaultsOf(Replaced(with("0.81"), "inner_box: 0.75", "inner_box: 0")), ElementsAre());
  // Left out it is 0.5.
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "solidity: 0.8", "solidity: 0.5")), ElementsAre());
  EXPECT_THAT(FaultsOf(Replaced(std::string(kTwo), "solidity: 0.8", "solidity: 0.49")),
              ElementsAre("c:16:16: classes.a.inner_box: got 0.75, want 0: its solidity of 0.49 is under "
                          "occluder_least_solidity, 0.5"));
}

TEST(ParseCatalogue, WhatHidesAndHowItMovesIsChecked) {
  std::string text = Replaced(std::string(kTwo), "inner_box: 0.75", "inner_box: 1.5");
  text = Replaced(text, "moves_at_rest: false", "moves_at_rest: 0");
  text = Replaced(text, "contact: ground", "contact: water");
  EXPECT_THAT(FaultsOf(text + "occluder_least_solidity: -1\n"),
              ElementsAre("c:16:16: classes.a.inner_box: got \"1.5\", want a number from 0 to 1",
                          "c:17:20: classes.a.moves_at_rest: got \"0\", want true or false",
                          "c:18:14: classes.a.contact: got \"water\", want rigid or ground",
                          "c:20:26: occluder_least_solidity: got \"-1\", want a number from 0 to 1"));
}

TEST(ParseCatalogue, KindAndPhiMustBeGiven) {
  EXPECT_THAT(FaultsOf("default_class: a\nclasses: {a: {solidity: 0}}\n"),
              ElementsAre("c:2:14: classes.a.kind: got no such key, want figure or set_element",
                          "c:2:14: classes.a.phi: got no such key, want a mapping of keys to values",
                          "c:2:25: classes.a.solidity: got \"0\", want a number above 0 and at most 1"));
}

TEST(ParseCatalogue, TierNamesAreWrittenInFull) {
  EXPECT_THAT(
      FaultsOf(Replaced(std::string(kTwo), "indirect: COLOUR_PATCH", "indirect: patch")),
      ElementsAre("c:19:31: classes.a.least_tier_when_indirect: got \"patch\", want OMITTED, COLOUR_PATCH, PROXY or "
                  "FULL_RIG"));
}

TEST(ParseCatalogue, NumberOfClassesIsBounded) {
  std::string text = "default_class: c0\nclasses:\n";
  for (size_t i = 0; i <= kMostClasses; ++i) {
    text += "  c" + std::to_string(i) + ": {kind: figure, phi: {PROXY: 0.04, COLOUR_PATCH: 0.3}}\n";
  }
  EXPECT_THAT(FaultsOf(text), ElementsAre("c:3:3: classes: got 1001 names, want at most 1000"));
}

}  // namespace
}  // namespace scantling
