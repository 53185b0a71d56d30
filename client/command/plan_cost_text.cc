// The second half of a plan's report: ranges of cost, what is saved unseen and bought, prices and proof in words.
//
// Savings are printed as the daemon computed them, with the same draws on both sides; differences of the printed ranges
// would be wrong, so none are taken here.

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "client/command/plan_text.h"
#include "client/command/table.h"

namespace scantling::client {
namespace {

void AddRange(const std::string& what, const v1::CostRange& range, TextTable& table) {
  const v1::Range& anim = range.anim_hours();
  const v1::Range& core = range.core_hours();
  table.AddRow({what, Figure(anim.p10()), Figure(anim.p50()), Figure(anim.p90()), Figure(core.p10()),
                Figure(core.p50()), Figure(core.p90())});
}

std::string UnseenLabel(double phi_scale) {
  if (phi_scale == 1) return "  of it unseen: no visible loss";
  return absl::StrCat("    were kept features ", phi_scale, " times that size");
}

std::string ShareText(const v1::Totals& totals) {
  const double full = totals.everything_full().anim_hours().mean();
  if (!(full > 0)) return "";
  const double share = 100 * totals.plan().anim_hours().mean() / full;
  return absl::StrCat(", ", Figure(share), "% of everything in full rig");
}

std::string PriceText(double price, const char* hour, bool has_budget) {
  if (!has_budget) return "";
  if (price == 0) return absl::StrCat(" One more ", hour, " would change nothing: that budget does not bind.");
  return absl::StrCat(" One more ", hour, " would win back about ", Measured(price), " frame-octaves.");
}

}  // namespace

std::string CostText(const v1::Plan& plan, const PlanTextOptions& options) {
  const v1::Totals& totals = plan.totals();
  TextTable table({{"COST, estimated"},
                   {"animator-hours P10", Align::kRight},
                   {"P50", Align::kRight},
                   {"P90", Align::kRight},
                   {"core-hours P10", Align::kRight},
                   {"P50", Align::kRight},
                   {"P90", Align::kRight}});
  AddRange("everything in full rig", totals.everything_full(), table);
  AddRange("this plan", totals.plan(), table);
  AddRange("saved", totals.saving(), table);
  // As given first, then what the judgement of kept detail does to it.
  for (const auto& unseen : totals.unseen_saving()) {
    if (unseen.phi_scale() == 1) AddRange(UnseenLabel(1), unseen.saving(), table);
  }
  for (const auto& unseen : totals.unseen_saving()) {
    if (unseen.phi_scale() != 1) AddRange(UnseenLabel(unseen.phi_scale()), unseen.saving(), table);
  }
  if (plan.mode() != "unseen") AddRange("  of it bought: some visible loss", totals.bought_saving(), table);
  const v1::CostRange& by_span = totals.saved_by_span();
  if (by_span.anim_hours().mean() > 0 || by_span.core_hours().mean() > 0) {
    AddRange("would be saved by tier and hold of each span", by_span, table);
  }
  const WorkRates rates = RatesOf(plan);
  std::string text = absl::StrCat("\n", table.Text());
  absl::StrAppend(&text, "  Animation in this plan, mean: ", Figure(AmountOf(totals, WorkUnit::kHours, rates)),
                  " animator-hours = ", Figure(totals.animator_weeks()), " animator-weeks of ",
                  Measured(rates.hours_per_week), " h", ShareText(totals), "\n");
  if (options.unit == WorkUnit::kSeconds || options.unit == WorkUnit::kFeet) {
    absl::StrAppend(&text, "  Counted over all objects: ", Measured(totals.animated_seconds()),
                    " seconds of animation = ", Measured(AmountOf(totals, WorkUnit::kFeet, rates)), " feet of film at ",
                    kFramesPerFoot, " frames to the foot\n");
  }
  return text;
}

std::string ProofText(const v1::Plan& plan) {
  const v1::Totals& totals = plan.totals();
  const bool unseen = plan.mode() == "unseen";
  std::string text = "\nLOSS AND PROOF\n";
  std::string said;
  if (totals.loss() == 0) {
    said = "No visible loss: whatever was left out is below the legibility floor in every frame.";
  } else {
    said = absl::StrCat("Visible loss ", Measured(totals.loss()),
                        " frame-octaves (one: a whole picture, one octave too coarse, for one frame).");
  }
  const char* within = unseen ? "that keeps to the directives" : "within these budgets";
  if (totals.proved_optimal()) {
    absl::StrAppend(&said, " Proved: no plan ", within, " loses less.");
  } else {
    absl::StrAppend(&said, " Proved: no plan ", within, " loses less than ", Measured(totals.loss_bound()),
                    ", so this one is at most ", Measured(100 * totals.gap()), "% from the best.");
  }
  if (totals.interrupted())
    absl::StrAppend(&said, " Cut short by the time limit: this is the best plan found by then.");
  absl::StrAppend(&said, PriceText(totals.price_anim_hour(), "animator-hour", plan.options().has_anim_hours()));
  absl::StrAppend(&said, PriceText(totals.price_core_hour(), "core-hour", plan.options().has_core_hours()));
  return text + Paragraph(said);
}

}  // namespace scantling::client
