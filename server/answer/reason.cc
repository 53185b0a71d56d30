// A reason is the answer to "why not one tier more, why not one tier less". Several may be true at once; the order of
// the questions below is the order in which a person would accept them:
//
//   1 its container was omitted or painted in, and it went along
//   2 a directive stopped it from going higher (and that shows) or lower (where it otherwise would have gone)
//   3 the margin kept it as it was, or it takes the tier its twins take
//   4 enough of its crowd must stay, and it would have been omitted
//   5 it could go lower unseen, but what it holds keeps it, its shadow, reflection or light is seen, or the hours are
//     already spent
//   6 it is never seen: off screen, never large enough, hidden, or a drawing stands for it
//   7 what its tier drops cannot be read; or it is made in full; or something visible was given up for a budget

#include "server/answer/reason.h"

namespace scantling {
namespace {

const PerTier<double>& LossOf(const AnswerInput& input, uint32_t row) {
  return input.legibility.loss[row][kPhiAsGiven];
}

Tier Below(Tier tier) { return static_cast<Tier>(Index(tier) - 1); }

bool IsOfCrowd(const Resource& resource) {
  return resource.kind == LimitKind::kCrowdShare || resource.kind == LimitKind::kCellCover;
}

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
  if (tier == least.tier && least.bar == Bar::kTwin) return Reason::kLikeItsTwins;
  const uint32_t row = input.choice.row_of_node[node];
  const PerTier<double>& hours = input.costs.anim_hours[row];
  // Costs fall with the tier, so a tier that could be lowered unseen is only kept where its hours are spent or its
  // contents gain by it.
  return hours[Index(tier)] < hours[Index(Below(tier))] ? Reason::kWorkDone : Reason::kHoldsContents;
}

// A member of a crowd of which enough must stay, at the lowest tier at which it does, that losses and the prices of the
// budgets alone would have had omitted (at equality money speaks for omitting it).
bool KeptForItsCrowd(const AnswerInput& input, uint32_t node, Tier tier) {
  if (tier != Tier::kColourPatch || input.choice.bounds[node].least.tier == tier) return false;
  const budget::Problem& problem = input.choice.problem;
  const auto resources = static_cast<size_t>(problem.resources);
  const int64_t* omitted = &problem.cost[size_t{node} * budget::kLevels * resources];
  const int64_t* kept = omitted + resources;
  const int64_t* loss = &problem.loss[size_t{node} * budget::kLevels];
  auto gained_by_keeping = static_cast<double>(loss[0] - loss[1]);
  bool in_crowd = false;
  for (size_t k = 0; k < resources && k < input.solution.price.size(); ++k) {
    if (IsOfCrowd(input.choice.resources[k])) {
      in_crowd = in_crowd || omitted[k] > 0;
    } else {
      gained_by_keeping += input.solution.price[k] * static_cast<double>(omitted[k] - kept[k]);
    }
  }
  return in_crowd && gained_by_keeping <= 0;
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
  const Bound& most = input.choice.bounds[node].most;
  if (most.bar == Bar::kTwin && tier == most.tier && visible_loss) return Reason::kLikeItsTwins;
  if (!input.findings.steady.empty() && input.findings.steady[node] != 0) return Reason::kKeptAsBefore;
  if (!input.findings.twinned.empty() && input.findings.twinned[node] != 0) return Reason::kLikeItsTwins;
  if (KeptForItsCrowd(input, node, tier)) return Reason::kCrowdShare;
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
