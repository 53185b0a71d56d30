// A reason is the answer to "why not one tier more, why not one tier less". Several may be true at once; the order of
// the questions below is the order in which a person would accept them:
//
//   1 its container was omitted or painted in, and it went along
//   2 a directive stopped it from going higher (and that shows) or lower (where it otherwise would have gone)
//   3 it could go lower unseen, but what it holds keeps it, its shadow, reflection or light is seen, or the hours are
//     already spent
//   4 it is never seen: off screen, never large enough, hidden, or a drawing stands for it
//   5 what its tier drops cannot be read; or it is made in full; or something visible was given up for a budget

#include "server/answer/reason.h"

namespace scantling {
namespace {

const PerTier<double>& LossOf(const AnswerInput& input, uint32_t row) {
  return input.legibility.loss[row][kPhiAsGiven];
}

Tier Below(Tier tier) { return static_cast<Tier>(Index(tier) - 1); }

// A directive (its own or its container's) is why the object is not made at a higher tier.
bool HeldDown(const AnswerInput& input, uint32_t node, Tier tier) {
  const Bound& most = input.choice.bounds[node].most;
  const bool by_ruling = most.bar == Bar::kDirective || most.bar == Bar::kContainer;
  return by_ruling && tier == most.tier && LossOf(input, input.choice.row_of_node[node])[Index(tier)] > 0;
}

// Nothing visible would be lost one tier lower.
bool CouldGoLowerUnseen(const AnswerInput& input, uint32_t node, Tier tier) {
  return tier != Tier::kOmitted && LossOf(input, input.choice.row_of_node[node])[Index(Below(tier))] == 0;
}

// The reason for standing at a lower bound nobody would have stopped at otherwise.
Reason HeldUp(const AnswerInput& input, uint32_t node, Tier tier) {
  const Bound& least = input.choice.bounds[node].least;
  if (tier == least.tier && least.bar == Bar::kDirective) return Reason::kDirective;
  if (tier == least.tier && least.bar == Bar::kContents) return Reason::kHoldsContents;
  if (tier == least.tier && least.bar == Bar::kIndirect) return Reason::kIndirectlySeen;
  const uint32_t row = input.choice.row_of_node[node];
  const PerTier<double>& hours = input.costs.anim_hours[row];
  // Costs fall with the tier, so a tier that could be lowered unseen is only kept where its hours are spent or its
  // contents gain by it.
  return hours[Index(tier)] < hours[Index(Below(tier))] ? Reason::kWorkDone : Reason::kHoldsContents;
}

}  // namespace

Tier ContainerTier(const AnswerInput& input, uint32_t node) {
  const int32_t parent = input.choice.problem.parent[node];
  return parent < 0 ? Tier::kFullRig : static_cast<Tier>(input.solution.level[static_cast<size_t>(parent)]);
}

Reason ReasonOf(const AnswerInput& input, uint32_t node) {
  const uint32_t row = input.choice.row_of_node[node];
  const auto tier = static_cast<Tier>(input.solution.level[node]);
  const Tier container = ContainerTier(input, node);
  const Sight sight = input.legibility.sight[row];
  const bool visible_loss = LossOf(input, row)[Index(tier)] > 0;

  if (container == Tier::kOmitted && sight == Sight::kSeen) return Reason::kContainerOmitted;
  if (container == Tier::kColourPatch && tier == Tier::kColourPatch) return Reason::kPaintedIn;
  if (HeldDown(input, node, tier)) return Reason::kDirective;
  if (CouldGoLowerUnseen(input, node, tier)) return HeldUp(input, node, tier);
  if (sight == Sight::kOffScreen) return Reason::kOffScreen;
  if (sight == Sight::kTooSmall) return Reason::kTooSmall;
  if (sight == Sight::kHidden) return Reason::kHidden;
  if (sight == Sight::kReplaced) return Reason::kReplaced;
  if (tier == Tier::kFullRig) return Reason::kReadInFull;
  return visible_loss ? Reason::kTraded : Reason::kUnreadable;
}

bool NeedsAnimation(const AnswerInput& input, uint32_t node) {
  const uint32_t row = input.choice.row_of_node[node];
  const auto tier = static_cast<size_t>(input.solution.level[node]);
  const uint16_t class_index = input.scene.objects.class_index[row];
  const bool moves = input.holds.still[row] == 0 || input.costs.kept_alive[row] != 0;
  return tier >= Index(Tier::kProxy) && moves && input.costs.animated_frames[row] > 0 &&
         input.policy.rates.classes[class_index].tier[tier].hours_per_second > 0 &&
         input.costs.anim_hours[row][tier] > 0;
}

}  // namespace scantling
