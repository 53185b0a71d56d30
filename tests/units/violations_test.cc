// Gathered faults and tier names.

#include "server/units/violations.h"

#include <gtest/gtest.h>

#include "server/units/tier.h"

namespace scantling {
namespace {

TEST(Violations, KeepsOrder) {
  Violations violations;
  EXPECT_TRUE(violations.empty());
  violations.Add("a", "got 1, want 2");
  violations.Add("b", "got 3, want 4");
  EXPECT_FALSE(violations.empty());
  EXPECT_EQ(violations.listed(), (std::vector<Violation>{{"a", "got 1, want 2"}, {"b", "got 3, want 4"}}));
}

TEST(Violations, CountsAllButListsABoundedNumber) {
  Violations violations;
  for (size_t i = 0; i < Violations::kListed + 5; ++i) violations.Add(std::to_string(i), "got it");
  EXPECT_EQ(violations.count(), Violations::kListed + 5);
  ASSERT_EQ(violations.listed().size(), Violations::kListed);
  EXPECT_EQ(violations.listed().back().field, std::to_string(Violations::kListed - 1));
}

TEST(Tier, IndexRunsFromLeastToMostMade) {
  for (int i = 0; i < kTierCount; ++i) EXPECT_EQ(Index(kAllTiers[static_cast<size_t>(i)]), i);
  EXPECT_EQ(Name(Tier::kOmitted), "OMITTED");
  EXPECT_EQ(Name(Tier::kColourPatch), "COLOUR_PATCH");
  EXPECT_EQ(Name(Tier::kProxy), "PROXY");
  EXPECT_EQ(Name(Tier::kFullRig), "FULL_RIG");
}

TEST(Tier, BitsOfAllTiersMakeTheFullMask) {
  TierMask mask = 0;
  for (const Tier tier : kAllTiers) {
    EXPECT_EQ(mask & Bit(tier), 0);
    mask |= Bit(tier);
  }
  EXPECT_EQ(mask, kAnyTier);
}

}  // namespace
}  // namespace scantling
