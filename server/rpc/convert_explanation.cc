// One object's explanation, written: all tiers with their figures, what would flip the decision, and every frame
// through every camera as the fold saw it.
//
// The decision of a row is found by the row's node: decisions are in canonical order, as are nodes.

#include <utility>

#include "server/rpc/convert.h"

namespace scantling {
namespace {

v1::TierFigures TierToProto(const TierAnswer& answer, Tier tier) {
  v1::TierFigures out;
  out.set_tier(ToProto(tier));
  out.set_anim_hours(answer.anim_hours);
  out.set_core_hours(answer.core_hours);
  out.set_loss(answer.loss);
  out.set_worst_octaves(answer.worst_octaves);
  out.set_allowed(answer.allowed);
  out.set_why_not(answer.why_not);
  return out;
}

v1::Flip FlipToProto(const FlipAnswer& flip) {
  v1::Flip out;
  out.set_tier(ToProto(flip.tier));
  if (flip.size_factor) out.set_size_factor(*flip.size_factor);
  if (flip.price_factor) out.set_price_factor(*flip.price_factor);
  out.set_directive(flip.directive);
  if (flip.anim_hours) out.set_anim_hours(*flip.anim_hours);
  if (flip.core_hours) out.set_core_hours(*flip.core_hours);
  if (flip.other_hours) out.set_other_hours(*flip.other_hours);
  return out;
}

v1::FrameFigures FiguresToProto(const FrameFigures& figures, const Scene& scene) {
  v1::FrameFigures out;
  out.set_frame(figures.frame);
  out.set_camera_id(scene.cameras[figures.camera].id);
  out.set_seen(figures.seen);
  out.set_height_px(figures.height_px);
  out.set_covered_px(figures.covered_px);
  out.set_depth_m(figures.depth_m);
  out.set_apparent_m(figures.apparent_m);
  out.set_turn_px(figures.turn_px);
  out.set_visible_fraction(figures.visible);
  out.set_jump_px(figures.jump_px);
  out.set_replaced(figures.replaced);
  if (figures.floor.px <= 0) return out;  // not in frame: no floor was set
  out.set_floor_px(figures.floor.px);
  out.set_floor_term(ToProto(figures.floor.term));
  for (const double term : figures.floor.terms_px) out.add_floor_terms_px(term);
  return out;
}

}  // namespace

void AddTiersAndFlips(const PlannedShot& planned, size_t index, const Stop& stop, v1::Decision& out) {
  const Decision& decision = planned.plan.decisions[index];
  const std::array<TierAnswer, kTierCount> tiers = TiersOf(planned.input(), decision);
  out.set_reason_text(PricedReasonText(planned.input(), decision));
  for (size_t i = 0; i < tiers.size(); ++i) *out.add_tiers() = TierToProto(tiers[i], kAllTiers[kTierCount - 1 - i]);
  for (const FlipAnswer& flip : FlipsOf(planned.input(), decision, stop)) *out.add_flips() = FlipToProto(flip);
}

void ExplanationToProto(const PlannedShot& planned, uint32_t row, const Stop& stop, v1::ExplainDecisionResponse& out) {
  const size_t index = planned.choice.node_of_row[row];
  *out.mutable_decision() = DecisionToProto(planned, index);
  AddTiersAndFlips(planned, index, stop, *out.mutable_decision());
  const Decision& decision = planned.plan.decisions[index];
  // Where feet would slip the path goes with the poses unless the animator chooses otherwise: that step is shown.
  const bool would_slip = planned.holds.split[row] == PathSplit::kWouldSlip;
  const int32_t path_hold = !decision.needs_animation ? 1 : would_slip ? decision.hold : decision.path_hold;
  for (const FrameFigures& figures : ExplainFrames(planned.optics, row, path_hold, planned.holds.phase[row])) {
    *out.add_frames() = FiguresToProto(figures, planned.scene);
  }
  *out.mutable_totals() = TotalsToProto(planned);
}

}  // namespace scantling
