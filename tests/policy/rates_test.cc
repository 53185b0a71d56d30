// The rate card: it prices every class and no other, and costs do not rise as the tier falls.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "server/policy/load.h"
#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;

ClassCatalogue OnePerson() {
  ClassCatalogue catalogue;
  catalogue.classes.resize(1);
  catalogue.classes[0].name = "person";
  return catalogue;
}

std::vector<std::string> FaultsOf(std::string_view text) {
  Violations violations;
  const bool read = ParseRates(text, "r", OnePerson(), violations).has_value();
  EXPECT_EQ(read, violations.empty());
  return Texts(violations);
}

constexpr std::string_view kCard =
    "name: card\n"
    "money_per_animator_hour: 45\n"
    "money_per_core_hour: 0.06\n"
    "reference_hold: 3\n"
    "hold_exponent: 0.5\n"
    "base_core_s_per_frame: 900\n"
    "renders_to_final: 4\n"
    "show_cv_hours: 0.1\n"
    "shot_cv_hours: 0.2\n"
    "show_cv_core: 0.3\n"
    "shot_cv_core: 0.4\n"
    "hours_per_animator_week: 38\n"
    "classes:\n"
    "  person:\n"
    "    FULL_RIG: {setup_hours: 4, hours_per_second: 3, core_s_per_frame: 20, core_s_per_megapixel: 400, memory_mb: "
    "900, "
    "hours_cv: 0.3, core_cv: 0.2}\n"
    "    PROXY: {setup_hours: 1, hours_per_second: 0.5, core_s_per_frame: 4, core_s_per_megapixel: 200, memory_mb: "
    "100, "
    "hours_cv: 0.35, core_cv: 0.25}\n"
    "    COLOUR_PATCH: {setup_hours: 0.2, hours_per_second: 0, core_s_per_frame: 0.2, core_s_per_megapixel: 60, "
    "memory_mb: "
    "4, hours_cv: 0.4, core_cv: 0.3}\n"
    "    paint_in_hours: 0.1\n";

TEST(ParseRates, ReadsEveryKey) {
  Violations violations;
  const std::optional<RateCard> card = ParseRates(kCard, "r", OnePerson(), violations);
  ASSERT_TRUE(card.has_value()) << testing::PrintToString(Texts(violations));
  EXPECT_EQ(card->name, "card");
  EXPECT_EQ(card->money_per_animator_hour, 45);
  EXPECT_EQ(card->money_per_core_hour, 0.06);
  EXPECT_EQ(card->reference_hold, 3);
  EXPECT_EQ(card->hold_exponent, 0.5);
  EXPECT_EQ(card->base_core_s_per_frame, 900);
  EXPECT_EQ(card->renders_to_final, 4);
  EXPECT_EQ(card->show_cv_hours, 0.1);
  EXPECT_EQ(card->shot_cv_hours, 0.2);
  EXPECT_EQ(card->show_cv_core, 0.3);
  EXPECT_EQ(card->shot_cv_core, 0.4);
  EXPECT_EQ(card->hours_per_animator_week, 38);
  ASSERT_EQ(card->classes.size(), 1u);
  EXPECT_EQ(card->classes[0].paint_in_hours, 0.1);
  EXPECT_EQ(card->classes[0].keep_alive_hours_per_second, 0);  // left out
  const PerTier<Rate>& tier = card->classes[0].tier;
  EXPECT_EQ(tier[0].setup_hours, 0);  // OMITTED is all zero
  EXPECT_EQ(tier[0].core_s_per_frame, 0);
  EXPECT_EQ(tier[1].core_s_per_megapixel, 60);
  EXPECT_EQ(tier[2].hours_per_second, 0.5);
  EXPECT_EQ(tier[2].memory_mb, 100);
  EXPECT_EQ(tier[3].setup_hours, 4);
  EXPECT_EQ(tier[3].core_s_per_frame, 20);
  EXPECT_EQ(tier[3].hours_cv, 0.3);
  EXPECT_EQ(tier[3].core_cv, 0.2);
}

// kCard with a third department, and with figures for it and shared set-ups at the two upper tiers.
std::string CardWithEffects() {
  std::string text = Replaced(std::string(kCard), "reference_hold: 3\n",
                              "reference_hold: 3\nother_department: effects\nmoney_per_other_hour: 50\n");
  text = Replaced(text, "core_cv: 0.2}",
                  "core_cv: 0.2,\n      shared_setup_hours: 6, other_setup_hours: 2, other_hours_per_second: 0.5}");
  return Replaced(text, "core_cv: 0.25}",
                  "core_cv: 0.25,\n      shared_setup_hours: 2, other_setup_hours: 1, other_hours_per_second: 0.25}");
}

TEST(ParseRates, ReadsSharedSetUpsAndTheThirdDepartment) {
  Violations violations;
  const std::optional<RateCard> card = ParseRates(CardWithEffects(), "r", OnePerson(), violations);
  ASSERT_TRUE(card.has_value()) << testing::PrintToString(Texts(violations));
  EXPECT_EQ(card->other_department, "effects");
  EXPECT_EQ(card->money_per_other_hour, 50);
  const PerTier<Rate>& tier = card->classes[0].tier;
  EXPECT_EQ(tier[3].shared_setup_hours, 6);
  EXPECT_EQ(tier[3].other_setup_hours, 2);
  EXPECT_EQ(tier[3].other_hours_per_second, 0.5);
  EXPECT_EQ(tier[2].shared_setup_hours, 2);
  EXPECT_EQ(tier[2].other_setup_hours, 1);
  EXPECT_EQ(tier[2].other_hours_per_second, 0.25);
  for (const size_t t : {0, 1}) {  // OMITTED is all zero; the patch leaves them out
    EXPECT_EQ(tier[t].shared_setup_hours, 0);
    EXPECT_EQ(tier[t].other_setup_hours, 0);
    EXPECT_EQ(tier[t].other_hours_per_second, 0);
  }
}

TEST(ParseRates, NobodySharesAndThereIsNoThirdDepartmentUnlessToldSo) {
  Violations violations;
  const std::optional<RateCard> card = ParseRates(kCard, "r", OnePerson(), violations);
  ASSERT_TRUE(card.has_value());
  EXPECT_EQ(card->other_department, "");
  EXPECT_EQ(card->money_per_other_hour, 0);
  for (const Rate& rate : card->classes[0].tier) {
    EXPECT_EQ(rate.shared_setup_hours, 0);
    EXPECT_EQ(rate.other_setup_hours, 0);
    EXPECT_EQ(rate.other_hours_per_second, 0);
  }
}

TEST(ParseRates, ThirdDepartmentNeedsItsPrice) {
  const std::string want = "want a number from 0 to 1000000000";
  EXPECT_THAT(FaultsOf(Replaced(CardWithEffects(), "money_per_other_hour: 50\n", "")),
              ElementsAre("r:1:1: money_per_other_hour: got no such key, " + want));
  EXPECT_THAT(FaultsOf(Replaced(CardWithEffects(), "_other_hour: 50", "_other_hour: -1")),
              ElementsAre("r:6:23: money_per_other_hour: got \"-1\", " + want));
  EXPECT_THAT(FaultsOf(Replaced(CardWithEffects(), "_other_hour: 50", "_other_hour: 0")), ElementsAre());
}

TEST(ParseRates, ThirdDepartmentHasANameOfAtMost64Letters) {
  const std::string want = "want a name of small letters, digits and _, a letter first, at most 64 bytes";
  const auto named = [](const std::string& name) {
    return FaultsOf(Replaced(CardWithEffects(), ": effects", ": " + name));
  };
  EXPECT_THAT(named("e"), ElementsAre());
  EXPECT_THAT(named(std::string(64, 'e')), ElementsAre());
  // One fault for the name, none for every figure that goes with it.
  EXPECT_THAT(named(std::string(65, 'e')),
              ElementsAre("r:5:19: other_department: got \"" + std::string(60, 'e') + "\"..., " + want));
  EXPECT_THAT(named("\"\""), ElementsAre("r:5:19: other_department: got the text \"\", " + want));
  EXPECT_THAT(named("Effects"), ElementsAre("r:5:19: other_department: got \"Effects\", " + want));
}

TEST(ParseRates, FiguresOfAThirdDepartmentNobodyNamedAreRefused) {
  EXPECT_THAT(
      FaultsOf(Replaced(CardWithEffects(), "other_department: effects\n", "")),
      ElementsAre("r:5:23: money_per_other_hour: got a price, want other_department to name what it is the price of",
                  "r:17:49: classes.person.FULL_RIG.other_setup_hours: got hours of a third department, want "
                  "other_department to name it",
                  "r:17:76: classes.person.FULL_RIG.other_hours_per_second: got hours of a third department, want "
                  "other_department to name it",
                  "r:19:49: classes.person.PROXY.other_setup_hours: got hours of a third department, want "
                  "other_department to name it",
                  "r:19:76: classes.person.PROXY.other_hours_per_second: got hours of a third department, want "
                  "other_department to name it"));
}

TEST(ParseRates, SharedSetUpsAndOtherHoursHaveTheirRange) {
  const std::string want = "want a number from 0 to 1000000";
  EXPECT_THAT(FaultsOf(Replaced(CardWithEffects(), "shared_setup_hours: 6, other_setup_hours: 2",
                                "shared_setup_hours: -6, other_setup_hours: 1000001")),
              ElementsAre("r:18:27: classes.person.FULL_RIG.shared_setup_hours: got \"-6\", " + want,
                          "r:18:50: classes.person.FULL_RIG.other_setup_hours: got \"1000001\", " + want));
  EXPECT_THAT(FaultsOf(Replaced(CardWithEffects(), "other_hours_per_second: 0.25", "other_hours_per_second: nan")),
              ElementsAre("r:20:76: classes.person.PROXY.other_hours_per_second: got \"nan\", " + want));
}

TEST(ParseRates, DefaultsOfTheCard) {
  std::string text(kCard);
  for (const char* line :
       {"reference_hold: 3\n", "hold_exponent: 0.5\n", "renders_to_final: 4\n", "hours_per_animator_week: 38\n"}) {
    text = Replaced(text, line, "");
  }
  Violations violations;
  const std::optional<RateCard> card = ParseRates(text, "r", OnePerson(), violations);
  ASSERT_TRUE(card.has_value());
  EXPECT_EQ(card->reference_hold, 2);
  EXPECT_EQ(card->hold_exponent, 0.7);
  EXPECT_EQ(card->renders_to_final, 3);
  EXPECT_EQ(card->hours_per_animator_week, 40);
}

TEST(ParseRates, PricesHaveNoDefault) {
  const std::string want = "want a number from 0 to 1000000000";
  EXPECT_THAT(FaultsOf(Replaced(std::string(kCard), "money_per_core_hour: 0.06\n", "")),
              ElementsAre("r:1:1: money_per_core_hour: got no such key, " + want));
}

TEST(ParseRates, EveryCostMustNotRiseAsTheTierFalls) {
  struct Case {
    const char *from, *to, *fault;
  };
  const Case cases[] = {
      {"setup_hours: 1,", "setup_hours: 5,",
       "r:16:26: classes.person.PROXY.setup_hours: got 5, want at most the 4 of the tier above, at r:15:29"},
      {"hours_per_second: 0,", "hours_per_second: 0.6,",
       "r:17:56: classes.person.COLOUR_PATCH.hours_per_second: got 0.6, want at most the 0.5 of the tier above, at "
       "r:16:47"},
      {"core_s_per_frame: 4,", "core_s_per_frame: 20.5,",
       "r:16:70: classes.person.PROXY.core_s_per_frame: got 20.5, want at most the 20 of the tier above, at r:15:71"},
      {"core_s_per_megapixel: 200", "core_s_per_megapixel: 401",
       "r:16:95: classes.person.PROXY.core_s_per_megapixel: got 401, want at most the 400 of the tier above, at "
       "r:15:97"},
      {"memory_mb: 4,", "memory_mb: 101,",
       "r:17:119: classes.person.COLOUR_PATCH.memory_mb: got 101, want at most the 100 of the tier above, at r:16:111"},
  };
  for (const Case& c : cases) {
    const std::string text = Replaced(std::string(kCard), c.from, c.to);
    ASSERT_NE(text, kCard) << c.from;
    EXPECT_THAT(FaultsOf(text), ElementsAre(c.fault));
  }
}

TEST(ParseRates, SharedSetUpsAndOtherHoursMustNotRiseAsTheTierFalls) {
  struct Case {
    const char *from, *to, *fault;
  };
  const Case cases[] = {
      {"shared_setup_hours: 2", "shared_setup_hours: 7",
       "r:20:27: classes.person.PROXY.shared_setup_hours: got 7, want at most the 6 of the tier above, at r:18:27"},
      {"other_setup_hours: 1", "other_setup_hours: 2.5",
       "r:20:49: classes.person.PROXY.other_setup_hours: got 2.5, want at most the 2 of the tier above, at r:18:49"},
      {"core_cv: 0.3}", "core_cv: 0.3, other_hours_per_second: 0.3}",
       "r:21:175: classes.person.COLOUR_PATCH.other_hours_per_second: got 0.3, want at most the 0.25 of the tier "
       "above, at r:20:76"},
  };
  for (const Case& c : cases) {
    const std::string text = Replaced(CardWithEffects(), c.from, c.to);
    ASSERT_NE(text, CardWithEffects()) << c.from;
    EXPECT_THAT(FaultsOf(text), ElementsAre(c.fault));
  }
}

TEST(ParseRates, PaintingInCostsNoMoreThanThePatch) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kCard), "paint_in_hours: 0.1", "paint_in_hours: 0.3")),
              ElementsAre("r:18:21: classes.person.paint_in_hours: got 0.3, want at most the 0.2 of COLOUR_PATCH "
                          "setup_hours, at r:17:33"));
}

TEST(ParseRates, KeepingAliveCostsNoMoreThanAStandIn) {
  const auto with = [](const char* hours) {
    return std::string(kCard) + "    keep_alive_hours_per_second: " + hours + "\n";
  };
  Violations violations;
  const std::optional<RateCard> card = ParseRates(with("0.5"), "r", OnePerson(), violations);
  ASSERT_TRUE(card.has_value()) << testing::PrintToString(Texts(violations));
  EXPECT_EQ(card->classes[0].keep_alive_hours_per_second, 0.5);
  EXPECT_THAT(
      FaultsOf(with("0.51")),
      ElementsAre("r:19:34: classes.person.keep_alive_hours_per_second: got 0.51, want at most the 0.5 of PROXY "
                  "hours_per_second, at r:16:47"));
  EXPECT_THAT(FaultsOf(with("-0.1")), ElementsAre("r:19:34: classes.person.keep_alive_hours_per_second: got \"-0.1\", "
                                                  "want a number from 0 to 1000000"));
}

TEST(ParseRates, UnpricedAndUnknownClassesAreRefused) {
  EXPECT_THAT(FaultsOf(Replaced(std::string(kCard), "  person:\n", "  persn:\n")),
              ElementsAre("r:14:3: classes.person: got no such key, want a mapping of keys to values",
                          "r:14:3: classes: got the unknown key \"persn\", want \"person\" perhaps"));
}

TEST(ParseRates, OmittedIsNotWritten) {
  EXPECT_THAT(
      FaultsOf(std::string(kCard) + "    OMITTED: {}\n"),
      ElementsAre("r:19:5: classes.person: got the unknown key \"OMITTED\", want FULL_RIG, PROXY, COLOUR_PATCH, "
                  "paint_in_hours or keep_alive_hours_per_second"));
}

TEST(ParseRates, EveryRateMustBeGivenAndInRange) {
  EXPECT_THAT(
      FaultsOf(Replaced(Replaced(std::string(kCard), "setup_hours: 4, ", ""), "hours_cv: 0.35", "hours_cv: inf")),
      ElementsAre("r:15:15: classes.person.FULL_RIG.setup_hours: got no such key, want a number from 0 to 1000000",
                  "r:16:126: classes.person.PROXY.hours_cv: got \"inf\", want a number from 0 to 5"));
}

}  // namespace
}  // namespace scantling
