// Taking trees out of a compacted Core and putting them in.
//
// Per node of the base one of three things is known from its set and from whether the compacted Core kept it: decided
// (one level whatever its parent does: `decided_` has it), kept, or folded (its level follows from its parent's). A
// plan of the base is `decided_` copied, the kept nodes' levels written over it, and the folded ones' from their
// parents.

#include "server/budget/frozen.h"

#include <algorithm>
#include <utility>

#include "server/budget/compact.h"

namespace scantling::budget {

Trees::Trees(const Core& core) {
  if (!core.has_trees) return;
  const int32_t n = core.size();
  root_.resize(n);
  count_.assign(n, 0);
  first_.assign(n, -1);
  for (int32_t i = 0; i < n; ++i) {
    root_[i] = core.parent[i] < 0 ? i : root_[core.parent[i]];
    ++count_[root_[i]];
  }
  int32_t place = 0;
  std::vector<int32_t> next(n, 0);
  for (int32_t i = 0; i < n; ++i) {
    if (count_[i] == 0) continue;
    first_[i] = next[i] = place;
    place += count_[i];
  }
  nodes_.resize(n);
  for (int32_t i = 0; i < n; ++i) nodes_[next[root_[i]]++] = i;
}

std::vector<int32_t> Trees::Whole(std::span<const int32_t> nodes) const {
  std::vector<int32_t> roots;
  for (const int32_t node : nodes) roots.push_back(RootOf(node));
  std::sort(roots.begin(), roots.end());
  roots.erase(std::unique(roots.begin(), roots.end()), roots.end());
  if (root_.empty()) return roots;
  std::vector<int32_t> whole;
  for (const int32_t root : roots) {
    whole.insert(whole.end(), nodes_.begin() + first_[root], nodes_.begin() + first_[root] + count_[root]);
  }
  std::sort(whole.begin(), whole.end());
  return whole;
}

int32_t Trees::SizeOf(int32_t node) const { return root_.empty() ? 1 : count_[root_[node]]; }

Core PartOf(const Core& core, std::span<const int32_t> nodes) {
  Core part;
  part.resources = core.resources;
  const int64_t row = int64_t{kLevels} * core.resources;
  for (const int32_t node : nodes) {
    const int32_t above = core.parent[node];
    // `nodes` is ascending and holds whole trees: the parent is there, before.
    const auto place = above < 0 ? nodes.begin() : std::lower_bound(nodes.begin(), nodes.end(), above);
    part.parent.push_back(above < 0 ? -1 : static_cast<int32_t>(place - nodes.begin()));
    part.sets.push_back(core.sets[node]);
    part.own_loss.insert(part.own_loss.end(), core.LossRow(node), core.LossRow(node) + kLevels);
    part.own_cost.insert(part.own_cost.end(), core.CostRow(node, 0), core.CostRow(node, 0) + row);
  }
  part.origin.assign(nodes.begin(), nodes.end());
  part.UseOwnRows();
  NumberNodes(&part);
  return part;
}

void FrozenCore::Build(const Core& base, std::vector<uint8_t> sets) {
  sets_ = std::move(sets);
  decided_.resize(sets_.size());
  out_.assign(sets_.size(), 0);
  folded_.clear();
  core_ = Compact(base, sets_);
  size_t next = 0;  // among the kept nodes, ascending
  for (int32_t i = 0; i < base.size(); ++i) {
    const bool kept = next < core_.origin.size() && core_.origin[next] == i;
    if (kept) ++next;
    NoteNode(i, sets_[i], kept);
  }
}

void FrozenCore::NoteNode(int32_t node, uint8_t set, bool kept) {
  const uint8_t any = AnyLevels(set);
  sets_[node] = set;
  decided_[node] = static_cast<uint8_t>(OnlyLevel(any));
  if (!kept && !IsSingle(any)) folded_.push_back(node);
}

void FrozenCore::TakeOut(const Core& base, std::span<const int32_t> nodes) {
  if (nodes.empty()) return;
  for (const int32_t node : nodes) {
    out_[node] = 1;
    if (!IsSingle(AnyLevels(sets_[node]))) continue;
    const int level = decided_[node];
    core_.base_loss -= base.LossRow(node)[level];
    for (int k = 0; k < core_.resources; ++k) core_.base_used[k] -= base.CostRow(node, level)[k];
  }
  std::erase_if(folded_, [this](int32_t node) { return out_[node] != 0; });
  const int64_t row = int64_t{kLevels} * core_.resources;
  std::vector<int32_t> place(core_.size());
  int32_t kept = 0;
  for (int32_t j = 0; j < core_.size(); ++j) {
    if (out_[core_.origin[j]] != 0) continue;
    place[j] = kept;
    core_.parent[kept] = core_.parent[j] < 0 ? -1 : place[core_.parent[j]];
    core_.sets[kept] = core_.sets[j];
    core_.origin[kept] = core_.origin[j];
    if (kept != j) {
      std::copy_n(core_.own_loss.begin() + int64_t{j} * kLevels, kLevels,
                  core_.own_loss.begin() + int64_t{kept} * kLevels);
      std::copy_n(core_.own_cost.begin() + j * row, row, core_.own_cost.begin() + kept * row);
    }
    ++kept;
  }
  core_.parent.resize(kept);
  core_.sets.resize(kept);
  core_.origin.resize(kept);
  core_.own_loss.resize(int64_t{kept} * kLevels);
  core_.own_cost.resize(kept * row);
  core_.UseOwnRows();
  NumberNodes(&core_);
  for (const int32_t node : nodes) out_[node] = 0;
}

void FrozenCore::PutIn(const Core& part, std::span<const uint8_t> sets) {
  if (part.size() == 0) return;
  const Core small = Compact(part, sets);
  const int32_t shift = core_.size();
  size_t next = 0;
  for (int32_t i = 0; i < part.size(); ++i) {
    const bool kept = next < small.origin.size() && small.origin[next] == i;
    if (kept) ++next;
    NoteNode(part.origin[i], sets[i], kept);
  }
  for (int32_t j = 0; j < small.size(); ++j) {
    core_.parent.push_back(small.parent[j] < 0 ? -1 : small.parent[j] + shift);
    core_.origin.push_back(part.origin[small.origin[j]]);
  }
  core_.sets.insert(core_.sets.end(), small.sets.begin(), small.sets.end());
  core_.own_loss.insert(core_.own_loss.end(), small.own_loss.begin(), small.own_loss.end());
  core_.own_cost.insert(core_.own_cost.end(), small.own_cost.begin(), small.own_cost.end());
  core_.base_loss += small.base_loss;
  for (int k = 0; k < core_.resources; ++k) core_.base_used[k] += small.base_used[k];
  core_.UseOwnRows();
  NumberNodes(&core_);
}

void FrozenCore::Expand(const Core& base, std::span<const uint8_t> open_level, std::vector<uint8_t>* level) const {
  level->assign(decided_.begin(), decided_.end());
  for (int32_t j = 0; j < core_.size(); ++j) (*level)[core_.origin[j]] = open_level[j];
  for (const int32_t node : folded_) {
    const int above = (*level)[base.parent[node]];
    (*level)[node] = static_cast<uint8_t>(OnlyLevel(LevelsIn(sets_[node], ContextOf(above))));
  }
}

}  // namespace scantling::budget
