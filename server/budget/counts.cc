// Kinds are found by sorting nodes by their cost rows. Counting is one sweep over the nodes of a plan.

#include "server/budget/counts.h"

#include <algorithm>
#include <numeric>

namespace scantling::budget {
namespace {

constexpr size_t kLeastAlike = 4;  // fewer are soon settled one by one
constexpr size_t kMostKinds = 24;  // each may be tried at three levels

std::vector<std::vector<int32_t>> RunsOfEqualCost(const Core& core) {
  const int64_t row = int64_t{kLevels} * core.resources;
  std::vector<int32_t> order(core.size());
  std::iota(order.begin(), order.end(), 0);
  const auto rows = [&](int32_t node) { return std::span(core.CostRow(node, 0), row); };
  std::sort(order.begin(), order.end(), [&](int32_t a, int32_t b) {
    const auto ra = rows(a), rb = rows(b);
    const auto differ = std::mismatch(ra.begin(), ra.end(), rb.begin());
    return differ.first == ra.end() ? a < b : *differ.first < *differ.second;
  });
  std::vector<std::vector<int32_t>> runs;
  for (const int32_t node : order) {
    if (runs.empty() || !std::equal(rows(node).begin(), rows(node).end(), rows(runs.back().back()).begin())) {
      runs.emplace_back();
    }
    runs.back().push_back(node);
  }
  return runs;
}

int64_t SpreadOf(const Core& core, int32_t node) {
  const auto [least, most] = std::minmax_element(core.LossRow(node), core.LossRow(node) + kLevels);
  return *most - *least;
}

}  // namespace

Kinds::Kinds(const Core& core) : kind_(core.size(), 0), nodes_(1, core.size()), most_loss_(1, 1) {
  for (int32_t i = 0; i < core.size(); ++i) most_loss_[0] = std::max(most_loss_[0], SpreadOf(core, i));
  std::vector<std::vector<int32_t>> runs = RunsOfEqualCost(core);
  std::stable_sort(runs.begin(), runs.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
  for (const std::vector<int32_t>& run : runs) {
    if (run.size() < kLeastAlike || run.size() == kind_.size() || nodes_.size() > kMostKinds) break;
    int64_t most = 1;
    for (const int32_t node : run) {
      kind_[node] = kinds_;
      most = std::max(most, SpreadOf(core, node));
    }
    nodes_.push_back(static_cast<int64_t>(run.size()));
    most_loss_.push_back(most);
    ++kinds_;
  }
}

void Kinds::Count(std::span<const uint8_t> level, double share, std::vector<double>* counts) const {
  counts->resize(static_cast<size_t>(kinds_) * kLevels, 0.0);
  std::vector<int64_t> at(counts->size(), 0);
  for (size_t i = 0; i < level.size(); ++i) {
    ++at[level[i]];
    if (kind_[i] != 0) ++at[kind_[i] * kLevels + level[i]];
  }
  for (int32_t kind = 0; kind < kinds_; ++kind) {
    int64_t above = 0;
    for (int t = kLevels - 1; t >= 0; --t) {
      above += at[kind * kLevels + t];
      (*counts)[kind * kLevels + t] += share * static_cast<double>(above);
    }
  }
}

Core Kinds::WithLimits(const Core& core, std::span<const CountLimit> limits, int64_t unit) const {
  Core wide;
  const int old = core.resources;
  wide.resources = old + static_cast<int>(limits.size());
  wide.parent = core.parent;
  wide.sets = core.sets;
  wide.base_loss = core.base_loss;
  wide.base_used = core.base_used;
  wide.loss = core.loss;
  wide.own_cost.resize(int64_t{core.size()} * kLevels * wide.resources);
  int64_t* to = wide.own_cost.data();
  for (int32_t i = 0; i < core.size(); ++i) {
    for (int level = 0; level < kLevels; ++level) {
      to = std::copy_n(core.CostRow(i, level), old, to);
      for (const CountLimit& limit : limits) *to++ = Counts(limit, i, level) ? unit : 0;
    }
  }
  wide.cost = wide.own_cost;
  wide.has_trees = core.has_trees;
  wide.slot = core.slot;
  wide.slots = core.slots;
  return wide;
}

int64_t Kinds::Use(const CountLimit& limit, std::span<const uint8_t> level) const {
  int64_t use = 0;
  for (size_t i = 0; i < level.size(); ++i) use += Counts(limit, static_cast<int64_t>(i), level[i]) ? 1 : 0;
  return use;
}

}  // namespace scantling::budget
