// What the trade would say of the plans of the demonstration shot (common practice, no source): whoever reads such a
// plan must find in it what he would have decided himself, only earlier and with its price.
//
// Everything is asserted over a ladder of budgets, of animator-hours and of core-hours, from everything full down to
// the greater of a twentieth and the smallest feasible; on seed 1, and in SeedNeverLookedAt on twenty seeds that no
// starting value was chosen by.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include "tests/planning/demo_shot.h"

namespace scantling {
namespace {

using testing::DemoScene;
using testing::PlanCall;
using testing::PlanOrFail;
using testing::ShippedPolicy;
using testing::TryPlan;

const std::set<std::string> kLeads = {"lead", "animal_lead"};
const std::set<std::string> kPeople = {"person", "passenger", "tenant", "reaper"};
const std::set<std::string> kHouses = {"dwelling", "hill_dwelling"};
constexpr double kFarM = 300;  // apparent distance from which people count as far

// One decision with what the assertions ask about.
struct Row {
  std::string id, class_name;
  Decision decision;
  bool seen = false;
  double apparent_m = 0;
  Tier unseen_tier = Tier::kOmitted;  // in the plan that gives nothing visible up
};

std::vector<Row> RowsOf(const PlannedShot& shot) {
  std::vector<Row> rows;
  for (size_t node = 0; node < shot.plan.decisions.size(); ++node) {
    const Decision& decision = shot.plan.decisions[node];
    Row row;
    row.id = shot.scene.objects.id[decision.object];
    row.class_name = ShippedPolicy().catalogue.classes[shot.scene.objects.class_index[decision.object]].name;
    row.decision = decision;
    row.seen = shot.legibility.sight[decision.object] == Sight::kSeen;
    row.apparent_m = shot.legibility.apparent_m[decision.object];
    row.unseen_tier = static_cast<Tier>(shot.unseen[kPhiAsGiven].level[node]);
    rows.push_back(std::move(row));
  }
  return rows;
}

bool IsFarPerson(const Row& row) { return row.seen && kPeople.count(row.class_name) && row.apparent_m >= kFarM; }

// Budgets from everything full to the greater of 5% of it and the smallest feasible, one resource at a time.
std::vector<Budgets> Ladder(uint64_t seed) {
  PlanFaults faults;
  auto nothing_fits = TryPlan(DemoScene(1500, seed), {.budgets = {0, 0}}, faults);
  EXPECT_FALSE(nothing_fits.ok()) << "leads cannot be had for nothing";
  EXPECT_TRUE(faults.no_plan.has_value());
  if (!faults.no_plan) return {};
  const auto full = PlanOrFail(DemoScene(1500, seed), {});
  if (full == nullptr) return {};
  const CostRange& everything = full->plan.totals.everything_full;
  const double base_core_hours = BaseCoreHours(full->scene, ShippedPolicy().rates);
  std::vector<Budgets> ladder;
  for (const double share : {0.5, 0.25, 0.12, 0.08, 0.05}) {
    // A hair over the smallest, which is known to a billionth of an hour.
    const double anim = std::max(share * everything.anim_hours.mean, faults.no_plan->least_anim_hours + 1e-6);
    const double core =
        std::max(share * (everything.core_hours.mean - base_core_hours), faults.no_plan->least_core_hours + 1e-6);
    ladder.push_back({anim, std::nullopt});
    ladder.push_back({std::nullopt, core});
  }
  return ladder;
}

std::string Describe(const Budgets& budgets) {
  return budgets.anim_hours ? "animator-hours " + std::to_string(*budgets.anim_hours)
                            : "core-hours " + std::to_string(budgets.core_hours.value_or(-1));
}

void ExpectLeadsStayFull(const std::vector<Row>& rows) {
  int leads = 0;
  for (const Row& row : rows) {
    if (!row.seen || !kLeads.count(row.class_name)) continue;
    ++leads;
    EXPECT_EQ(row.decision.tier, Tier::kFullRig) << row.id;
  }
  EXPECT_GE(leads, 2) << "the lamplighter and her dog";
}

// Nobody far away is left out, visibly, while somebody as far still has more than a patch.
void ExpectPatchesBeforeOmissions(const std::vector<Row>& rows) {
  std::string omitted, above_patch;
  for (const Row& row : rows) {
    if (!IsFarPerson(row)) continue;
    if (row.decision.tier == Tier::kOmitted && row.decision.loss > 0) omitted = row.id;
    if (row.decision.tier > Tier::kColourPatch) above_patch = row.id;
  }
  EXPECT_TRUE(omitted.empty() || above_patch.empty())
      << omitted << " is left out, but " << above_patch << " is not a patch";
}

void ExpectNoEmptyFerry(const std::vector<Row>& rows) {
  int seen = 0, aboard = 0;
  for (const Row& row : rows) {
    if (!row.seen || row.class_name != "passenger") continue;
    ++seen;
    aboard += row.decision.tier != Tier::kOmitted;
  }
  ASSERT_GT(seen, 10);
  EXPECT_GE(aboard * 2, seen) << aboard << " of " << seen << " passengers";
}

// Share of those who are kept in the unseen plan that this plan still keeps there.
double KeptShare(const std::vector<Row>& rows, const std::set<std::string>& classes, double nearer_than_m) {
  double wanted = 0, kept = 0;
  for (const Row& row : rows) {
    if (!row.seen || !classes.count(row.class_name) || row.apparent_m >= nearer_than_m) continue;
    if (row.unseen_tier <= Tier::kColourPatch) continue;
    ++wanted;
    kept += row.decision.tier >= row.unseen_tier;
  }
  return wanted == 0 ? 1 : kept / wanted;
}

void ExpectHousesAfterPeople(const std::vector<Row>& rows) {
  EXPECT_LE(KeptShare(rows, kHouses, 1e9), KeptShare(rows, kPeople, 1e9) + 1e-9);
}

bool Within5Percent(double a, double b) { return std::fabs(a - b) <= 0.05 * std::max(std::fabs(a), std::fabs(b)); }

// Unpainted, unruled figures of one asset, cost and importance within 5% in height, seen span and visible fraction
// never stand two tiers apart.
void ExpectAlikeStandTogether(const PlannedShot& shot, const std::vector<Row>& rows) {
  const Legibility& legibility = shot.legibility;
  std::vector<const Row*> figures;
  for (const Row& row : rows) {
    const uint32_t object = row.decision.object;
    const bool figure =
        ShippedPolicy().catalogue.classes[shot.scene.objects.class_index[object]].kind == ClassKind::kFigure;
    if (row.seen && figure && row.decision.reason != Reason::kPaintedIn && shot.scene.objects.asset[object] != kNone) {
      figures.push_back(&row);
    }
  }
  const auto height = [&](const Row* row) { return legibility.largest_height_px[row->decision.object]; };
  std::sort(figures.begin(), figures.end(), [&](const Row* a, const Row* b) { return height(a) < height(b); });
  int pairs = 0;
  for (size_t i = 0; i < figures.size(); ++i) {
    for (size_t j = i + 1; j < figures.size() && Within5Percent(height(figures[i]), height(figures[j])); ++j) {
      const uint32_t a = figures[i]->decision.object, b = figures[j]->decision.object;
      if (shot.scene.objects.asset[a] != shot.scene.objects.asset[b]) continue;
      if (shot.scene.objects.importance[a] != shot.scene.objects.importance[b]) continue;
      if (!Within5Percent(legibility.seen_frames[a], legibility.seen_frames[b])) continue;
      if (!Within5Percent(shot.costs.anim_hours[a][3], shot.costs.anim_hours[b][3])) continue;
      if (!Within5Percent(shot.costs.core_hours[a][3], shot.costs.core_hours[b][3])) continue;
      ++pairs;
      EXPECT_LE(std::abs(Index(figures[i]->decision.tier) - Index(figures[j]->decision.tier)), 1)
          << figures[i]->id << " and " << figures[j]->id;
    }
  }
  EXPECT_GT(pairs, 0) << "the shot has extras that look alike";
}

void ExpectBelievable(uint64_t seed) {
  for (const Budgets& budgets : Ladder(seed)) {
    SCOPED_TRACE("seed " + std::to_string(seed) + ", " + Describe(budgets));
    const auto shot = PlanOrFail(DemoScene(1500, seed), {.budgets = budgets, .target_gap = 1e-4});
    ASSERT_NE(shot, nullptr);
    const std::vector<Row> rows = RowsOf(*shot);
    ExpectLeadsStayFull(rows);
    ExpectPatchesBeforeOmissions(rows);
    ExpectNoEmptyFerry(rows);
    ExpectHousesAfterPeople(rows);
    ExpectAlikeStandTogether(*shot, rows);
  }
}

TEST(Demonstration, PlansAreBelievableAtEveryBudget) { ExpectBelievable(1); }

// The starting values in config/ were chosen by seeds 1 to 3, mended once after seed 117 of a first unseen set (101 to
// 120) kept six of ten houses beside 59.6 % of the people, and then frozen.
class SeedNeverLookedAt : public ::testing::TestWithParam<uint64_t> {};

TEST_P(SeedNeverLookedAt, IsBelievableToo) { ExpectBelievable(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Demonstration, SeedNeverLookedAt, ::testing::Range<uint64_t>(201, 221));

TEST(Demonstration, WithPlateShiftTheFarHillsideIsPatchesAtNoVisibleLoss) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  int reapers = 0;
  for (const Row& row : RowsOf(*shot)) {
    if (!row.seen || (row.class_name != "reaper" && row.class_name != "hay_cart")) continue;
    ++reapers;
    EXPECT_LE(row.decision.tier, Tier::kColourPatch) << row.id;
    EXPECT_EQ(row.decision.loss, 0) << row.id;
  }
  EXPECT_GT(reapers, 10);
}

TEST(Demonstration, NearCrowdIsReadAndNotPatched) {
  const auto shot = PlanOrFail(DemoScene(1500, 1), {});
  ASSERT_NE(shot, nullptr);
  int near_people = 0;
  for (const Row& row : RowsOf(*shot)) {
    if (!row.seen || row.class_name != "person" || row.apparent_m > 30 || row.apparent_m == 0) continue;
    ++near_people;
    EXPECT_GE(row.decision.tier, Tier::kProxy) << row.id;
  }
  EXPECT_GT(near_people, 20);
}

TEST(Demonstration, LossNeverRisesWithABudget) {
  const auto unseen = PlanOrFail(DemoScene(1500, 2), {});
  ASSERT_NE(unseen, nullptr);
  double last = -1;
  for (const double share : {0.9, 0.5, 0.25, 0.12, 0.08}) {
    const double hours = share * unseen->plan.totals.everything_full.anim_hours.mean;
    PlanFaults faults;
    auto planned = TryPlan(DemoScene(1500, 2), {.budgets = {hours, std::nullopt}}, faults);
    if (!planned.ok()) break;
    // Each loss is within its gap of the least; a smaller budget's bound never lies under a larger one's.
    EXPECT_GE((*planned)->plan.totals.loss, last * (1 - 1e-5)) << share;
    last = (*planned)->plan.totals.loss_bound;
  }
  EXPECT_GT(last, 0);
}

}  // namespace
}  // namespace scantling
