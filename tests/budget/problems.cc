// The oracle shares no code with the solver: plans are counted up like a number in base four and judged one by one.

#include "tests/budget/problems.h"

#include <algorithm>
#include <numeric>
#include <tuple>

namespace scantling::budget {

uint64_t Draw::Next() {  // Source: Steele, Lea & Flood 2014, SplitMix64
  state_ += 0x9e3779b97f4a7c15ull;
  uint64_t x = state_;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ull;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebull;
  return x ^ (x >> 31);
}

namespace {

// Users are drawn one by one, so that each node is a user once at most; one in eight costs nothing in a resource.
FixedCost RandomFixedCost(const Shape& shape, Draw* draw) {
  FixedCost fixed;
  for (int k = 0; k < shape.resources; ++k) {
    fixed.cost.push_back(draw->Below(8) == 0 ? 0 : draw->Between(0, 2 * shape.most));
  }
  const int64_t share = draw->Between(20, 90);
  const bool top_down = draw->Below(2) == 0;  // all levels from one on, as a rig serves
  for (int64_t i = 0; i < shape.nodes; ++i) {
    if (draw->Below(100) >= share) continue;
    const uint8_t upper = static_cast<uint8_t>(15 & ~((1 << draw->Between(1, 3)) - 1));
    const uint8_t any = static_cast<uint8_t>(draw->Between(1, 15));
    fixed.users.push_back({static_cast<int32_t>(i), top_down ? upper : any});
  }
  if (fixed.users.empty()) fixed.users.push_back({static_cast<int32_t>(draw->Below(shape.nodes)), 0b1000});
  if (draw->Below(2) == 0) std::reverse(fixed.users.begin(), fixed.users.end());  // any order is allowed
  return fixed;
}

}  // namespace

Problem RandomForest(const Shape& shape, uint64_t seed) {
  Draw draw(seed);
  Problem problem;
  problem.resources = shape.resources;
  problem.capacity.resize(shape.resources);
  for (int k = 0; k < shape.resources; ++k) problem.money.push_back(draw.Below(4));
  std::vector<int32_t> containers;
  for (int64_t i = 0; i < shape.nodes; ++i) {
    const bool inside = !containers.empty() && draw.Below(100) < shape.in_container_percent;
    problem.parent.push_back(inside ? containers[draw.Below(static_cast<int64_t>(containers.size()))] : -1);
    if (draw.Below(100) < shape.container_percent) containers.push_back(static_cast<int32_t>(i));
    const bool floored = draw.Below(100) < shape.floor_percent;
    problem.allowed.push_back(static_cast<uint8_t>(floored ? draw.Between(1, 15) : 15));
    problem.tie.push_back(draw.Below(2) == 0 ? draw.Next() : static_cast<uint64_t>(draw.Below(3)));
    std::vector<int64_t> loss(kLevels), cost(kLevels);
    for (int64_t& figure : loss) figure = draw.Between(0, shape.most);
    if (shape.tidy) std::sort(loss.rbegin(), loss.rend());
    problem.loss.insert(problem.loss.end(), loss.begin(), loss.end());
    std::vector<int64_t> costs(kLevels * shape.resources);
    for (int k = 0; k < shape.resources; ++k) {
      for (int64_t& figure : cost) figure = draw.Between(0, shape.most);
      if (shape.tidy) std::sort(cost.begin(), cost.end());
      if (shape.keep_share && k + 1 == shape.resources) cost[1] = cost[2] = cost[3] = 0;
      for (int level = 0; level < kLevels; ++level) costs[level * shape.resources + k] = cost[level];
    }
    problem.cost.insert(problem.cost.end(), costs.begin(), costs.end());
  }
  for (int a = 0; a < shape.fixed_costs; ++a) problem.fixed.push_back(RandomFixedCost(shape, &draw));
  return problem;
}

void SetCapacities(Problem* problem, int percent) {
  for (int k = 0; k < problem->resources; ++k) {
    int64_t low = 0, high = 0;
    for (int64_t i = 0; i < problem->size(); ++i) {
      int64_t least = -1, most = 0;
      for (int level = 0; level < kLevels; ++level) {
        if (((problem->allowed[i] >> level) & 1) == 0) continue;
        const int64_t cost = problem->cost[(i * kLevels + level) * problem->resources + k];
        least = least < 0 ? cost : std::min(least, cost);
        most = std::max(most, cost);
      }
      low += least;
      high += most;
    }
    for (const FixedCost& fixed : problem->fixed) high += fixed.cost[k];
    problem->capacity[k] = low + (high - low) * percent / 100;
  }
}

bool FollowsParents(const Problem& problem, const std::vector<uint8_t>& level) {
  for (int64_t i = 0; i < problem.size(); ++i) {
    if (level[i] >= kLevels || ((problem.allowed[i] >> level[i]) & 1) == 0) return false;
    if (problem.parent[i] < 0) continue;
    const int above = level[problem.parent[i]];
    if (above == 1 && level[i] > 1) return false;
    if (above == 0 && level[i] > 0) return false;
  }
  return true;
}

int64_t LossOf(const Problem& problem, const std::vector<uint8_t>& level) {
  int64_t loss = 0;
  for (int64_t i = 0; i < problem.size(); ++i) loss += problem.loss[i * kLevels + level[i]];
  return loss;
}

std::vector<uint8_t> PaysFor(const Problem& problem, const std::vector<uint8_t>& level) {
  std::vector<uint8_t> paid(problem.fixed.size(), 0);
  for (size_t a = 0; a < paid.size(); ++a) {
    for (const FixedCost::User& user : problem.fixed[a].users) {
      if ((user.levels & (1 << level[user.node])) != 0) paid[a] = 1;
    }
  }
  return paid;
}

std::vector<int64_t> UseOf(const Problem& problem, const std::vector<uint8_t>& level) {
  std::vector<int64_t> used(problem.resources, 0);
  for (int64_t i = 0; i < problem.size(); ++i) {
    for (int k = 0; k < problem.resources; ++k) {
      used[k] += problem.cost[(i * kLevels + level[i]) * problem.resources + k];
    }
  }
  const std::vector<uint8_t> paid = PaysFor(problem, level);
  for (size_t a = 0; a < paid.size(); ++a) {
    for (int k = 0; k < problem.resources; ++k) used[k] += paid[a] * problem.fixed[a].cost[k];
  }
  return used;
}

namespace {

bool Within(const Problem& problem, const std::vector<int64_t>& used) {
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k] && used[k] > *problem.capacity[k]) return false;
  }
  return true;
}

struct Rank {
  int64_t loss, money, levels;
  std::vector<uint8_t> in_tie_order;
  auto operator<=>(const Rank&) const = default;
};

Rank RankOf(const Problem& problem, const std::vector<int64_t>& order, const std::vector<uint8_t>& level) {
  Rank rank{LossOf(problem, level), 0, 0, {}};
  const std::vector<int64_t> used = UseOf(problem, level);
  for (int k = 0; k < problem.resources; ++k) rank.money += problem.money[k] * used[k];
  for (const int64_t node : order) {
    rank.levels += level[node];
    rank.in_tie_order.push_back(level[node]);
  }
  return rank;
}

}  // namespace

Exhaustive SearchAll(const Problem& problem) {
  const int64_t n = problem.size();
  std::vector<int64_t> order(n);
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(),
            [&](int64_t a, int64_t b) { return std::tie(problem.tie[a], a) < std::tie(problem.tie[b], b); });
  Exhaustive best;
  std::optional<Rank> best_rank;
  std::vector<uint8_t> level(n);
  for (int64_t plan = 0; plan < int64_t{1} << (2 * n); ++plan) {
    for (int64_t i = 0; i < n; ++i) level[i] = (plan >> (2 * i)) & 3;
    if (!FollowsParents(problem, level)) continue;
    const std::vector<int64_t> used = UseOf(problem, level);
    if (!best.any_plan) best.least_use = used;
    best.any_plan = true;
    for (int k = 0; k < problem.resources; ++k) best.least_use[k] = std::min(best.least_use[k], used[k]);
    if (!Within(problem, used)) continue;
    if (best.feasible && LossOf(problem, level) > best.loss) continue;
    Rank rank = RankOf(problem, order, level);
    if (best_rank && *best_rank <= rank) continue;
    best_rank = rank;
    best.feasible = true;
    best.loss = rank.loss;
    best.level = level;
  }
  return best;
}

}  // namespace scantling::budget
