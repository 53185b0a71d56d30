// The frozen Core, kept up to date tree by tree.
//
// Everything kept is a sum over trees or lives inside one tree: the plan of least loss, the sets that a box of prices
// leaves, the compacted Core. A change takes the trees of the changed nodes out, whole, by their old rows, and puts
// them in by their new ones, pruned, solved and frozen as if from scratch. So after any series of changes the frozen
// Core is what freezing the changed problem over the same box would give, and a bound at a price inside the box is
// proved for the changed problem. Only what serves exchanges (options of small excess at the old prices) ages.

#include "server/budget/warm_state.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "server/budget/compact.h"
#include "server/budget/polish.h"
#include "server/budget/pricing.h"

namespace scantling::budget {
namespace {

constexpr int64_t kOpenOptions = 1'500;  // options of small excess kept open besides those of the box
constexpr double kBoxNodes = 2'000;      // the box is as wide as leaves about so many nodes open
constexpr double kLeastShare = 0.005;    // but never narrower than this part of the price
constexpr double kMostPrice = 0x1p57;    // in the integer scale: a box around it stays inside kMaxWeight

void AddRow(const Core& core, int32_t node, int level, int64_t sign, Outcome* sums) {
  sums->loss += sign * core.LossRow(node)[level];
  const int64_t* cost = core.CostRow(node, level);
  for (int k = 0; k < core.resources; ++k) sums->used[k] += sign * cost[k];
}

}  // namespace

void WarmCore::Index(const Problem& problem) {
  base_ = CoreOf(problem);
  place_.clear();
  if (!base_.origin.empty()) {
    place_.resize(base_.size());
    for (int32_t i = 0; i < base_.size(); ++i) place_[base_.origin[i]] = i;
  }
  trees_ = Trees(base_);
  out_.clear();
}

bool WarmCore::SetPrices(const Solution& solution) {
  const double highest = solution.price.empty() ? 0 : *std::max_element(solution.price.begin(), solution.price.end());
  priced_ = highest > 0;
  prices_ = Prices();
  if (!priced_) return true;
  if (!(highest < kMostPrice)) return false;
  while (prices_.loss_weight < kMaxWeight && highest * static_cast<double>(prices_.loss_weight) * 2 < kMostPrice) {
    prices_.loss_weight *= 2;
  }
  for (size_t k = 0; k < solution.price.size(); ++k) {
    prices_.per_unit[k] = std::llround(solution.price[k] * static_cast<double>(prices_.loss_weight));
  }
  return true;
}

bool WarmCore::Prepare(const Problem& problem, const Solution& solution, const Stop& stop) {
  Index(problem);
  oversize_ = Oversize();
  oversize_.Remove(problem.capacity, &base_);
  if (!PruneSets(base_.parent, base_.sets)) return false;
  ReachSets(base_.parent, base_.sets);
  if (!LexicographicPass(base_, problem, stop, &least_level_)) return false;
  least_ = Total(base_, least_level_);
  if (!SetPrices(solution)) return false;
  if (!priced_) return true;
  box_ = {prices_, prices_};
  Widen(problem.capacity, std::clamp(kBoxNodes / std::max(1, base_.size()), kLeastShare, 1.0), &box_);
  within_ = ExcessOf(base_, prices_, kOpenOptions);
  std::vector<uint8_t> sets;
  if (!FreezeOver(base_, box_, {prices_, within_}, &sets, stop)) return false;
  frozen_.Build(base_, std::move(sets));
  return true;
}

std::vector<int32_t> WarmCore::CoreNodes(std::span<const int32_t> nodes) const {
  std::vector<int32_t> places;
  for (const int32_t node : nodes) places.push_back(PlaceOf(node));
  return places;
}

int64_t WarmCore::NodesIn(std::span<const int32_t> nodes) const {
  std::vector<int32_t> roots;
  for (const int32_t node : nodes) roots.push_back(trees_.RootOf(PlaceOf(node)));
  std::sort(roots.begin(), roots.end());
  roots.erase(std::unique(roots.begin(), roots.end()), roots.end());
  int64_t count = 0;
  for (const int32_t root : roots) count += trees_.SizeOf(root);
  return count;
}

void WarmCore::TakeOut(std::span<const int32_t> nodes) {
  out_ = trees_.Whole(CoreNodes(nodes));
  for (const int32_t node : out_) AddRow(base_, node, least_level_[node], -1, &least_);
  if (priced_) frozen_.TakeOut(base_, out_);
}

bool WarmCore::PutBack(const Problem& problem) {
  const std::vector<int32_t> nodes = std::exchange(out_, {});
  if (!oversize_.StillRight(problem.capacity)) return false;
  if (!base_.origin.empty()) {  // the rows are copies in another order
    const int64_t row = int64_t{kLevels} * base_.resources;
    for (const int32_t node : nodes) {
      const int64_t from = base_.origin[node];
      std::copy_n(problem.loss.begin() + from * kLevels, kLevels, base_.own_loss.begin() + int64_t{node} * kLevels);
      std::copy_n(problem.cost.begin() + from * row, row, base_.own_cost.begin() + node * row);
    }
  }
  Core part = Renewed(problem, nodes);
  std::vector<uint8_t> sets;
  if (!Renew(problem, &part, &sets)) return false;
  if (priced_) frozen_.PutIn(part, sets);
  return true;
}

// The trees with their sets as the masks give them.
Core WarmCore::Renewed(const Problem& problem, std::span<const int32_t> nodes) const {
  Core part = PartOf(base_, nodes);
  for (int32_t i = 0; i < part.size(); ++i) {
    const int32_t from = base_.origin.empty() ? nodes[i] : base_.origin[nodes[i]];
    part.sets[i] = (part.sets[i] & kLone) | SpreadMask(problem.allowed[from]);
  }
  return part;
}

bool WarmCore::Renew(const Problem& problem, Core* part, std::vector<uint8_t>* sets) {
  oversize_.Remove(problem.capacity, part);
  if (!PruneSets(part->parent, part->sets)) return false;
  ReachSets(part->parent, part->sets);
  const std::vector<int32_t> nodes = part->origin;
  for (int32_t& node : part->origin) {
    if (!base_.origin.empty()) node = base_.origin[node];  // ties are looked up by node of the problem
  }
  std::vector<uint8_t> level;
  const Stop never;
  LexicographicPass(*part, problem, never, &level);
  part->origin = nodes;
  for (int32_t i = 0; i < part->size(); ++i) {
    base_.sets[nodes[i]] = part->sets[i];
    least_level_[nodes[i]] = level[i];
    AddRow(*part, i, level[i], 1, &least_);
  }
  return !priced_ || FreezeOver(*part, box_, {prices_, within_}, sets, never);
}

bool WarmCore::TakeOver(const Problem& problem, std::span<const uint8_t> changed, std::span<const int32_t> was,
                        const WarmCore& old) {
  Index(problem);
  oversize_ = old.oversize_;
  if (!oversize_.StillRight(problem.capacity)) return false;
  priced_ = old.priced_;
  prices_ = old.prices_;
  box_ = old.box_;
  within_ = old.within_;
  std::vector<uint8_t> sets(base_.size());
  std::vector<int32_t> renew;
  least_level_.resize(base_.size());
  least_ = Outcome();
  for (int32_t i = 0; i < base_.size(); ++i) {
    const int32_t node = base_.origin.empty() ? i : base_.origin[i];
    if (changed[node] != 0) {
      renew.push_back(i);
      continue;
    }
    const int32_t from = old.PlaceOf(was[node]);
    base_.sets[i] = old.base_.sets[from];
    least_level_[i] = old.least_level_[from];
    AddRow(base_, i, least_level_[i], 1, &least_);
    if (priced_) sets[i] = old.frozen_.sets()[from];
  }
  Core part = Renewed(problem, renew);
  std::vector<uint8_t> part_sets;
  if (!Renew(problem, &part, &part_sets)) return false;
  if (!priced_) return true;
  for (size_t i = 0; i < renew.size(); ++i) sets[renew[i]] = part_sets[i];
  frozen_.Build(base_, std::move(sets));
  return true;
}

Solution WarmCore::SolutionOf(std::span<const uint8_t> level, const Outcome& outcome, int64_t bound) const {
  Solution solution;
  if (base_.origin.empty()) {
    solution.level.assign(level.begin(), level.end());
  } else {
    solution.level.resize(level.size());
    for (size_t i = 0; i < level.size(); ++i) solution.level[base_.origin[i]] = level[i];
  }
  solution.loss = outcome.loss;
  solution.used.assign(outcome.used.begin(), outcome.used.begin() + base_.resources);
  solution.bound = std::min(bound, solution.loss);
  solution.proved_optimal = solution.bound == solution.loss;
  solution.price.assign(base_.resources, 0.0);
  return solution;
}

std::optional<Solution> WarmCore::Solve(const Problem& problem, const Effort& effort, const Excuse& excuse,
                                        const Stop& stop) {
  const Capacities& capacity = problem.capacity;
  if (Fits(least_, capacity)) return SolutionOf(least_level_, least_, least_.loss);
  if (!priced_ || !Covers(box_, capacity)) return std::nullopt;
  BoxedSearch search = {box_, prices_, ToleranceOf(effort.target_gap, least_.loss), {}};
  const DualResult dual = PriceInBox(frozen_.core(), capacity, search, stop);
  if (!dual.evaluated) return std::nullopt;
  Prices highest;
  highest.per_unit.fill(std::numeric_limits<int64_t>::max());
  if (!dual.interrupted && OnBorder(dual.prices, box_, highest, capacity)) return std::nullopt;
  const int64_t bound = std::max(CeilingOf(dual.bound, prices_.loss_weight), least_.loss);
  const int64_t enough = excuse.EnoughWith(bound, effort.target_gap);
  Plan plan;
  if (!ExchangeNear(frozen_.core(), capacity, dual.prices, enough, stop, &plan)) return std::nullopt;
  prices_ = dual.prices;
  Polish(frozen_.core(), problem, capacity, &plan);
  std::vector<uint8_t> level;
  frozen_.Expand(base_, plan.level, &level);
  Solution solution = SolutionOf(level, plan.outcome, bound);
  for (int k = 0; k < base_.resources; ++k) {
    solution.price[k] = static_cast<double>(prices_.per_unit[k]) / static_cast<double>(prices_.loss_weight);
  }
  solution.interrupted = plan.outcome.loss > enough && stop.Requested();
  return solution;
}

}  // namespace scantling::budget
