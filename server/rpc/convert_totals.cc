// The totals of a plan, written: counts, costs with their ranges, the proof, and everything that bounded the plan.
//
// Cells of a crowd's grid are numbered row by row from 0 in the domain (row * columns + column); people count columns
// and rows from 1, so a cell that is told is never 0, which stands for "none".

#include <string>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"

namespace scantling {
namespace {

void SetRange(const Range& in, v1::Range& out) {
  out.set_mean(in.mean);
  out.set_p10(in.p10);
  out.set_p50(in.p50);
  out.set_p90(in.p90);
}

// The third department's hours stand only where there is one: 0 hours of it and no such department are not the same.
class CostWriter {
 public:
  explicit CostWriter(const Policy& policy) : has_other_(!policy.rates.other_department.empty()) {}

  void Set(const CostRange& in, v1::CostRange& out) const {
    SetRange(in.anim_hours, *out.mutable_anim_hours());
    SetRange(in.core_hours, *out.mutable_core_hours());
    if (has_other_) SetRange(in.other_hours, *out.mutable_other_hours());
  }

 private:
  const bool has_other_;
};

void SetCounts(const Totals& totals, v1::Totals& out) {
  const auto count = [&](Tier tier) { return totals.count[static_cast<size_t>(Index(tier))]; };
  out.set_objects(totals.objects);
  out.set_full_rig(count(Tier::kFullRig));
  out.set_proxy(count(Tier::kProxy));
  out.set_colour_patch(count(Tier::kColourPatch));
  out.set_omitted(count(Tier::kOmitted));
  out.set_needs_animation(totals.needs_animation);
  out.set_painted_in(totals.painted_in);
  out.set_off_screen(totals.off_screen);
  out.set_hidden(totals.hidden);
  out.set_still(totals.still);
  out.set_held_longer(totals.held_longer);
}

void SetCosts(const Totals& totals, const CostWriter& cost, v1::Totals& out) {
  cost.Set(totals.everything_full, *out.mutable_everything_full());
  cost.Set(totals.plan, *out.mutable_plan());
  cost.Set(totals.saving, *out.mutable_saving());
  cost.Set(totals.bought_saving, *out.mutable_bought_saving());
  cost.Set(totals.unseen_plan, *out.mutable_unseen_plan());
  cost.Set(totals.saved_by_span, *out.mutable_saved_by_span());
  for (size_t i = 0; i < kPhiScale.size(); ++i) {
    v1::UnseenSaving& saving = *out.add_unseen_saving();
    saving.set_phi_scale(kPhiScale[i]);
    cost.Set(totals.unseen_saving[i], *saving.mutable_saving());
  }
}

void SetProof(const Totals& totals, v1::Totals& out) {
  out.set_loss(totals.loss);
  out.set_loss_bound(totals.loss_bound);
  out.set_gap(totals.gap);
  out.set_proved_optimal(totals.proved_optimal);
  out.set_interrupted(totals.interrupted);
  out.set_price_anim_hour(totals.price_anim_hour);
  out.set_price_core_hour(totals.price_core_hour);
  out.set_price_other_hour(totals.price_other_hour);
}

// What a limit bounds, in the words of v1.Limit.
std::string LimitText(const PlannedShot& planned, const Resource& resource) {
  const auto crowd = [&]() -> const Crowd& { return planned.scene.crowds[resource.crowd]; };
  switch (resource.kind) {
    case LimitKind::kAnimHours:
      return "animator-hours";
    case LimitKind::kCoreHours:
      return "core-hours";
    case LimitKind::kOtherHours:
      return planned.policy->rates.other_department;
    case LimitKind::kFrameMemory:
      return absl::StrCat("memory in frame ", resource.frame, ", MB");
    case LimitKind::kCrowdShare:
      return absl::StrCat("omitted of ", crowd().name);
    case LimitKind::kCellCover:
      return absl::StrCat("uncovered of ", crowd().name, " in column ", resource.cell % crowd().columns + 1, ", row ",
                          resource.cell / crowd().columns + 1, ", %");
  }
  return "";
}

void SetLimits(const PlannedShot& planned, v1::Totals& out) {
  for (const LimitFigures& limit : planned.plan.totals.limits) {
    v1::Limit& one = *out.add_limits();
    one.set_what(LimitText(planned, limit.resource));
    one.set_most(limit.most);
    one.set_used(limit.used);
    one.set_price(limit.price);
  }
}

void SetMemory(const Totals& totals, v1::Totals& out) {
  out.set_peak_memory_mb(totals.peak_memory_mb);
  out.set_peak_memory_frame(totals.peak_memory_frame);
  for (const FrameRange span : totals.over_memory) *out.add_over_memory() = ToProto(span);
}

void SetCrowds(const PlannedShot& planned, v1::Totals& out) {
  const Scene& scene = planned.scene;
  for (size_t i = 0; i < planned.plan.totals.crowds.size(); ++i) {
    const CrowdFigures& figures = planned.plan.totals.crowds[i];
    const Crowd& crowd = scene.crowds[i];
    v1::CrowdFigures& one = *out.add_crowds();
    one.set_name(crowd.name);
    one.set_members(figures.members);
    one.set_seen(figures.seen);
    one.set_kept(figures.kept);
    one.set_keep_share(crowd.keep_share);
    one.set_least_covered_share(crowd.least_covered_share);
    if (figures.emptiest_cell >= 0) {
      one.set_emptiest_column(figures.emptiest_cell % crowd.columns + 1);
      one.set_emptiest_row(figures.emptiest_cell / crowd.columns + 1);
      one.set_emptiest_share(figures.emptiest_share);
    }
    if (figures.twins.a == kNone) continue;
    one.set_twin_a(std::string(scene.objects.id[figures.twins.a]));
    one.set_twin_b(std::string(scene.objects.id[figures.twins.b]));
    one.set_twins_px(figures.twins.px);
    one.set_twins_frame(figures.twins.frame);
  }
}

void SetSteadiness(const Totals& totals, v1::Totals& out) {
  if (!totals.steadiness) return;
  v1::Steadiness& steadiness = *out.mutable_steadiness();
  steadiness.set_earlier(totals.steadiness->earlier);
  steadiness.set_unknown(totals.steadiness->unknown);
  steadiness.set_changed(totals.steadiness->changed);
  steadiness.set_changed_freely(totals.steadiness->changed_freely);
  steadiness.set_loss(totals.steadiness->loss);
}

}  // namespace

v1::Totals TotalsToProto(const PlannedShot& planned) {
  const Totals& totals = planned.plan.totals;
  v1::Totals out;
  SetCounts(totals, out);
  SetCosts(totals, CostWriter(*planned.policy), out);
  SetProof(totals, out);
  out.set_animator_weeks(totals.animator_weeks);
  out.set_animated_seconds(totals.animated_seconds);
  out.set_hours_per_animator_week(planned.policy->rates.hours_per_animator_week);
  out.set_rate_fps(planned.scene.rate.frames_per_second());
  out.set_other_department(planned.policy->rates.other_department);
  out.set_shared_anim_hours(totals.shared_anim_hours);
  SetMemory(totals, out);
  SetLimits(planned, out);
  SetCrowds(planned, out);
  SetSteadiness(totals, out);
  return out;
}

}  // namespace scantling
