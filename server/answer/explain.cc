// What a person asks after the decision: in a sentence why, what each tier would have cost and lost, what would flip
// it.
//
// Size flips. With the floor held where it is, an object that appears g times as large keeps a tier unseen while
// phi_t * g * (height / floor) <= 1 (set elements at PROXY and COLOUR_PATCH: the lesser of that and turn / floor). So
// the tier below becomes free at g = 1 / (phi_below * ratio), and this one stops being free at g = 1 / (phi_this *
// ratio). Price flips: budget::FlipOf on the relaxed plan. Budget flips: budget::CapacityFlipOf, alike nodes as one.

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "server/answer/answer.h"
#include "server/answer/reason.h"
#include "server/budget/alike.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

const ObjectClass& ClassOf(const AnswerInput& input, uint32_t row) {
  return input.policy.catalogue.classes[input.scene.objects.class_index[row]];
}

std::string RulingText(const AnswerInput& input, uint32_t directive) {
  const Directive& ruling = input.scene.directives[directive];
  constexpr std::array<absl::string_view, 3> kBound = {"at least ", "at most ", "exactly "};
  std::string text =
      absl::StrCat(kBound[static_cast<size_t>(ruling.bound)], View(Name(ruling.tier)), " for ", ruling.target);
  if (!ruling.who.empty()) absl::StrAppend(&text, ", ruled by ", ruling.who);
  if (!ruling.why.empty()) absl::StrAppend(&text, ": ", ruling.why);
  return text;
}

// "shadow is", "shadow and light are": what of the object is seen indirectly.
std::string CastText(const Scene& scene, uint32_t row) {
  constexpr std::array<absl::string_view, 3> kWord = {"shadow", "reflection", "light"};
  std::array<bool, 3> cast = {};
  for (const IndirectSight& sight : scene.particulars[scene.objects.particulars[row]].indirect) {
    cast[static_cast<size_t>(sight.kind)] = true;
  }
  std::string text;
  int kinds = 0;
  for (size_t kind = 0; kind < cast.size(); ++kind) {
    if (!cast[kind]) continue;
    absl::StrAppend(&text, kinds++ == 0 ? "" : " and ", kWord[kind]);
  }
  return absl::StrCat(text, kinds > 1 ? " are" : " is");
}

// `node`: whose bound it is.
std::string BarText(const AnswerInput& input, uint32_t node, const Bound& bound) {
  switch (bound.bar) {
    case Bar::kDirective:
      return RulingText(input, bound.by);
    case Bar::kContainer:
      return absl::StrCat("a ruling on what holds it: ", RulingText(input, bound.by));
    case Bar::kContents:
      return absl::StrCat("it holds ", View(input.scene.objects.id[input.choice.row_of_node[bound.by]]),
                          ", which needs it");
    case Bar::kIndirect:
      return absl::StrCat("its ", CastText(input.scene, input.choice.row_of_node[node]), " seen where it is not");
    case Bar::kWorstOctaves:
      return absl::StrFormat("coarser than the style's limit of %.3g octaves in some frame", input.style.worst_octaves);
    case Bar::kTwin: {
      const TierBounds& of_twin = input.choice.bounds[bound.by];
      const bool least = bound == input.choice.bounds[node].least;
      return absl::StrCat("alike with ", View(input.scene.objects.id[input.choice.row_of_node[bound.by]]), ": ",
                          BarText(input, bound.by, least ? of_twin.least : of_twin.most));
    }
    case Bar::kNone:
      break;
  }
  return "";
}

// "enough of quay_crowd must stay (90 %)": the crowds of limits that count the object.
std::string CrowdText(const AnswerInput& input, uint32_t node) {
  const budget::Problem& problem = input.choice.problem;
  const auto resources = static_cast<size_t>(problem.resources);
  std::string text;
  for (size_t k = 0; k < resources; ++k) {
    const Resource& resource = input.choice.resources[k];
    if (resource.crowd == kNone || problem.cost[size_t{node} * budget::kLevels * resources + k] == 0) continue;
    const Crowd& crowd = input.scene.crowds[resource.crowd];
    absl::StrAppend(&text, text.empty() ? "" : " and ", "enough of ", crowd.name);
    if (resource.kind == LimitKind::kCrowdShare) {
      absl::StrAppend(&text, absl::StrFormat(" must stay (%.4g %%)", crowd.keep_share * 100));
    } else {
      absl::StrAppend(
          &text, absl::StrFormat(" must cover its part of the picture (%.4g %%)", crowd.least_covered_share * 100));
    }
  }
  return text;
}

// The directive that decided, if one did.
const Bound* DecidingBound(const AnswerInput& input, uint32_t node, Tier tier) {
  const TierBounds& bounds = input.choice.bounds[node];
  const auto ruled = [](const Bound& bound) { return bound.bar == Bar::kDirective || bound.bar == Bar::kContainer; };
  if (tier == bounds.most.tier && ruled(bounds.most)) return &bounds.most;
  if (tier == bounds.least.tier && ruled(bounds.least)) return &bounds.least;
  return nullptr;
}

// What a tier's coarsest dropped feature measures against the floor, as a multiple of it, at the worst frame.
double DroppedOverFloor(const AnswerInput& input, uint32_t row, Tier tier) {
  const ObjectClass& object_class = ClassOf(input, row);
  const double own =
      std::min(object_class.phi[static_cast<size_t>(Index(tier))], 1.0) * input.legibility.height_over_floor[row];
  if (object_class.kind == ClassKind::kFigure) return own;
  if (tier == Tier::kColourPatch) return input.legibility.turn_over_floor[row];
  if (tier == Tier::kProxy) return std::min<double>(own, input.legibility.turn_over_floor[row]);
  return own;
}

std::string ReadText(const AnswerInput& input, uint32_t row) {
  return absl::StrFormat("%.3g px tall over a floor of %.3g px (%s) at frame %d",
                         input.legibility.largest_height_px[row], input.legibility.floor_px[row],
                         View(Name(input.legibility.floor_term[row])), input.legibility.largest_frame[row]);
}

std::string TradedText(const Decision& decision) {
  return absl::StrFormat("gives up %.3g frame-octaves for the budget", decision.loss);
}

std::string PricedText(const AnswerInput& input, const Decision& decision) {
  const auto price = [&](int resource) {
    return static_cast<size_t>(resource) < input.solution.price.size()
               ? input.solution.price[static_cast<size_t>(resource)] * kLossQuantum / kHoursQuantum
               : 0.0;
  };
  return absl::StrCat(TradedText(decision),
                      absl::StrFormat(", where an animator-hour is worth %.3g and a core-hour %.3g", price(kAnimHours),
                                      price(kCoreHours)));
}

void AddDirectiveFlip(const AnswerInput& input, uint32_t node, Tier tier, std::vector<FlipAnswer>& flips) {
  const Bound* bound = DecidingBound(input, node, tier);
  if (bound == nullptr) return;
  const bool held_down = bound == &input.choice.bounds[node].most;
  if ((held_down && tier == Tier::kFullRig) || (!held_down && tier == Tier::kOmitted)) return;
  FlipAnswer flip;
  flip.tier = static_cast<Tier>(Index(tier) + (held_down ? 1 : -1));
  flip.directive = BarText(input, node, *bound);
  flips.push_back(std::move(flip));
}

void AddSizeFlip(double dropped_over_floor, Tier to, std::vector<FlipAnswer>& flips) {
  if (dropped_over_floor <= 0) return;
  FlipAnswer flip;
  flip.tier = to;
  flip.size_factor = 1 / dropped_over_floor;
  flips.push_back(flip);
}

void AddSizeFlips(const AnswerInput& input, uint32_t node, Tier tier, std::vector<FlipAnswer>& flips) {
  const uint32_t row = input.choice.row_of_node[node];
  const TierBounds& bounds = input.choice.bounds[node];
  if (input.legibility.sight[row] != Sight::kSeen) return;
  const double dropped = DroppedOverFloor(input, row, tier);
  if (tier < bounds.most.tier && dropped <= 1) {
    AddSizeFlip(dropped, static_cast<Tier>(Index(tier) + 1), flips);
  }
  if (tier > bounds.least.tier) {
    const Tier below = static_cast<Tier>(Index(tier) - 1);
    if (const double below_dropped = DroppedOverFloor(input, row, below); below_dropped > 1) {
      AddSizeFlip(below_dropped, below, flips);
    }
  }
}

// The problem in which alike nodes are one, and the object's node in it.
struct FlipProblem {
  const budget::Problem* problem = nullptr;
  budget::Alike merged;
  int32_t node = 0;
};

bool MakeFlipProblem(const AnswerInput& input, uint32_t node, FlipProblem& flip) {
  flip.problem = &input.choice.problem;
  flip.node = static_cast<int32_t>(node);
  if (input.choice.group.empty()) return true;
  absl::StatusOr<budget::Alike> merged = budget::MergeAlike(input.choice.problem, input.choice.group);
  if (!merged.ok()) return false;
  flip.merged = *std::move(merged);
  flip.problem = &flip.merged.problem;
  flip.node = flip.merged.merged_of[node];
  return true;
}

void AddPriceFlips(const AnswerInput& input, const FlipProblem& flip, uint32_t node, std::vector<FlipAnswer>& flips) {
  budget::Solution solution = input.solution;
  if (flip.problem == &flip.merged.problem) {
    solution.level.assign(static_cast<size_t>(flip.problem->size()), 0);
    for (size_t i = 0; i < flip.merged.merged_of.size(); ++i) {
      solution.level[static_cast<size_t>(flip.merged.merged_of[i])] = input.solution.level[i];
    }
  }
  const budget::PriceFlip found = budget::FlipOf(*flip.problem, solution, flip.node);
  const auto add = [&](const std::optional<double>& factor, uint8_t level) {
    if (!factor || level == input.solution.level[node]) return;
    FlipAnswer answer;
    answer.tier = static_cast<Tier>(level);
    answer.price_factor = factor;
    flips.push_back(answer);
  };
  add(found.cheaper_factor, found.cheaper_level);
  add(found.dearer_factor, found.dearer_level);
}

// What more or less of each budget would make of it, in the relaxed plan.
void AddBudgetFlips(const AnswerInput& input, const FlipProblem& flip, uint32_t node, const Stop& stop,
                    std::vector<FlipAnswer>& flips) {
  constexpr std::array<std::optional<double> FlipAnswer::*, 3> kField = {
      &FlipAnswer::anim_hours, &FlipAnswer::core_hours, &FlipAnswer::other_hours};
  for (size_t k = 0; k < kField.size() && k < input.choice.resources.size(); ++k) {
    if (input.choice.resources[k].kind > LimitKind::kOtherHours || !flip.problem->capacity[k]) continue;
    const auto found = budget::CapacityFlipOf(*flip.problem, flip.node, static_cast<int>(k), stop);
    if (!found.ok()) continue;
    const auto add = [&](const std::optional<int64_t>& capacity, uint8_t level) {
      if (!capacity || level == input.solution.level[node]) return;
      FlipAnswer answer;
      answer.tier = static_cast<Tier>(level);
      answer.*kField[k] = static_cast<double>(*capacity) * kHoursQuantum;
      flips.push_back(answer);
    };
    add(found->less, found->less_level);
    add(found->more, found->more_level);
  }
}

// "1001-1020 and 3 more spans".
std::string SpansText(const FrameSpans& spans) {
  if (spans.empty()) return "no frame";
  std::string text = spans[0].count() == 1 ? absl::StrCat("frame ", spans[0].first)
                                           : absl::StrCat("frames ", spans[0].first, "-", spans[0].last);
  if (spans.size() > 1) {
    absl::StrAppend(&text, " and ", spans.size() - 1, spans.size() == 2 ? " more span" : " more spans");
  }
  return text;
}

std::string HiddenText(const AnswerInput& input, uint32_t row) {
  const int32_t hidden = input.legibility.hidden_frames[row];
  return absl::StrCat("behind something or under a mask, nothing or too little left to see, in ", hidden,
                      hidden == 1 ? " frame" : " frames", ", and never large enough to be seen in any other");
}

std::string UnreadableText(const AnswerInput& input, const Decision& decision) {
  const double phi = ClassOf(input, decision.object).phi[static_cast<size_t>(Index(decision.tier))];
  return absl::StrFormat("%s; what %s drops (%.3g of its height) cannot be read", ReadText(input, decision.object),
                         View(Name(decision.tier)), phi);
}

}  // namespace

std::string ReasonText(const AnswerInput& input, const Decision& decision) {
  const uint32_t node = input.choice.node_of_row[decision.object];
  switch (decision.reason) {
    case Reason::kOffScreen:
      return "no shot camera ever sees it";
    case Reason::kHidden:
      return HiddenText(input, decision.object);
    case Reason::kTooSmall:
      return absl::StrFormat("in frame, but never above %.3g covered px", input.style.smallest_covered_px);
    case Reason::kPaintedIn:
      return absl::StrCat("drawn into ", View(input.scene.objects.id[input.scene.objects.container[decision.object]]),
                          ", which is a colour patch");
    case Reason::kContainerOmitted:
      return absl::StrCat("what holds it, ",
                          View(input.scene.objects.id[input.scene.objects.container[decision.object]]), ", is omitted");
    case Reason::kHoldsContents:
      return "kept for what it holds";
    case Reason::kWorkDone:
      return "the hours are already spent";
    case Reason::kIndirectlySeen:
      return absl::StrCat("its ", CastText(input.scene, decision.object), " seen in ",
                          SpansText(IndirectFrames(input.scene, decision.object)), ", where it is not itself");
    case Reason::kReplaced:
      return absl::StrCat("a drawing stands for it wherever it would be seen, in ",
                          SpansText(input.scene.replaced_of(decision.object)));
    case Reason::kDirective: {
      const Bound* bound = DecidingBound(input, node, decision.tier);
      return bound == nullptr ? "ruled" : BarText(input, node, *bound);
    }
    case Reason::kKeptAsBefore:
      return "as in the earlier plan: changing it would gain less than the margin";
    case Reason::kCrowdShare:
      return CrowdText(input, node);
    case Reason::kLikeItsTwins:
      return "one tier with the others of its asset in the same container and band";
    case Reason::kTraded:
      return TradedText(decision);
    case Reason::kUnreadable:
      return UnreadableText(input, decision);
    case Reason::kReadInFull:
      return absl::StrCat(ReadText(input, decision.object), ": its detail can be read");
  }
  return "";
}

std::string PricedReasonText(const AnswerInput& input, const Decision& decision) {
  return decision.reason == Reason::kTraded ? PricedText(input, decision) : ReasonText(input, decision);
}

std::array<TierAnswer, kTierCount> TiersOf(const AnswerInput& input, const Decision& decision) {
  const uint32_t row = decision.object;
  const uint32_t node = input.choice.node_of_row[row];
  const TierBounds& bounds = input.choice.bounds[node];
  std::array<TierAnswer, kTierCount> tiers;
  for (Tier tier : kAllTiers) {
    const auto t = static_cast<size_t>(Index(tier));
    TierAnswer& answer = tiers[kTierCount - 1 - t];
    answer.anim_hours = input.costs.anim_hours[row][t];
    answer.core_hours = input.costs.core_hours[row][t];
    answer.loss = input.legibility.loss[row][kPhiAsGiven][t];
    answer.worst_octaves = input.legibility.worst_octaves[row][t];
    answer.allowed = bounds.least.tier <= tier && tier <= bounds.most.tier;
    if (!answer.allowed) answer.why_not = BarText(input, node, tier < bounds.least.tier ? bounds.least : bounds.most);
  }
  return tiers;
}

SpanChoice SpanChoiceOf(const AnswerInput& input, const Decision& decision) {
  const uint32_t node = input.choice.node_of_row[decision.object];
  // What it holds would have to change with it; what is painted in has no tier of its own.
  if (input.choice.has_contents[node] != 0 || ContainerTier(input, node) <= Tier::kColourPatch) return {};
  const PricingInput pricing = {input.scene, input.legibility, input.holds, input.policy, input.style};
  return ChooseBySpan(pricing, input.costs, decision.object, decision.tier, input.choice.bounds[node].least.tier);
}

std::vector<FlipAnswer> FlipsOf(const AnswerInput& input, const Decision& decision, const Stop& stop) {
  const uint32_t node = input.choice.node_of_row[decision.object];
  std::vector<FlipAnswer> flips;
  AddDirectiveFlip(input, node, decision.tier, flips);
  if (ContainerTier(input, node) >= Tier::kProxy) AddSizeFlips(input, node, decision.tier, flips);
  FlipProblem problem;
  if (input.budgets.unseen_mode() || !MakeFlipProblem(input, node, problem)) return flips;
  AddPriceFlips(input, problem, node, flips);
  AddBudgetFlips(input, problem, node, stop, flips);
  return flips;
}

}  // namespace scantling
