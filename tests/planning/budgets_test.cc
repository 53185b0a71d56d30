// Budgets beyond hours on the demonstration shot: crowds, memory, alike groups, earlier plans, what stands in the way,
// the frontier, and flips that solving again confirms.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <tuple>

#include "server/answer/reason.h"
#include "server/choice/limits.h"
#include "server/planning/plan_shot.h"
#include "server/planning/trace_frontier.h"
#include "tests/planning/demo_shot.h"

namespace scantling {
namespace {

using testing::Sample;
using testing::SceneOf;
using testing::ShippedPolicy;

constexpr int kObjects = 400;  // the scenario in small: seconds for the whole file

struct Answer {
  absl::StatusOr<std::unique_ptr<PlannedShot>> planned;
  PlanFaults faults;
};

Answer PlanWith(const v1::Shot& shot, const PlanRequest& request, const Policy& policy = ShippedPolicy()) {
  Answer answer;
  const Stop stop;
  answer.planned = PlanShot(SceneOf(shot), {policy, *policy.FindStyle("ink"), stop, {}}, request, answer.faults);
  return answer;
}

std::unique_ptr<PlannedShot> PlanOf(const v1::Shot& shot, const PlanRequest& request,
                                    const Policy& policy = ShippedPolicy()) {
  Answer answer = PlanWith(shot, request, policy);
  EXPECT_TRUE(answer.planned.ok()) << answer.planned.status();
  return answer.planned.ok() ? *std::move(answer.planned) : nullptr;
}

PlanRequest Hours(double anim_hours) {
  PlanRequest request;
  request.budgets.anim_hours = anim_hours;
  return request;
}

double UnseenHours(const v1::Shot& shot) {
  const auto unseen = PlanOf(shot, {});
  return unseen == nullptr ? 0 : unseen->plan.totals.plan.anim_hours.mean;
}

v1::Shot Plain() {
  v1::Shot shot = Sample(kObjects);
  shot.clear_crowds();
  return shot;
}

Tier TierOf(const PlannedShot& planned, uint32_t row) {
  return static_cast<Tier>(planned.solution.level[planned.choice.node_of_row[row]]);
}

// ---- Crowds

v1::Shot WithCrowd(double keep_share) {
  v1::Shot shot = Plain();
  v1::Crowd* crowd = shot.add_crowds();
  crowd->set_name("people");
  for (const char* name : {"person", "gull", "reaper", "passenger", "prop", "window"}) crowd->add_class_names(name);
  crowd->set_keep_share(keep_share);
  return shot;
}

TEST(Crowds, EnoughOfThemStayHoweverTightTheBudget) {
  const v1::Shot plain = Plain();
  const double hours = UnseenHours(plain) * 0.15;
  const auto without = PlanOf(WithCrowd(0), Hours(hours));
  const auto with = PlanOf(WithCrowd(0.95), Hours(hours));
  ASSERT_TRUE(without != nullptr && with != nullptr);
  const CrowdFigures &few = without->plan.totals.crowds[0], &most = with->plan.totals.crowds[0];
  EXPECT_EQ(few.seen, most.seen);
  EXPECT_LT(few.kept, std::ceil(0.95 * static_cast<double>(few.seen))) << "the share must bind, or nothing is tested";
  EXPECT_GE(most.kept, std::ceil(0.95 * static_cast<double>(most.seen)));
  EXPECT_LE(with->plan.totals.plan.anim_hours.mean, hours + 1e-3);
  EXPECT_GE(with->plan.totals.loss, without->plan.totals.loss_bound);
  EXPECT_GE(with->plan.totals.loss, with->plan.totals.loss_bound);
  EXPECT_TRUE(std::any_of(with->plan.decisions.begin(), with->plan.decisions.end(),
                          [](const Decision& decision) { return decision.reason == Reason::kCrowdShare; }));
}

TEST(Crowds, EveryCellKeepsItsCover) {
  v1::Shot shot = WithCrowd(0);
  v1::Crowd* crowd = shot.mutable_crowds(0);
  crowd->set_cell_columns(4);
  crowd->set_cell_rows(2);
  const double hours = UnseenHours(Plain()) * 0.15;
  const auto without = PlanOf(shot, Hours(hours));
  crowd->set_least_covered_share(0.995);
  const auto with = PlanOf(shot, Hours(hours));
  ASSERT_TRUE(without != nullptr && with != nullptr);
  EXPECT_LT(without->plan.totals.crowds[0].emptiest_share, 0.995) << "the cover must bind, or nothing is tested";
  EXPECT_GE(with->plan.totals.crowds[0].emptiest_share, 0.995 - 1e-6);  // cover counts in thousandths of a px
}

TEST(Crowds, ShareThatRulingsForbidIsInTheWay) {
  v1::Shot shot = WithCrowd(1);
  v1::Directive* out = shot.add_directives();
  out->set_class_name("person");
  out->set_bound(v1::Directive::AT_MOST);
  out->set_tier(v1::OMITTED);
  const Answer answer = PlanWith(shot, {});
  EXPECT_TRUE(absl::IsFailedPrecondition(answer.planned.status())) << answer.planned.status();
  ASSERT_TRUE(answer.faults.no_plan.has_value());
  std::vector<std::string> subjects;
  for (const auto& demand : answer.faults.no_plan->in_the_way) subjects.push_back(demand.subject);
  EXPECT_THAT(subjects, ::testing::UnorderedElementsAre("directives[0]", "people"));
  EXPECT_TRUE(answer.faults.no_plan->in_the_way_is_irreducible);
}

// ---- Memory

TEST(Memory, CapIsMetInEveryFrame) {
  v1::Shot shot = Sample(150);  // shared costs are slow to solve
  shot.clear_crowds();
  const auto unseen = PlanOf(shot, {});
  ASSERT_NE(unseen, nullptr);
  PlanRequest request;
  request.budgets.memory_mb = unseen->plan.totals.peak_memory_mb * 0.8;
  const auto capped = PlanOf(shot, request);
  ASSERT_NE(capped, nullptr);
  const Totals& totals = capped->plan.totals;
  EXPECT_LE(totals.peak_memory_mb, *request.budgets.memory_mb + 1e-3);
  EXPECT_TRUE(totals.over_memory.empty());
  EXPECT_GE(totals.loss, totals.loss_bound);
  EXPECT_GT(totals.loss, 0) << "the cap must bind, or nothing is tested";
  // Told again from the plan's tiers, frame by frame.
  std::vector<Tier> tiers(capped->scene.objects.size());
  for (uint32_t row = 0; row < tiers.size(); ++row) tiers[row] = TierOf(*capped, row);
  const std::vector<double> memory = MemoryByFrame(capped->pricing(), tiers);
  EXPECT_NEAR(*std::max_element(memory.begin(), memory.end()), totals.peak_memory_mb, 1e-6);
}

// ---- Shared set-ups

TEST(SharedCosts, ArePaidOnceAnAsset) {
  Policy policy = ShippedPolicy();
  const auto person = policy.catalogue.Find("person");
  ASSERT_TRUE(person.has_value());
  policy.rates.classes[*person].tier[Index(Tier::kFullRig)].shared_setup_hours = 10;
  policy.rates.classes[*person].tier[Index(Tier::kProxy)].shared_setup_hours = 4;
  const v1::Shot shot = Plain();
  const auto planned = PlanOf(shot, Hours(UnseenHours(shot) * 0.8), policy);
  ASSERT_NE(planned, nullptr);
  double shared = 0;
  std::set<std::pair<uint32_t, Tier>> paid;
  for (uint32_t row = 0; row < planned->scene.objects.size(); ++row) {
    const uint32_t asset = planned->scene.objects.asset[row];
    if (planned->scene.objects.class_index[row] != *person || asset == kNone) continue;
    const Tier tier = TierOf(*planned, row);
    const bool cast = !IndirectFrames(planned->scene, row).empty();
    if (tier < Tier::kProxy || (planned->legibility.seen_frames[row] == 0 && !cast)) continue;
    if (paid.insert({asset, tier}).second) shared += tier == Tier::kFullRig ? 10 : 4;
  }
  EXPECT_GT(shared, 0);
  EXPECT_NEAR(planned->plan.totals.shared_anim_hours, shared, 1e-9);
  EXPECT_LE(planned->plan.totals.plan.anim_hours.mean, UnseenHours(shot) * 0.8 + 1e-3);
}

// ---- Alike

TEST(Alike, SiblingsOfOneAssetAndBandTakeOneTier) {
  const v1::Shot shot = Plain();
  PlanRequest request = Hours(UnseenHours(shot) * 0.6);
  const auto free = PlanOf(shot, request);
  request.alike = true;
  const auto alike = PlanOf(shot, request);
  ASSERT_TRUE(free != nullptr && alike != nullptr);
  std::map<std::tuple<uint32_t, uint32_t, uint8_t>, std::pair<Tier, int>> seen;
  const auto split = [&](const PlannedShot& planned) {
    seen.clear();
    int groups = 0;
    for (uint32_t row = 0; row < planned.scene.objects.size(); ++row) {
      if (planned.scene.objects.asset[row] == kNone || planned.legibility.sight[row] != Sight::kSeen) continue;
      const auto key = std::make_tuple(planned.scene.objects.container[row], planned.scene.objects.asset[row],
                                       planned.legibility.band[row]);
      const auto [at, is_new] = seen.try_emplace(key, TierOf(planned, row), 0);
      groups += at->second.first != TierOf(planned, row);
    }
    return groups;
  };
  EXPECT_GT(split(*free), 0) << "some group must be split without it, or nothing is tested";
  EXPECT_EQ(split(*alike), 0);
  EXPECT_GE(alike->plan.totals.loss, free->plan.totals.loss_bound);
  EXPECT_TRUE(std::any_of(alike->plan.decisions.begin(), alike->plan.decisions.end(),
                          [](const Decision& decision) { return decision.reason == Reason::kLikeItsTwins; }));
}

// ---- Earlier plans

std::vector<EarlierDecision> Decisions(const PlannedShot& planned) {
  std::vector<EarlierDecision> earlier;
  for (const Decision& decision : planned.plan.decisions) {
    earlier.push_back({std::string(planned.scene.objects.id[decision.object]), decision.tier});
  }
  return earlier;
}

TEST(Steadiness, ItsOwnPlanChangesNothing) {
  const v1::Shot shot = Plain();
  PlanRequest request = Hours(UnseenHours(shot) * 0.6);
  const auto first = PlanOf(shot, request);
  ASSERT_NE(first, nullptr);
  request.earlier = Decisions(*first);
  request.earlier.push_back({"nobody", Tier::kProxy});
  const auto second = PlanOf(shot, request);
  ASSERT_NE(second, nullptr);
  ASSERT_TRUE(second->plan.totals.steadiness.has_value());
  EXPECT_EQ(second->plan.totals.steadiness->changed, 0);
  EXPECT_EQ(second->plan.totals.steadiness->earlier, first->plan.totals.objects);
  EXPECT_EQ(second->plan.totals.steadiness->unknown, 1);
  EXPECT_EQ(first->solution.level, second->solution.level);
}

TEST(Steadiness, KeepsWhatGainsTooLittleAndTellsWhatThatCosts) {
  const v1::Shot shot = Plain();
  const double hours = UnseenHours(shot);
  const auto first = PlanOf(shot, Hours(hours * 0.6));
  ASSERT_NE(first, nullptr);
  PlanRequest request = Hours(hours * 0.63);  // a little more to spend
  request.earlier = Decisions(*first);
  // The same margin for all: the plan then weighs how many change. (A share of each one's own loss may well give up
  // many small decisions to keep a large one.)
  request.change_margin = 0;
  request.change_margin_least = 0.02;
  const auto steady = PlanOf(shot, request);
  request.change_margin_least = 0;
  const auto free = PlanOf(shot, request);
  ASSERT_TRUE(steady != nullptr && free != nullptr);
  const Steadiness &kept = *steady->plan.totals.steadiness, &unkept = *free->plan.totals.steadiness;
  EXPECT_LT(kept.changed, kept.changed_freely) << "the margin must keep something, or nothing is tested";
  EXPECT_EQ(unkept.changed, unkept.changed_freely);
  EXPECT_NEAR(kept.loss, steady->plan.totals.loss - free->plan.totals.loss, 1e-6 + free->plan.totals.loss * 1e-3);
  EXPECT_GE(steady->plan.totals.loss, steady->plan.totals.loss_bound);
  int64_t reasons = 0;
  for (const Decision& decision : steady->plan.decisions) reasons += decision.reason == Reason::kKeptAsBefore;
  EXPECT_GT(reasons, 0);
}

// ---- What stands in the way

TEST(NoPlanFits, RulingsThatCostTooMuchAreNamed) {
  v1::Shot shot = Plain();
  const auto loose = PlanOf(shot, {});
  ASSERT_NE(loose, nullptr);
  for (const char* class_name : {"person", "gull", "lead"}) {
    v1::Directive* full = shot.add_directives();
    full->set_class_name(class_name);
    full->set_bound(v1::Directive::AT_LEAST);
    full->set_tier(v1::FULL_RIG);
  }
  const Answer answer = PlanWith(shot, Hours(UnseenHours(Plain()) * 0.5));
  EXPECT_TRUE(absl::IsFailedPrecondition(answer.planned.status())) << answer.planned.status();
  ASSERT_TRUE(answer.faults.no_plan.has_value());
  const NoPlanFits& no_plan = *answer.faults.no_plan;
  ASSERT_FALSE(no_plan.in_the_way.empty());
  EXPECT_TRUE(no_plan.in_the_way_is_irreducible);
  // People by far cost most; and what would fit does.
  EXPECT_TRUE(std::any_of(no_plan.in_the_way.begin(), no_plan.in_the_way.end(),
                          [](const auto& demand) { return demand.subject == "directives[0]"; }));
  ASSERT_TRUE(no_plan.fitting_anim_hours.has_value());
  EXPECT_TRUE(PlanWith(shot, Hours(*no_plan.fitting_anim_hours)).planned.ok());
}

// ---- Frontier

TEST(Frontier, LosesMoreAsTheBudgetShrinksAndNothingAtItsLooseEnd) {
  const v1::Shot shot = Plain();
  const Stop stop;
  PlanFaults faults;
  FrontierRequest request;
  request.points = 9;
  std::vector<int32_t> order;
  const auto frontier = TraceShotFrontier(
      SceneOf(shot), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, {}}, request,
      [&](const FrontierPoint& point) { order.push_back(point.index); }, faults);
  ASSERT_TRUE(frontier.ok()) << frontier.status();
  EXPECT_THAT(order, ::testing::ElementsAre(0, 1, 2, 3, 4, 5, 6, 7, 8));
  ASSERT_TRUE(frontier->nothing_lost.has_value());
  EXPECT_EQ(frontier->points[0].limits.anim_hours, frontier->nothing_lost->anim_hours);
  EXPECT_EQ(frontier->points[0].loss, 0);
  for (size_t i = 1; i < frontier->points.size(); ++i) {
    const FrontierPoint &looser = frontier->points[i - 1], &tighter = frontier->points[i];
    EXPECT_LT(*tighter.limits.anim_hours, *looser.limits.anim_hours);
    if (!tighter.fits) continue;
    EXPECT_GE(tighter.loss, looser.loss_bound);
    EXPECT_LE(tighter.loss_bound, tighter.loss);
    EXPECT_LE(tighter.used[kAnimHours], *tighter.limits.anim_hours + 1e-9);
    EXPECT_EQ(tighter.count[0] + tighter.count[1] + tighter.count[2] + tighter.count[3], kObjects);
  }
  EXPECT_EQ(frontier->knee, KneeOf(frontier->points));
  // A hair less than the loose end loses something.
  const auto under = PlanOf(shot, Hours(*frontier->nothing_lost->anim_hours * (1 - 1e-4)));
  ASSERT_NE(under, nullptr);
  EXPECT_GT(under->plan.totals.loss, 0);
}

TEST(Frontier, KneeIsWhereThePriceDropsMost) {
  std::vector<FrontierPoint> points(4);
  const std::array<double, 4> price = {0, 1, 7, 9};
  for (int i = 0; i < 4; ++i) {
    points[static_cast<size_t>(i)].index = i;
    points[static_cast<size_t>(i)].fits = true;
    points[static_cast<size_t>(i)].price_per_step = price[static_cast<size_t>(i)];
  }
  EXPECT_EQ(KneeOf(points), 1);  // from 7 to 1
  points[2].fits = false;
  EXPECT_EQ(KneeOf(points), 0);  // from 1 to 0: no other two neighbours fit
  points[0].fits = false;
  EXPECT_EQ(KneeOf(points), std::nullopt);
}

TEST(Frontier, BothShrinkTogether) {
  const Stop stop;
  PlanFaults faults;
  FrontierRequest request;
  request.points = 4;
  request.along = Along::kBoth;
  const auto frontier = TraceShotFrontier(
      SceneOf(Plain()), {ShippedPolicy(), *ShippedPolicy().FindStyle("ink"), stop, {}}, request, {}, faults);
  ASSERT_TRUE(frontier.ok()) << frontier.status();
  for (size_t i = 1; i < frontier->points.size(); ++i) {
    EXPECT_LT(*frontier->points[i].limits.core_hours, *frontier->points[i - 1].limits.core_hours);
    EXPECT_LT(*frontier->points[i].limits.anim_hours, *frontier->points[i - 1].limits.anim_hours);
  }
}

// ---- Flips, confirmed by solving again

// At the flip's capacity the relaxed plan has the flip's tier: CapacityFlipOf asked there says that a little more flips
// it back.
TEST(Flips, BudgetAtWhichATierFlipsDoesFlipIt) {
  const v1::Shot shot = Plain();
  const auto planned = PlanOf(shot, Hours(UnseenHours(shot) * 0.6));
  ASSERT_NE(planned, nullptr);
  int confirmed = 0;
  for (const Decision& decision : planned->plan.decisions) {
    if (decision.reason != Reason::kTraded || confirmed >= 5) continue;
    for (const FlipAnswer& flip : FlipsOf(planned->input(), decision)) {
      if (!flip.anim_hours || *flip.anim_hours < *planned->budgets.anim_hours) continue;
      // With a tenth more than the flip asks for, the whole plan gives the object that tier or a higher one, or the
      // relaxed plan's price is lower than where the tier pays: solve again and see.
      const auto again = PlanOf(shot, Hours(*flip.anim_hours * 1.1));
      ASSERT_NE(again, nullptr);
      EXPECT_LE(again->plan.totals.price_anim_hour, planned->plan.totals.price_anim_hour);
      EXPECT_GE(TierOf(*again, decision.object), decision.tier);
      ++confirmed;
      break;
    }
  }
  EXPECT_GT(confirmed, 0);
}

}  // namespace
}  // namespace scantling
