// Rows: integers, order, forest. Expected values by hand from the quanta in choice.h.

#include "server/choice/choice.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>

#include "server/choice/forest_order.h"
#include "tests/choice/small_shot.h"

namespace scantling {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::MakeSmallShot;
using testing::SmallShot;

Choice Build(const SmallShot& shot) {
  Violations violations;
  absl::StatusOr<Choice> choice =
      BuildChoice({shot.scene, shot.legibility, shot.costs, shot.policy, shot.style}, violations);
  EXPECT_TRUE(choice.ok()) << choice.status();
  EXPECT_TRUE(violations.empty());
  return *std::move(choice);
}

TEST(Quanta, VisibleLossNeverRoundsToNone) {
  EXPECT_EQ(LossQuanta(0), 0);
  EXPECT_EQ(LossQuanta(1e-30), 1);
  EXPECT_EQ(LossQuanta(std::numeric_limits<double>::denorm_min()), 1);
  EXPECT_EQ(LossQuanta(2.5), 25'000'000'000);  // 2.5 / 1e-10
}

TEST(Quanta, HoursRoundToNearestAndSaturate) {
  EXPECT_EQ(HoursQuanta(1.5), 1'500'000);  // 1.5 / 1e-6
  EXPECT_EQ(HoursQuanta(1.4e-6), 1);
  EXPECT_EQ(HoursQuanta(1e300), budget::kMaxTotal);
  EXPECT_EQ(LossQuanta(1e300), budget::kMaxTotal);
}

TEST(BuildChoice, NodesStandInOrderOfId) {
  const Choice choice = Build(MakeSmallShot({{.id = "b"}, {.id = "a"}, {.id = "c"}}));
  EXPECT_THAT(choice.row_of_node, ElementsAre(1, 0, 2));
  EXPECT_THAT(choice.node_of_row, ElementsAre(1, 0, 2));
}

TEST(BuildChoice, OrderOfSendingChangesNothing) {
  const Choice one = Build(MakeSmallShot({{.id = "a", .loss = {8, 4, 2, 0}}, {.id = "b", .container = "a"}}));
  const Choice two = Build(MakeSmallShot({{.id = "b", .container = "a"}, {.id = "a", .loss = {8, 4, 2, 0}}}));
  EXPECT_EQ(one.problem.loss, two.problem.loss);
  EXPECT_EQ(one.problem.cost, two.problem.cost);
  EXPECT_EQ(one.problem.parent, two.problem.parent);
  EXPECT_EQ(one.problem.tie, two.problem.tie);
}

TEST(BuildChoice, LaysRowsOutByNodeTierAndResource) {
  const Choice choice = Build(MakeSmallShot({{.id = "a", .loss = {3, 2, 1, 0}, .hours = {0, 1, 2, 4}}}));
  const budget::Problem& problem = choice.problem;
  EXPECT_THAT(problem.loss, ElementsAre(30'000'000'000, 20'000'000'000, 10'000'000'000, 0));
  // anim, core of OMITTED, COLOUR_PATCH, PROXY, FULL_RIG: 0 0 1 0.5 2 1 4 2 hours.
  EXPECT_THAT(problem.cost, ElementsAre(0, 0, 1'000'000, 500'000, 2'000'000, 1'000'000, 4'000'000, 2'000'000));
  EXPECT_EQ(problem.resources, choice.resources.size());
  EXPECT_FALSE(problem.capacity[kAnimHours].has_value());
}

TEST(BuildChoice, MoneyKeepsTheRatioOfPrices) {
  // 50 an animator-hour, 0.05 a core-hour: 1000 to 1.
  EXPECT_THAT(Build(MakeSmallShot({{.id = "a"}})).problem.money, ElementsAre(20'000, 20));
}

TEST(BuildChoice, LossesAtAnotherPhiScaleAreThatScales) {
  SmallShot shot = MakeSmallShot({{.id = "a"}});
  shot.legibility.loss[0][0] = {1, 0, 0, 0};
  const Choice choice = Build(shot);
  EXPECT_THAT(LossesAt(choice, shot.legibility, 0), ElementsAre(10'000'000'000, 0, 0, 0));
}

TEST(BuildChoice, TotalsThatDoNotFitAreRefused) {
  SmallShot shot = MakeSmallShot({{.id = "a", .loss = {2.4e8, 0, 0, 0}}, {.id = "b", .loss = {2.4e8, 0, 0, 0}}});
  Violations violations;
  const auto choice = BuildChoice({shot.scene, shot.legibility, shot.costs, shot.policy, shot.style}, violations);
  EXPECT_TRUE(absl::IsInvalidArgument(choice.status())) << choice.status();
}

TEST(OrderForest, EveryChildComesBeforeItsParent) {
  const SmallShot shot = MakeSmallShot({{.id = "a", .container = "b"}, {.id = "b", .container = "c"}, {.id = "c"}});
  const ForestOrder order = OrderForest(shot.scene.objects);
  EXPECT_THAT(order.upward, ElementsAre(0, 1, 2));
  EXPECT_THAT(order.parent, ElementsAre(1, 2, -1));
}

}  // namespace
}  // namespace scantling
