// A frontier, written: its points as they are found, its summary, and how far the call has come.
//
// Of a point at which nothing fits only its place and its limits are told: a loss of 0 there would be read as none.

#include <string>

#include "server/rpc/convert.h"

namespace scantling {
namespace {

void SetLimits(const Budgets& limits, v1::FrontierPoint& out) {
  if (limits.anim_hours) out.set_anim_hours(*limits.anim_hours);
  if (limits.core_hours) out.set_core_hours(*limits.core_hours);
  if (limits.other_hours) out.set_other_hours(*limits.other_hours);
}

void SetHours(const FrontierPoint& point, v1::FrontierPoint& out) {
  out.set_used_anim_hours(point.used[kAnimHours]);
  out.set_used_core_hours(point.used[kCoreHours]);
  out.set_used_other_hours(point.used[kOtherHours]);
  out.set_price_anim_hour(point.price[kAnimHours]);
  out.set_price_core_hour(point.price[kCoreHours]);
  out.set_price_other_hour(point.price[kOtherHours]);
  out.set_price_per_step(point.price_per_step);
}

void SetCounts(const FrontierPoint& point, v1::FrontierPoint& out) {
  const auto count = [&](Tier tier) { return point.count[static_cast<size_t>(Index(tier))]; };
  out.set_full_rig(count(Tier::kFullRig));
  out.set_proxy(count(Tier::kProxy));
  out.set_colour_patch(count(Tier::kColourPatch));
  out.set_omitted(count(Tier::kOmitted));
  out.set_needs_animation(point.needs_animation);
}

v1::TraceFrontierRequest::Along ToProto(Along along) {
  switch (along) {
    case Along::kAnimHours:
      return v1::TraceFrontierRequest::ANIM_HOURS;
    case Along::kCoreHours:
      return v1::TraceFrontierRequest::CORE_HOURS;
    case Along::kOtherHours:
      return v1::TraceFrontierRequest::OTHER_HOURS;
    case Along::kBoth:
      return v1::TraceFrontierRequest::BOTH;
  }
  return v1::TraceFrontierRequest::ALONG_UNSPECIFIED;
}

// The swept budgets alone: those that are not swept stand in the request.
void SetNothingLost(const Budgets& least, Along along, v1::FrontierSummary& out) {
  const bool both = along == Along::kBoth;
  if (least.anim_hours && (both || along == Along::kAnimHours)) out.set_nothing_lost_anim_hours(*least.anim_hours);
  if (least.core_hours && (both || along == Along::kCoreHours)) out.set_nothing_lost_core_hours(*least.core_hours);
  if (least.other_hours && along == Along::kOtherHours) out.set_nothing_lost_other_hours(*least.other_hours);
}

}  // namespace

v1::FrontierPoint ToProto(const FrontierPoint& point) {
  v1::FrontierPoint out;
  out.set_index(point.index);
  SetLimits(point.limits, out);
  out.set_fits(point.fits);
  if (!point.fits) return out;
  out.set_loss(point.loss);
  out.set_loss_bound(point.loss_bound);
  out.set_gap(point.gap);
  SetHours(point, out);
  SetCounts(point, out);
  return out;
}

v1::FrontierSummary SummaryToProto(const Frontier& frontier, const FrontierRequest& sweep, const Policy& policy) {
  v1::FrontierSummary out;
  out.set_shot_id(frontier.shot_id);
  out.set_style(frontier.style);
  out.set_points(static_cast<int32_t>(frontier.points.size()));
  if (frontier.knee) out.set_knee(*frontier.knee);
  if (frontier.nothing_lost) SetNothingLost(*frontier.nothing_lost, sweep.along, out);
  out.set_estimate_note(EstimateNote(policy));
  AddStageTimes(frontier.clocks, *out.mutable_stage_times());
  out.set_along(ToProto(sweep.along));
  out.set_other_department(policy.rates.other_department);
  return out;
}

v1::Progress ProgressToProto(std::string_view stage, double fraction, int64_t objects) {
  v1::Progress progress;
  const bool choosing = stage == "pricing" || stage == "solving";
  progress.set_stage(choosing ? "choosing" : std::string(stage));
  progress.set_fraction(fraction);
  progress.set_objects(objects);
  return progress;
}

}  // namespace scantling
