// Each finding on its own.
//
//   twinned   what the object's own rows prefer at the plan's prices, under its container as decided, is another tier
//   steady    the tier is the earlier one, and the plan that keeps nothing has another

#include "server/planning/findings.h"

#include <algorithm>
#include <limits>
#include <unordered_map>

#include "server/choice/limits.h"
#include "server/planning/parallel.h"

namespace scantling {
namespace {

// The level of least loss + prices . cost among those the node may take there; the lower of equals.
uint8_t OwnPreference(const PlannedShot& shot, size_t node) {
  const budget::Problem& problem = shot.choice.problem;
  const int32_t parent = problem.parent[node];
  uint8_t mask = problem.allowed[node];
  if (parent >= 0) {
    const uint8_t above = shot.solution.level[static_cast<size_t>(parent)];
    if (above < Index(Tier::kProxy)) mask &= above == Index(Tier::kOmitted) ? 1 : 3;
  }
  uint8_t best = shot.solution.level[node];
  double least = std::numeric_limits<double>::infinity();
  for (uint8_t level = 0; level < budget::kLevels; ++level) {
    if (((mask >> level) & 1) == 0) continue;
    const size_t at = node * budget::kLevels + level;
    double priced = static_cast<double>(problem.loss[at]);
    for (size_t k = 0; k < shot.solution.price.size(); ++k) {
      priced +=
          shot.solution.price[k] * static_cast<double>(problem.cost[at * static_cast<size_t>(problem.resources) + k]);
    }
    if (priced < least) {
      least = priced;
      best = level;
    }
  }
  return best;
}

std::vector<uint8_t> TwinnedNodes(const PlannedShot& shot) {
  std::vector<uint8_t> twinned;
  if (shot.choice.group.empty()) return twinned;
  twinned.resize(shot.choice.group.size(), 0);
  for (size_t node = 0; node < twinned.size(); ++node) {
    if (shot.choice.group[node] < 0) continue;
    twinned[node] = OwnPreference(shot, node) != shot.solution.level[node];
  }
  return twinned;
}

// The nearest of `kept`; as known where that still holds.
Twins TwinsOf(const PlannedShot& shot, std::vector<uint32_t> kept, const Stop& stop, std::span<const uint8_t> moved,
              KnownTwins* known) {
  const auto moves = [&](uint32_t row) { return row < moved.size() && moved[row] != 0; };
  if (known != nullptr && !kept.empty() && known->kept == kept && std::none_of(kept.begin(), kept.end(), moves)) {
    return known->twins;
  }
  const Twins twins = NearestTwins(shot.optics, shot.legibility, kept, stop);
  if (known != nullptr) *known = {stop.Requested() ? std::vector<uint32_t>() : std::move(kept), twins};
  return twins;
}

CrowdFigures FiguresOf(const PlannedShot& shot, std::span<const Tier> tiers, uint32_t number,
                       std::vector<uint32_t>& kept) {
  const Crowd& crowd = shot.scene.crowds[number];
  CrowdFigures figures;
  figures.members = static_cast<int64_t>(crowd.members.size());
  for (const uint32_t row : SeenMembers(shot.legibility, crowd)) {
    ++figures.seen;
    if (tiers[row] != Tier::kOmitted) kept.push_back(row);
  }
  figures.kept = static_cast<int64_t>(kept.size());
  std::vector<double> all(static_cast<size_t>(crowd.columns * crowd.rows), 0), left = all;
  for (const CellCover& one : shot.legibility.cell_cover[number]) {
    const auto cell = static_cast<size_t>(one.cell);
    all[cell] += one.px;
    if (tiers[crowd.members[one.member]] != Tier::kOmitted) left[cell] += one.px;
  }
  for (size_t cell = 0; cell < all.size(); ++cell) {
    if (all[cell] <= 0) continue;
    const double share = left[cell] / all[cell];
    if (figures.emptiest_cell >= 0 && share >= figures.emptiest_share) continue;
    figures.emptiest_cell = static_cast<int32_t>(cell);
    figures.emptiest_share = share;
  }
  return figures;
}

std::vector<uint8_t> SteadyNodes(const budget::Earlier& earlier, const budget::StableSolution& found) {
  std::vector<uint8_t> steady(earlier.level.size(), 0);
  for (size_t node = 0; node < steady.size(); ++node) {
    steady[node] = found.solution.level[node] == earlier.level[node] && found.free.level[node] != earlier.level[node];
  }
  return steady;
}

}  // namespace

EarlierByNode EarlierOf(const PlannedShot& shot, const PlanRequest& request) {
  EarlierByNode result;
  if (request.earlier.empty()) return result;
  std::unordered_map<std::string_view, Tier> by_id;
  for (const EarlierDecision& decision : request.earlier) by_id.emplace(decision.id, decision.tier);
  const size_t count = shot.choice.row_of_node.size();
  const double share = request.change_margin.value_or(shot.style->change_margin);
  // All margins together must fit the totals: more than an even share of what is left keeps a decision anyway.
  const int64_t room = budget::kMaxTotal / 4 / std::max<int64_t>(static_cast<int64_t>(count), 1);
  const int64_t least =
      std::min(room, LossQuanta(request.change_margin_least.value_or(shot.style->change_margin_least)));
  result.earlier.level.assign(count, budget::kNoLevel);
  result.earlier.margin.assign(count, 0);
  for (size_t node = 0; node < count; ++node) {
    const auto found = by_id.find(shot.scene.objects.id[shot.choice.row_of_node[node]]);
    if (found == by_id.end()) continue;
    ++result.known;
    result.earlier.level[node] = static_cast<uint8_t>(Index(found->second));
    const auto omitted = static_cast<double>(shot.choice.problem.loss[node * budget::kLevels]);
    result.earlier.margin[node] = std::max(static_cast<int64_t>(share * omitted), least);
  }
  result.unknown = static_cast<int64_t>(by_id.size()) - result.known;
  return result;
}

std::vector<CrowdFigures> CrowdFiguresOf(const PlannedShot& shot, const Stop& stop, std::vector<KnownTwins>* known,
                                         std::span<const uint8_t> moved) {
  std::vector<CrowdFigures> all;
  if (known != nullptr) known->resize(shot.scene.crowds.size());
  const std::vector<Tier> tiers = TiersByRow(shot.choice, shot.solution);
  for (uint32_t crowd = 0; crowd < shot.scene.crowds.size(); ++crowd) {
    std::vector<uint32_t> kept;
    all.push_back(FiguresOf(shot, tiers, crowd, kept));
    all.back().twins = TwinsOf(shot, std::move(kept), stop, moved, known == nullptr ? nullptr : &(*known)[crowd]);
  }
  return all;
}

void AnswerShot(int threads, const Stop& stop, PlannedShot& shot, std::vector<KnownTwins>* known,
                std::span<const uint8_t> moved) {
  std::vector<CrowdFigures> crowds;
  ForEachInParallel(2, threads, [&](size_t part) {
    if (part == 0) {
      crowds = CrowdFiguresOf(shot, stop, known, moved);
    } else {
      shot.plan = AnswerOf(shot.input());
    }
  });
  shot.plan.totals.crowds = crowds;
  shot.findings.crowds = std::move(crowds);
}

PlanFindings FindingsOf(const PlannedShot& shot, const EarlierByNode& earlier, const budget::StableSolution& found) {
  PlanFindings findings;
  findings.memory_mb = MemoryByFrame(shot.pricing(), TiersByRow(shot.choice, shot.solution));
  findings.twinned = TwinnedNodes(shot);
  if (earlier.known + earlier.unknown == 0) return findings;
  findings.steadiness = {earlier.known, earlier.unknown, found.changed, found.free_changed,
                         static_cast<double>(found.solution.loss - found.free.loss) * kLossQuantum};
  findings.steady = SteadyNodes(earlier.earlier, found);
  findings.earlier.resize(earlier.earlier.level.size());
  for (size_t node = 0; node < findings.earlier.size(); ++node) {
    if (earlier.earlier.level[node] == budget::kNoLevel) continue;
    findings.earlier[node] = static_cast<Tier>(earlier.earlier.level[node]);
  }
  return findings;
}

}  // namespace scantling
