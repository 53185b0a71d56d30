// Columns in and out of the rows of a problem.
//
// Costs lie [node][level][resource]; a further resource means a wider row, so the rows are laid out anew: cheap against
// the solve that follows.

#include "server/choice/limits.h"

#include <algorithm>
#include <cmath>

namespace scantling {
namespace {

int64_t Quanta(double figure, double quantum) {
  const double quanta = std::round(figure / quantum);
  return quanta < static_cast<double>(budget::kMaxTotal) ? static_cast<int64_t>(quanta) : budget::kMaxTotal;
}

// Adds a resource that costs nothing; its index.
size_t AddResource(const Resource& resource, int64_t capacity, Choice& choice) {
  budget::Problem& problem = choice.problem;
  const auto before = static_cast<size_t>(problem.resources), after = before + 1;
  const size_t rows = problem.loss.size();
  std::vector<int64_t> cost(rows * after, 0);
  for (size_t row = 0; row < rows; ++row) {
    std::copy_n(&problem.cost[row * before], before, &cost[row * after]);
  }
  problem.cost = std::move(cost);
  problem.resources = static_cast<int>(after);
  problem.capacity.push_back(capacity);
  problem.money.push_back(0);
  for (budget::FixedCost& fixed : problem.fixed) fixed.cost.push_back(0);
  choice.resources.push_back(resource);
  return before;
}

int64_t& CostAt(size_t node, Tier tier, size_t resource, budget::Problem& problem) {
  return problem
      .cost[(node * budget::kLevels + static_cast<size_t>(Index(tier))) * static_cast<size_t>(problem.resources) +
            resource];
}

}  // namespace

std::vector<uint32_t> SeenMembers(const Legibility& legibility, const Crowd& crowd) {
  std::vector<uint32_t> seen;
  for (const uint32_t row : crowd.members) {
    if (legibility.sight[row] == Sight::kSeen) seen.push_back(row);
  }
  return seen;
}

int64_t MayBeOmitted(const Crowd& crowd, int64_t seen) {
  // A hair less than asked for is rounded to what was meant: 0.9 of 10 are 9, though 0.9 * 10 is 9.000000000000002.
  const double must = std::ceil(crowd.keep_share * static_cast<double>(seen) - 1e-9);
  return seen - std::clamp<int64_t>(static_cast<int64_t>(must), 0, seen);
}

CellLimit LimitOfCell(const Crowd& crowd, int32_t cell, std::span<const CellCover> cover) {
  CellLimit limit;
  for (const CellCover& one : cover) {
    if (one.cell == cell) limit.covered += Quanta(one.px, kCoverQuantum);
  }
  limit.may_be_omitted =
      static_cast<int64_t>(std::floor((1 - crowd.least_covered_share) * static_cast<double>(limit.covered)));
  return limit;
}

int64_t MemoryCapacity(double most_mb) {
  // A hair is added, or 0.3 MB would be 299 quanta.
  return static_cast<int64_t>(
      std::floor(std::min(most_mb / kMemoryQuantum, static_cast<double>(budget::kMaxTotal)) + 1e-6));
}

void AddKeepShare(const Scene& scene, const Legibility& legibility, uint32_t crowd, Choice& choice) {
  const std::vector<uint32_t> seen = SeenMembers(legibility, scene.crowds[crowd]);
  const Resource resource = {LimitKind::kCrowdShare, 1, crowd, 0, 0, 0};
  const size_t k = AddResource(resource, MayBeOmitted(scene.crowds[crowd], static_cast<int64_t>(seen.size())), choice);
  for (const uint32_t row : seen) CostAt(choice.node_of_row[row], Tier::kOmitted, k, choice.problem) = 1;
}

void AddCellCover(const Scene& scene, uint32_t crowd, int32_t cell, std::span<const CellCover> cover, Choice& choice) {
  const CellLimit limit = LimitOfCell(scene.crowds[crowd], cell, cover);
  const size_t k =
      AddResource({LimitKind::kCellCover, kCoverQuantum, crowd, cell, 0, limit.covered}, limit.may_be_omitted, choice);
  for (const CellCover& one : cover) {
    if (one.cell != cell) continue;
    const uint32_t node = choice.node_of_row[scene.crowds[crowd].members[one.member]];
    CostAt(node, Tier::kOmitted, k, choice.problem) += Quanta(one.px, kCoverQuantum);
  }
}

void AddFrameMemory(const FrameMemory& memory, int32_t frame, double most_mb, Choice& choice) {
  const Resource resource = {LimitKind::kFrameMemory, kMemoryQuantum, kNone, 0, frame, 0};
  const size_t k = AddResource(resource, MemoryCapacity(most_mb), choice);
  for (const FrameMemory::Holding& holding : memory.holdings) {
    const int64_t quanta = Quanta(holding.memory_mb, kMemoryQuantum);
    if (holding.users.size() == 1) {
      CostAt(choice.node_of_row[holding.users[0]], holding.tier, k, choice.problem) += quanta;
      continue;
    }
    budget::FixedCost fixed;
    fixed.cost.assign(choice.resources.size(), 0);
    fixed.cost[k] = quanta;
    for (const uint32_t row : holding.users) {
      fixed.users.push_back({static_cast<int32_t>(choice.node_of_row[row]), Bit(holding.tier)});
    }
    choice.problem.fixed.push_back(std::move(fixed));
  }
}

void KeepResources(std::span<const uint8_t> keep, Choice& choice) {
  budget::Problem& problem = choice.problem;
  const auto before = static_cast<size_t>(problem.resources);
  std::vector<size_t> kept;
  for (size_t k = 0; k < before; ++k) {
    const bool hours = choice.resources[k].kind <= LimitKind::kOtherHours;
    if (hours || keep[k] != 0) kept.push_back(k);
  }
  const auto pick = [&kept](auto& column) {
    std::remove_reference_t<decltype(column)> picked;
    for (const size_t k : kept) picked.push_back(column[k]);
    column = std::move(picked);
  };
  std::vector<int64_t> cost;
  cost.reserve(problem.loss.size() * kept.size());
  for (size_t row = 0; row < problem.loss.size(); ++row) {
    for (const size_t k : kept) cost.push_back(problem.cost[row * before + k]);
  }
  problem.cost = std::move(cost);
  problem.resources = static_cast<int>(kept.size());
  pick(problem.capacity);
  pick(problem.money);
  pick(choice.resources);
  for (budget::FixedCost& fixed : problem.fixed) pick(fixed.cost);
  const auto costs_nothing = [](const budget::FixedCost& fixed) {
    return std::all_of(fixed.cost.begin(), fixed.cost.end(), [](int64_t cost) { return cost == 0; });
  };
  const auto first_memory = problem.fixed.begin() + static_cast<std::ptrdiff_t>(choice.shared.size());
  problem.fixed.erase(std::remove_if(first_memory, problem.fixed.end(), costs_nothing), problem.fixed.end());
}

}  // namespace scantling
