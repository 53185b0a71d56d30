// Budgets and the earlier plan as flags: what is set, what stays unset, and what is refused.

#include "client/command/budget_flags.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>

namespace scantling::client {
namespace {

using testing::HasSubstr;

// A command with all these flags, on an argument list.
struct Parsed {
  explicit Parsed(std::vector<std::string> arguments) {
    AddBudgetFlags(app, budget);
    AddEarlierFlags(app, earlier);
    std::reverse(arguments.begin(), arguments.end());  // as CLI11 wants a vector
    try {
      app.parse(arguments);
    } catch (const CLI::ParseError& error) {
      fault = error.what();
    }
  }
  CLI::App app;
  BudgetFlags budget;
  EarlierFlags earlier;
  std::string fault;
};

TEST(BudgetFlags, NothingGivenLeavesEverythingUnset) {
  const Parsed parsed({});
  ASSERT_EQ(parsed.fault, "");
  EXPECT_EQ(OptionsOf(parsed.budget).ByteSizeLong(), 0u);
}

TEST(BudgetFlags, ZeroIsABudget) {
  const Parsed parsed({"--anim-hours", "0", "--core-hours", "0", "--other-hours", "0", "--memory-mb", "0"});
  ASSERT_EQ(parsed.fault, "");
  const v1::PlanOptions options = OptionsOf(parsed.budget);
  EXPECT_TRUE(options.has_anim_hours() && options.has_core_hours() && options.has_other_hours());
  EXPECT_TRUE(options.has_memory_mb());
}

TEST(BudgetFlags, EveryFlagReachesItsField) {
  const Parsed parsed({"--anim-hours", "1.5", "--core-hours", "2", "--other-hours", "3", "--memory-mb", "4096",
                       "--target-gap", "1e-4", "--alike", "--share-holds", "--style", "ink"});
  ASSERT_EQ(parsed.fault, "");
  const v1::PlanOptions options = OptionsOf(parsed.budget);
  EXPECT_EQ(options.anim_hours(), 1.5);
  EXPECT_EQ(options.core_hours(), 2);
  EXPECT_EQ(options.other_hours(), 3);
  EXPECT_EQ(options.memory_mb(), 4096);
  EXPECT_EQ(options.target_gap(), 1e-4);
  EXPECT_TRUE(options.alike() && options.share_holds_in_containers());
  EXPECT_EQ(options.style(), "ink");
}

TEST(BudgetFlags, WhatIsNoSuchNumberIsRefused) {
  for (const char* flag : {"--anim-hours", "--core-hours", "--other-hours", "--memory-mb", "--target-gap"}) {
    for (const char* value : {"-1", "nan", "inf", "many", "1h"}) {
      EXPECT_THAT(Parsed({flag, value}).fault, HasSubstr(std::string("got \"") + value + "\", want ")) << flag;
    }
  }
  EXPECT_THAT(Parsed({"--memory-mb", "x"}).fault, HasSubstr("want megabytes, 0 or more"));
  EXPECT_THAT(Parsed({"--target-gap", "1.5"}).fault, HasSubstr("want a share from 0 to 1"));
}

TEST(EarlierFlags, MarginsNeedAnEarlierPlanAndAreNumbers) {
  EXPECT_THAT(Parsed({"--change-margin", "0.1"}).fault, HasSubstr("--earlier"));
  EXPECT_THAT(Parsed({"--earlier", "p.json", "--change-margin", "1.1"}).fault, HasSubstr("want a share from 0 to 1"));
  EXPECT_THAT(Parsed({"--earlier", "p.json", "--change-margin-least", "-1"}).fault, HasSubstr("want frame-octaves"));
  EXPECT_THAT(Parsed({"--earlier", "-"}).fault, HasSubstr("want the name of a file"));
}

TEST(EarlierFlags, PlanAndMarginsReachTheOptions) {
  const std::string file = testing::TempDir() + "earlier_flags_test.csv";
  std::ofstream(file) << "object_id,tier\nwalker_1,PROXY\n";
  const Parsed parsed({"--earlier", file, "--change-margin", "0.2", "--change-margin-least", "0"});
  ASSERT_EQ(parsed.fault, "");
  const absl::StatusOr<v1::PlanOptions> options = OptionsOf(parsed.budget, parsed.earlier);
  ASSERT_TRUE(options.ok()) << options.status();
  ASSERT_EQ(options->earlier_size(), 1);
  EXPECT_EQ(options->earlier(0).object_id(), "walker_1");
  EXPECT_EQ(options->change_margin(), 0.2);
  EXPECT_TRUE(options->has_change_margin_least());
  EXPECT_FALSE(OptionsOf(parsed.budget).has_change_margin());
}

TEST(EarlierFlags, FileThatCannotBeReadIsToldBeforeAnythingIsAsked) {
  const Parsed parsed({"--earlier", "/no/such/plan.json"});
  EXPECT_EQ(OptionsOf(parsed.budget, parsed.earlier).status().code(), absl::StatusCode::kNotFound);
}

}  // namespace
}  // namespace scantling::client
