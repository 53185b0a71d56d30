// Earlier plans as they were printed, and every fault of a file that is none.

#include "client/command/earlier_plan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "client/command/command.h"
#include "client/command/exit_code.h"
#include "client/command/plan_csv.h"
#include "client/library/faults.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;

v1::Plan TwoDecisions() {
  v1::Plan plan;
  plan.set_shot_id("qy_0100");
  plan.add_memory_mb(812.5F);
  v1::Decision* walker = plan.add_decisions();
  walker->set_object_id("walker, \"the tall\"");
  walker->set_tier(v1::PROXY);
  v1::Decision* sum = plan.add_decisions();
  sum->set_object_id("=sum");
  sum->set_tier(v1::OMITTED);
  return plan;
}

void ExpectTwoDecisions(const absl::StatusOr<EarlierDecisions>& decisions) {
  ASSERT_TRUE(decisions.ok()) << decisions.status();
  ASSERT_EQ(decisions->size(), 2);
  EXPECT_EQ((*decisions)[0].object_id(), "walker, \"the tall\"");
  EXPECT_EQ((*decisions)[0].tier(), v1::PROXY);
  EXPECT_EQ((*decisions)[1].object_id(), "=sum");
  EXPECT_EQ((*decisions)[1].tier(), v1::OMITTED);
}

// What the command prints about `content`.
std::string Refusal(std::string_view content) {
  const auto decisions = ParseEarlier(content, "old.csv");
  EXPECT_EQ(decisions.status().code(), absl::StatusCode::kInvalidArgument);
  return decisions.ok() ? "" : FailureText(decisions.status());
}

TEST(ParseEarlier, ReadsWhatPlanPrintsInEveryForm) {
  ExpectTwoDecisions(ParseEarlier(JsonOf(TwoDecisions()), "p"));
  ExpectTwoDecisions(ParseEarlier(PlanCsv(TwoDecisions(), false), "p"));
  ExpectTwoDecisions(ParseEarlier(PlanCsv(TwoDecisions(), true), "p"));
}

TEST(ParseEarlier, TableMayHaveItsColumnsInAnyOrderAndTiersInAnySpelling) {
  const auto decisions = ParseEarlier("note,tier,object_id\nx,full-rig,a\ny,Colour_Patch,b\n", "p");
  ASSERT_TRUE(decisions.ok()) << decisions.status();
  EXPECT_EQ((*decisions)[0].tier(), v1::FULL_RIG);
  EXPECT_EQ((*decisions)[1].object_id(), "b");
}

TEST(ParseEarlier, EveryFaultOfATableIsToldWithItsLine) {
  EXPECT_EQ(Refusal("object_id,tier\na,PROXY\nb,half\n,PROXY\na,OMITTED\nc\nd\"e,PROXY\n\xFF,PROXY\n"),
            "scantling: old.csv is no earlier plan: 6 fault(s)\n"
            "  old.csv:3: tier: got \"half\", want FULL_RIG, PROXY, COLOUR_PATCH or OMITTED\n"
            "  old.csv:4: object_id: got nothing, want an object's id\n"
            "  old.csv:6: got 1 cells, want 2\n"
            "  old.csv:7: got a quote in the middle of a cell, want it doubled in a quoted cell\n"
            "  old.csv:8: object_id: got \"\\xff\", want UTF-8\n"
            "  old.csv:5: object_id: got \"a\" twice, first in line 2, want each object once\n");
}

TEST(ParseEarlier, HeadingMustNameBothColumnsOnce) {
  EXPECT_THAT(Refusal("id,tier\na,PROXY\n"), HasSubstr("old.csv:1: got no column object_id in the heading"));
  EXPECT_THAT(Refusal("object_id,tier,tier\n"), HasSubstr("old.csv:1: got more than one column tier"));
  EXPECT_THAT(Refusal(""), HasSubstr("got no column tier in the heading, want a plan in JSON or a table"));
  EXPECT_THAT(Refusal("\"object_id,tier\n"), HasSubstr("old.csv:1: got a quote that is never closed"));
}

TEST(ParseEarlier, NoDecisionsAreNoPlan) {
  EXPECT_THAT(Refusal("object_id,tier\n"), HasSubstr("old.csv: got no decisions, want at least one"));
  EXPECT_THAT(Refusal("{}"), HasSubstr("old.csv: got no decisions, want at least one"));
}

TEST(ParseEarlier, FaultsOfJsonAreToldWithTheirLine) {
  EXPECT_THAT(Refusal("{\n \"decisions\": [}"), HasSubstr("  old.csv:2:16: decisions"));
  EXPECT_THAT(Refusal("{\"shot\": 1}"), HasSubstr("  old.csv:1:2: shot: no such field, want one of: shot_id"));
  EXPECT_THAT(Refusal("{\n\"decisions\": [\n{\"object_id\": \"a\", \"tier\": \"HALF\"}]}"), HasSubstr("HALF"));
}

TEST(ParseEarlier, FaultyDecisionsOfJsonAreToldWithTheirLine) {
  const std::string text = Refusal(
      "{\"decisions\": [\n"
      "  {\"object_id\": \"a\", \"tier\": \"PROXY\"},\n"
      "  {\"tier\": \"PROXY\"},\n"
      "  {\"object_id\": \"b\"},\n"
      "  {\"object_id\": \"a\", \"tier\": \"OMITTED\"}]}");
  EXPECT_EQ(text,
            "scantling: old.csv is no earlier plan: 3 fault(s)\n"
            "  old.csv:3: decisions[1].object_id: got nothing, want an object's id\n"
            "  old.csv:4: decisions[2].tier: got TIER_UNSPECIFIED, want FULL_RIG, PROXY, COLOUR_PATCH or OMITTED\n"
            "  old.csv:5: decisions[3].object_id: got \"a\" twice, first in decisions[0], want each object once\n");
}

TEST(ParseEarlier, ManyFaultsAreCounted) {
  std::string table = "object_id,tier\n";
  for (int i = 0; i < 50; ++i) absl::StrAppend(&table, "o", i, ",half\n");
  const auto decisions = ParseEarlier(table, "t");
  EXPECT_EQ(decisions.status().message(), "t is no earlier plan: 50 fault(s), the first 20 of them:");
  EXPECT_EQ(FaultsOf(decisions.status()).field_violations_size(), 20);
}

TEST(ReadEarlier, FileThatIsNotThereIsNotFound) {
  EXPECT_EQ(ReadEarlier("/no/such/plan.json").status().code(), absl::StatusCode::kNotFound);
}

}  // namespace
}  // namespace scantling::client
