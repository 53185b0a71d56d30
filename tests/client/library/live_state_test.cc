// Updates put together to a plan.

#include "client/library/live_state.h"

#include <gmock/gmock.h>

namespace scantling::client {
namespace {

using Taken = LivePlan::Taken;

v1::Update Update(int64_t number, v1::UpdateState state, const std::vector<std::string>& ids,
                  v1::Tier tier = v1::PROXY) {
  v1::Update update;
  update.set_number(number);
  update.set_revision(number);
  update.set_state(state);
  for (const std::string& id : ids) {
    v1::Decision& decision = *update.add_decisions();
    decision.set_object_id(id);
    decision.set_tier(tier);
  }
  update.mutable_summary()->set_mode("unseen");
  return update;
}

std::string IdsOf(const LivePlan& plan) {
  std::string ids;
  for (const auto& [id, decision] : plan.decisions()) ids += id;
  return ids;
}

TEST(LivePlan, LaterDecisionsStandOverEarlierOnesInOrderOfIds) {
  LivePlan plan;
  EXPECT_EQ(plan.Take(Update(1, v1::SETTLED, {"c", "a"})), Taken::kPlan);
  EXPECT_FALSE(plan.is_final());
  plan.Take(Update(2, v1::FINAL, {"a", "b"}, v1::FULL_RIG));
  EXPECT_TRUE(plan.is_final());
  const v1::Plan whole = plan.plan();
  ASSERT_EQ(whole.decisions_size(), 3);
  EXPECT_EQ(whole.decisions(0).tier(), v1::FULL_RIG);
  EXPECT_EQ(whole.decisions(2).tier(), v1::PROXY);
  EXPECT_EQ(whole.mode(), "unseen");
}

TEST(LivePlan, GoneComesBeforeDecisions) {
  LivePlan plan;
  plan.Take(Update(1, v1::FINAL, {"a", "b"}));
  v1::Update back = Update(2, v1::FINAL, {"a"}, v1::FULL_RIG);
  back.add_gone_ids("a");  // left and came back as another
  back.add_gone_ids("b");
  plan.Take(back);
  EXPECT_EQ(IdsOf(plan), "a");
  EXPECT_EQ(plan.Find("a")->tier(), v1::FULL_RIG);
}

TEST(LivePlan, PartsAreTakenInWithTheLastAndNotBefore) {
  LivePlan plan;
  plan.Take(Update(1, v1::FINAL, {"a"}));
  v1::Update first = Update(2, v1::FINAL, {"b"});
  first.set_anew(true);
  first.set_continues(true);
  first.clear_summary();
  EXPECT_EQ(plan.Take(first), Taken::kPart);
  EXPECT_EQ(IdsOf(plan), "a");
  EXPECT_EQ(plan.number(), 1);
  EXPECT_EQ(plan.Take(Update(2, v1::FINAL, {"c"})), Taken::kPlan);
  EXPECT_EQ(IdsOf(plan), "bc");  // anew was said in the first part
  EXPECT_EQ(plan.number(), 2);
}

TEST(LivePlan, BrokenUpdateLeavesNothingBehind) {
  LivePlan plan;
  plan.Take(Update(1, v1::FINAL, {"a"}));
  v1::Update part = Update(2, v1::FINAL, {"b"});
  part.set_anew(true);
  part.set_continues(true);
  plan.Take(part);
  plan.DropPartial();
  plan.Take(Update(2, v1::FINAL, {"c"}));
  EXPECT_EQ(IdsOf(plan), "ac");
}

TEST(LivePlan, ProvisionalChangesNothingButThatThePlanIsNoLongerTheLastWord) {
  LivePlan plan;
  plan.Take(Update(1, v1::FINAL, {"a"}));
  v1::Update look = Update(0, v1::PROVISIONAL, {});
  look.set_revision(2);
  EXPECT_EQ(plan.Take(look), Taken::kProvisional);
  EXPECT_EQ(IdsOf(plan), "a");
  EXPECT_EQ(plan.number(), 1);
  EXPECT_FALSE(plan.is_final());
}

TEST(LivePlan, ProblemKeepsDecisionsAndSummary) {
  LivePlan plan;
  plan.Take(Update(1, v1::FINAL, {"a"}));
  v1::Update none = Update(2, v1::SETTLED, {});
  none.mutable_summary()->set_mode("budget");
  none.mutable_problem()->set_code(9);
  EXPECT_EQ(plan.Take(none), Taken::kProblem);
  EXPECT_EQ(plan.plan().mode(), "unseen");
  EXPECT_EQ(plan.revision(), 2);
  EXPECT_FALSE(plan.is_final());
}

TEST(LivePlan, ChangesAreThoseSinceTheyWereLastTaken) {
  LivePlan plan;
  plan.Take(Update(1, v1::SETTLED, {"a", "b"}));
  EXPECT_EQ(plan.TakeChanges().size(), 2u);
  plan.Take(Update(2, v1::SETTLED, {"a"}, v1::FULL_RIG));
  plan.Take(Update(3, v1::SETTLED, {"a"}, v1::PROXY));  // taken back
  plan.Take(Update(4, v1::SETTLED, {"b"}, v1::OMITTED));
  plan.Take(Update(5, v1::FINAL, {"b"}, v1::FULL_RIG));
  const std::vector<LiveChange> changes = plan.TakeChanges();
  ASSERT_EQ(changes.size(), 1u);
  EXPECT_EQ(changes[0].object_id, "b");
  EXPECT_EQ(changes[0].before->tier(), v1::PROXY);
  EXPECT_EQ(changes[0].after->tier(), v1::FULL_RIG);
  EXPECT_TRUE(plan.TakeChanges().empty());
}

TEST(LivePlan, NewSessionBringsEverythingAndTellsOnlyWhatDiffers) {
  LivePlan plan;
  plan.Take(Update(7, v1::FINAL, {"a", "b"}));
  plan.TakeChanges();
  plan.BeginAnew();
  EXPECT_EQ(IdsOf(plan), "ab");  // until something better is known
  EXPECT_EQ(plan.number(), 0);
  v1::Update first = Update(1, v1::SETTLED, {"a"});
  first.set_anew(true);
  plan.Take(first);
  plan.Take(Update(2, v1::FINAL, {"c"}));
  EXPECT_EQ(IdsOf(plan), "ac");  // once forgotten, not twice
  const std::vector<LiveChange> changes = plan.TakeChanges();
  ASSERT_EQ(changes.size(), 2u);
  EXPECT_EQ(changes[0].object_id, "b");
  EXPECT_TRUE(changes[0].after == nullptr);
  EXPECT_EQ(changes[1].object_id, "c");
}

}  // namespace
}  // namespace scantling::client
