// Smallest budgets and irreducible demands, in the shot's own words.
//
// With alike groups everything is asked of the merged problem: a demand on one member is a demand on all.

#include "server/planning/no_plan.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "server/budget/alike.h"
#include "server/budget/irreducible.h"
#include "server/choice/bounds.h"
#include "server/choice/demands.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

double Hours(int64_t quanta) { return static_cast<double>(quanta) * kHoursQuantum; }

void FillSmallest(const Choice& choice, const budget::Problem& problem, const Stop& stop, NoPlanFits& answer) {
  if (const auto least = budget::LeastUse(problem); least.ok()) {
    answer.least_anim_hours = Hours((*least)[kAnimHours]);
    answer.least_core_hours = Hours((*least)[kCoreHours]);
    if (choice.has_other_hours()) answer.least_other_hours = Hours((*least)[kOtherHours]);
  }
  std::vector<uint8_t> grows;  // budgets may; what of a crowd must stay is no budget
  for (const Resource& resource : choice.resources) grows.push_back(resource.kind <= LimitKind::kFrameMemory);
  const auto smallest = budget::SmallestCapacities(problem, stop, grows);
  if (!smallest.ok()) return;
  answer.factor_at_least = smallest->factor_at_least;
  const auto& capacity = smallest->capacity;
  for (size_t k = 0; k < choice.resources.size(); ++k) {
    if (!capacity[k]) continue;
    switch (choice.resources[k].kind) {
      case LimitKind::kAnimHours:
        answer.fitting_anim_hours = Hours(*capacity[k]);
        break;
      case LimitKind::kCoreHours:
        answer.fitting_core_hours = Hours(*capacity[k]);
        break;
      case LimitKind::kOtherHours:
        answer.fitting_other_hours = Hours(*capacity[k]);
        break;
      case LimitKind::kFrameMemory:
        answer.fitting_memory_mb =
            std::max(answer.fitting_memory_mb.value_or(0), static_cast<double>(*capacity[k]) * kMemoryQuantum);
        break;
      case LimitKind::kCrowdShare:
      case LimitKind::kCellCover:
        break;
    }
  }
}

std::string DirectiveText(const Scene& scene, const ShotDemand& demand) {
  const Directive& ruling = scene.directives[demand.index];
  std::string text = absl::StrCat(RulingWords(ruling), " (", demand.demand.restrictions.size(), " objects)");
  if (!ruling.who.empty()) absl::StrAppend(&text, ", ruled by ", ruling.who);
  if (!ruling.why.empty()) absl::StrAppend(&text, ": ", ruling.why);
  return text;
}

NoPlanFits::Demand Named(const PlannedShot& shot, const ShotDemand& demand) {
  using Kind = NoPlanFits::Demand::Kind;
  const Scene& scene = shot.scene;
  switch (demand.kind) {
    case DemandKind::kDirective:
      return {Kind::kDirective, absl::StrCat("directives[", demand.index, "]"), DirectiveText(scene, demand)};
    case DemandKind::kIndirectSight:
      return {
          Kind::kIndirectSight, std::string(scene.objects.id[demand.index]),
          absl::StrCat("its shadow, reflection or light is seen where it is not: at least ", View(Name(demand.least)))};
    case DemandKind::kWorstOctaves:
      return {Kind::kWorstOctaves, std::string(scene.objects.id[demand.index]),
              absl::StrFormat("the style allows no more than %.3g octaves in any frame: at least %s",
                              shot.style->worst_octaves, View(Name(demand.least)))};
    case DemandKind::kKeepShare: {
      const Crowd& crowd = scene.crowds[demand.index];
      return {Kind::kKeepShare, crowd.name,
              absl::StrFormat("%.4g %% of its seen members stay", crowd.keep_share * 100)};
    }
    case DemandKind::kCoveredShare:
      break;
  }
  const Crowd& crowd = scene.crowds[demand.index];
  return {
      Kind::kCoveredShare, crowd.name,
      absl::StrFormat("%.4g %% of what it covers in column %d, row %d stays covered", crowd.least_covered_share * 100,
                      demand.cell % crowd.columns + 1, demand.cell / crowd.columns + 1)};
}

// Moves the demands over to the problem in which alike nodes are one.
absl::Status Merge(const Choice& choice, ShotDemands& demands) {
  if (choice.group.empty()) return absl::OkStatus();
  absl::StatusOr<budget::Alike> alike = budget::MergeAlike(demands.rest, choice.group);
  if (!alike.ok()) return alike.status();
  for (ShotDemand& demand : demands.demands) {
    for (budget::Demand::Restriction& one : demand.demand.restrictions) {
      one.node = alike->merged_of[static_cast<size_t>(one.node)];
    }
  }
  demands.rest = std::move(alike->problem);
  return absl::OkStatus();
}

void FillInTheWay(const PlannedShot& shot, const Stop& stop, NoPlanFits& answer) {
  ShotDemands demands =
      DemandsOf({shot.scene, shot.legibility, shot.costs, *shot.policy, *shot.style, {}, !shot.choice.group.empty()},
                shot.choice);
  if (!Merge(shot.choice, demands).ok()) return;
  std::vector<budget::Demand> plain;
  plain.reserve(demands.demands.size());
  for (ShotDemand& demand : demands.demands) plain.push_back(demand.demand);
  const auto found = budget::IrreducibleDemands(demands.rest, plain, stop);
  if (!found.ok()) return;
  answer.in_the_way_is_irreducible = found->proved;
  for (const int32_t index : found->demands) {
    answer.in_the_way.push_back(Named(shot, demands.demands[static_cast<size_t>(index)]));
  }
}

}  // namespace

NoPlanFits WhatWouldFit(const PlannedShot& shot, const Stop& stop) {
  NoPlanFits answer;
  const Choice& choice = shot.choice;
  if (choice.group.empty()) {
    FillSmallest(choice, choice.problem, stop, answer);
  } else if (const auto alike = budget::MergeAlike(choice.problem, choice.group); alike.ok()) {
    FillSmallest(choice, alike->problem, stop, answer);
  }
  FillInTheWay(shot, stop, answer);
  return answer;
}

}  // namespace scantling
