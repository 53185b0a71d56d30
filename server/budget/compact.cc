// Compaction and its inverse.
//
// Every node becomes one of three things. Decided: it has one level whatever its context; its row goes into the
// constants and its children start new trees. Folded: its level follows from its parent's and so do all its
// descendants' (or they are decided); its rows are added to the rows of the nearest kept ancestor, the anchor. Kept:
// the rest. `map` holds for a folded node its level for each context the anchor can make, two bits each.

#include "server/budget/compact.h"

#include <algorithm>

namespace scantling::budget {
namespace {

enum Fate : uint8_t { kDecided, kFolded, kKept };

std::vector<uint8_t> FatesOf(std::span<const int32_t> parent, std::span<const uint8_t> sets) {
  std::vector<uint8_t> fate(parent.size());
  std::vector<uint8_t> has_kept_child(parent.size(), 0);
  for (int64_t i = static_cast<int64_t>(parent.size()) - 1; i >= 0; --i) {
    const uint8_t set = sets[i];
    if (IsSingle(AnyLevels(set))) {
      fate[i] = kDecided;
      continue;
    }
    const bool follows = std::popcount(LevelsIn(set, kFree)) <= 1 && std::popcount(LevelsIn(set, kCapped)) <= 1;
    fate[i] = follows && !has_kept_child[i] ? kFolded : kKept;
    if (fate[i] == kKept && parent[i] >= 0) has_kept_child[parent[i]] = 1;
  }
  return fate;
}

int FollowedLevel(uint8_t set, int parent_level) { return OnlyLevel(LevelsIn(set, ContextOf(parent_level))); }

uint8_t MapOf(uint8_t set, const int (&parent_level)[kContexts]) {
  uint8_t map = 0;
  for (int c = 0; c < kContexts; ++c) map |= static_cast<uint8_t>(FollowedLevel(set, parent_level[c]) << (2 * c));
  return map;
}

class Compactor {
 public:
  Compactor(const Core& core, std::span<const uint8_t> sets)
      : core_(core), sets_(sets), fate_(FatesOf(core.parent, sets)), place_(core.size(), -1), map_(core.size(), 0) {}

  Core Run() {
    small_.resources = core_.resources;
    small_.base_loss = core_.base_loss;
    small_.base_used = core_.base_used;
    Reserve();
    for (int32_t i = 0; i < core_.size(); ++i) {
      if (fate_[i] == kDecided) {
        AddConstant(i, OnlyLevel(AnyLevels(sets_[i])));
      } else if (fate_[i] == kKept) {
        Keep(i);
      } else {
        Fold(i);
      }
    }
    small_.UseOwnRows();
    NumberNodes(&small_);
    return std::move(small_);
  }

 private:
  void Reserve() {
    const int64_t kept = std::count(fate_.begin(), fate_.end(), kKept);
    small_.parent.reserve(kept);
    small_.sets.reserve(kept);
    small_.origin.reserve(kept);
    small_.own_loss.reserve(kept * kLevels);
    small_.own_cost.reserve(kept * kLevels * core_.resources);
  }

  void AddConstant(int32_t node, int level) {
    small_.base_loss += core_.LossRow(node)[level];
    const int64_t* cost = core_.CostRow(node, level);
    for (int k = 0; k < core_.resources; ++k) small_.base_used[k] += cost[k];
  }

  void Keep(int32_t node) {
    place_[node] = small_.size();
    const int32_t above = core_.parent[node];
    uint8_t set = sets_[node] & static_cast<uint8_t>(~kLone);
    if (above < 0 || fate_[above] == kDecided) {
      // The context is certain; the node becomes a root whose free set is what that context leaves.
      const int context = above < 0 ? kFree : ContextOf(OnlyLevel(AnyLevels(sets_[above])));
      set = LevelsIn(set, context);
      small_.parent.push_back(-1);
    } else {
      small_.parent.push_back(place_[above]);
    }
    small_.sets.push_back(set);
    small_.origin.push_back(node);
    const int64_t* loss = core_.LossRow(node);
    const int64_t* cost = core_.CostRow(node, 0);
    small_.own_loss.insert(small_.own_loss.end(), loss, loss + kLevels);
    small_.own_cost.insert(small_.own_cost.end(), cost, cost + int64_t{kLevels} * core_.resources);
  }

  void Fold(int32_t node) {
    const int32_t above = core_.parent[node];
    int parent_level[kContexts] = {kLevels - 1, 1, 0};
    if (fate_[above] == kFolded) {
      for (int c = 0; c < kContexts; ++c) parent_level[c] = (map_[above] >> (2 * c)) & 3;
    }
    map_[node] = MapOf(sets_[node], parent_level);
    place_[node] = place_[above];
    const int anchor_levels = AnyLevels(small_.sets[place_[node]]);
    for (int level = 0; level < kLevels; ++level) {
      if (((anchor_levels >> level) & 1) == 0) continue;
      const int own = (map_[node] >> (2 * ContextOf(level))) & 3;
      const int64_t row = int64_t{place_[node]} * kLevels + level;
      small_.own_loss[row] += core_.LossRow(node)[own];
      const int64_t* cost = core_.CostRow(node, own);
      for (int k = 0; k < core_.resources; ++k) small_.own_cost[row * core_.resources + k] += cost[k];
    }
  }

  const Core& core_;
  std::span<const uint8_t> sets_;
  std::vector<uint8_t> fate_;
  std::vector<int32_t> place_;  // kept: index in the small Core; folded: its anchor's
  std::vector<uint8_t> map_;
  Core small_;
};

}  // namespace

Core Compact(const Core& core, std::span<const uint8_t> sets) { return Compactor(core, sets).Run(); }

std::vector<uint8_t> Expand(const Core& core, std::span<const uint8_t> sets, const Core& small,
                            std::span<const uint8_t> small_level) {
  constexpr uint8_t kOpen = 255;
  std::vector<uint8_t> level(core.size(), kOpen);
  for (int32_t j = 0; j < small.size(); ++j) level[small.origin[j]] = small_level[j];
  for (int32_t i = 0; i < core.size(); ++i) {
    if (level[i] != kOpen) continue;
    const uint8_t any = AnyLevels(sets[i]);
    const bool decided = IsSingle(any) || core.parent[i] < 0;
    level[i] = static_cast<uint8_t>(decided ? OnlyLevel(any) : FollowedLevel(sets[i], level[core.parent[i]]));
  }
  return level;
}

}  // namespace scantling::budget
