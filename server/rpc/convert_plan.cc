// A plan, written: decisions in canonical order, and what the figures are. Its totals: convert_totals.cc.
//
// Figures that mean nothing are left at their defaults: an object never seen has no floor term, no height and no depth,
// one that needs no animation has no animated spans and no hold.

#include <string>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"

namespace scantling {
namespace {

void SetNames(const PlannedShot& planned, uint32_t row, v1::Decision& out) {
  const Scene& scene = planned.scene;
  const Objects& objects = scene.objects;
  out.set_object_id(std::string(objects.id[row]));
  out.set_class_name(planned.policy->catalogue.classes[objects.class_index[row]].name);
  if (objects.asset[row] != kNone) out.set_asset_id(std::string(scene.assets[objects.asset[row]]));
  if (objects.container[row] != kNone) out.set_container_id(std::string(objects.id[objects.container[row]]));
}

void SetSight(const PlannedShot& planned, uint32_t row, v1::Decision& out) {
  const Legibility& legibility = planned.legibility;
  if (legibility.sight[row] != Sight::kSeen) return;
  out.set_floor_term(ToProto(legibility.floor_term[row]));
  out.set_height_px(legibility.largest_height_px[row]);
  out.set_floor_px(legibility.floor_px[row]);
  out.set_largest_frame(legibility.largest_frame[row]);
  out.set_near_m(legibility.near_m[row]);
  out.set_apparent_m(legibility.apparent_m[row]);
  out.set_visible_fraction(legibility.visible_fraction[row]);
  out.set_band(planned.style->bands[legibility.band[row]].name);
  for (const FrameRange span : legibility.spans_of(row)) *out.add_seen() = ToProto(span);
}

// How it moves and on which hold.
void SetHolds(const PlannedShot& planned, const Decision& decision, v1::Decision& out) {
  const uint32_t row = decision.object;
  const Holds& holds = planned.holds;
  const bool moving = planned.costs.animated_frames[row] > 0;
  out.set_still(moving && holds.still[row] != 0);
  out.set_kept_alive(planned.costs.kept_alive[row] != 0);
  if (!decision.needs_animation) return;
  out.set_hold(decision.hold);
  out.set_path_hold(decision.path_hold);
  out.set_poses_per_cycle(holds.poses_per_cycle[row]);
  out.set_phase(holds.phase[row]);
  out.set_path_split(ToProto(holds.split[row]));
  out.set_path_jump_px(holds.path_jump_px[row]);
  out.set_contact_slip_px(holds.contact_slip_px[row]);
  const FrameSpans animated = AnimatedSpans(planned.scene, planned.legibility, *planned.style, row);
  for (const FrameRange span : animated) *out.add_animated() = ToProto(span);
}

void SetSpanChoice(const SpanChoice& choice, v1::Decision& out) {
  if (choice.spans.empty()) return;
  v1::SpanChoice& by_span = *out.mutable_by_span();
  for (const SpanTier& span : choice.spans) {
    v1::SpanChoice::Span& one = *by_span.add_spans();
    *one.mutable_frames() = ToProto(span.frames);
    one.set_tier(ToProto(span.tier));
    one.set_hold(span.hold);
  }
  by_span.set_saved_anim_hours(choice.saved_anim_hours);
  by_span.set_saved_core_hours(choice.saved_core_hours);
}

}  // namespace

v1::Tier ToProto(Tier tier) {
  switch (tier) {
    case Tier::kOmitted:
      return v1::OMITTED;
    case Tier::kColourPatch:
      return v1::COLOUR_PATCH;
    case Tier::kProxy:
      return v1::PROXY;
    case Tier::kFullRig:
      return v1::FULL_RIG;
  }
  return v1::TIER_UNSPECIFIED;
}

v1::Reason ToProto(Reason reason) {
  switch (reason) {
    case Reason::kReadInFull:
      return v1::READ_IN_FULL;
    case Reason::kOffScreen:
      return v1::OFF_SCREEN;
    case Reason::kHidden:
      return v1::HIDDEN;
    case Reason::kUnreadable:
      return v1::UNREADABLE;
    case Reason::kTraded:
      return v1::TRADED;
    case Reason::kDirective:
      return v1::DIRECTIVE;
    case Reason::kPaintedIn:
      return v1::PAINTED_IN;
    case Reason::kIndirectlySeen:
      return v1::INDIRECTLY_SEEN;
    case Reason::kWorkDone:
      return v1::WORK_DONE;
    case Reason::kTooSmall:
      return v1::TOO_SMALL;
    case Reason::kContainerOmitted:
      return v1::CONTAINER_OMITTED;
    case Reason::kHoldsContents:
      return v1::HOLDS_CONTENTS;
    case Reason::kReplaced:
      return v1::REPLACED;
    case Reason::kKeptAsBefore:
      return v1::KEPT_AS_BEFORE;
    case Reason::kCrowdShare:
      return v1::CROWD_SHARE;
    case Reason::kLikeItsTwins:
      return v1::LIKE_ITS_TWINS;
  }
  return v1::REASON_UNSPECIFIED;
}

v1::FloorTerm ToProto(FloorTerm term) {
  switch (term) {
    case FloorTerm::kAcuity:
      return v1::ACUITY;
    case FloorTerm::kInkLine:
      return v1::INK_LINE;
    case FloorTerm::kPlateShift:
      return v1::PLATE_SHIFT;
    case FloorTerm::kMotionBlur:
      return v1::MOTION_BLUR;
    case FloorTerm::kDefocus:
      return v1::DEFOCUS;
    case FloorTerm::kAttention:
      return v1::ATTENTION;
  }
  return v1::FLOOR_TERM_UNSPECIFIED;
}

v1::PathSplit ToProto(PathSplit split) {
  switch (split) {
    case PathSplit::kWithPoses:
      return v1::WITH_POSES;
    case PathSplit::kSplit:
      return v1::SPLIT;
    case PathSplit::kWouldSlip:
      return v1::WOULD_SLIP;
  }
  return v1::PATH_SPLIT_UNSPECIFIED;
}

v1::FrameRange ToProto(FrameRange range) {
  v1::FrameRange out;
  out.set_first(range.first);
  out.set_last(range.last);
  return out;
}

v1::Decision DecisionToProto(const PlannedShot& planned, size_t index) {
  const Decision& decision = planned.plan.decisions[index];
  v1::Decision out;
  SetNames(planned, decision.object, out);
  SetSight(planned, decision.object, out);
  out.set_tier(ToProto(decision.tier));
  out.set_reason(ToProto(decision.reason));
  out.set_reason_text(ReasonText(planned.input(), decision));
  out.set_anim_hours(decision.anim_hours);
  out.set_core_hours(decision.core_hours);
  out.set_other_hours(decision.other_hours);
  if (decision.earlier) out.set_earlier(ToProto(*decision.earlier));
  out.set_loss(decision.loss);
  out.set_needs_animation(decision.needs_animation);
  out.set_hidden_frames(planned.legibility.hidden_frames[decision.object]);
  for (const FrameRange span : IndirectFrames(planned.scene, decision.object)) *out.add_indirect() = ToProto(span);
  SetHolds(planned, decision, out);
  SetSpanChoice(SpanChoiceOf(planned.input(), decision), out);
  return out;
}

std::string EstimateNote(const Policy& policy) {
  return absl::StrCat("Hours are estimates from the rate card \"", policy.rates.name,
                      "\"; P10 to P90 is the spread that card states. They guide planning.");
}

void PlanWithoutDecisions(const PlannedShot& planned, const v1::PlanOptions& options, v1::Plan& out) {
  out.set_shot_id(planned.scene.shot_id);
  out.set_style(planned.style->name);
  out.set_mode(planned.budgets.unseen_mode() ? "unseen" : "budget");
  *out.mutable_totals() = TotalsToProto(planned);
  *out.mutable_frames() = ToProto(planned.scene.frames);
  out.mutable_rate()->set_numerator(planned.scene.rate.numerator);
  out.mutable_rate()->set_denominator(planned.scene.rate.denominator);
  *out.mutable_options() = options;
  out.mutable_options()->clear_earlier();
  out.mutable_memory_mb()->Assign(planned.plan.totals.memory_mb.begin(), planned.plan.totals.memory_mb.end());
  out.set_estimate_note(EstimateNote(*planned.policy));
}

void AddStageTimes(const std::vector<StageClock>& clocks, google::protobuf::RepeatedPtrField<v1::StageTime>& out) {
  for (const StageClock& clock : clocks) {
    v1::StageTime& time = *out.Add();
    time.set_stage(std::string(clock.stage));
    time.set_milliseconds(clock.milliseconds);
  }
}

void ToProto(const PlannedShot& planned, const v1::PlanOptions& options, v1::PlanShotResponse& out) {
  PlanWithoutDecisions(planned, options, *out.mutable_plan());
  out.mutable_plan()->mutable_decisions()->Reserve(static_cast<int>(planned.plan.decisions.size()));
  for (size_t i = 0; i < planned.plan.decisions.size(); ++i) {
    *out.mutable_plan()->add_decisions() = DecisionToProto(planned, i);
  }
  AddStageTimes(planned.clocks, *out.mutable_stage_times());
}

}  // namespace scantling
