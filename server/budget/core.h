// The working form of a problem: nodes in an order where parents come first, and what each may still take.
//
// Everything after validation works on a Core. The first Core is the problem itself (its rows are not copied where the
// caller's order already has parents first); later ones are smaller problems in which decided nodes became constants
// and nodes whose level follows from their parent's were folded into the parent's rows.
//
// A node's context is what its parent's level leaves it: free (no parent, or parent at 2 or 3), capped (parent at 1:
// levels 1 and 0) or bare (parent at 0: level 0). The levels open in each context are held in one byte, `sets`.
//
// Thread safety: plain values; concurrent reads are safe.

#ifndef SCANTLING_SERVER_BUDGET_CORE_H_
#define SCANTLING_SERVER_BUDGET_CORE_H_

#include <array>
#include <bit>
#include <cstdint>
#include <span>
#include <vector>

#include "server/budget/budget.h"

namespace scantling::budget {

// Holds loss_weight * loss + price . cost of a whole plan: 2^60 * 2^61 * (1 + kMaxResources) < 2^126.
using Wide = __int128;

inline constexpr int64_t kMaxWeight = int64_t{1} << 60;

enum Context : int { kFree = 0, kCapped = 1, kBare = 2 };
inline constexpr int kContexts = 3;

constexpr int ContextOf(int parent_level) { return parent_level >= 2 ? kFree : parent_level == 1 ? kCapped : kBare; }

// bits 0-3: levels open when free; bits 4-5: when capped; bit 6: level 0 open when bare; bit 7: no parent, no children.
inline constexpr uint8_t kLone = 0x80;
constexpr uint8_t LevelsIn(uint8_t set, int context) {
  return context == kFree ? set & 15 : context == kCapped ? (set >> 4) & 3 : (set >> 6) & 1;
}
constexpr uint8_t AnyLevels(uint8_t set) { return (set & 15) | ((set >> 4) & 3) | ((set >> 6) & 1); }
constexpr uint8_t PackSets(int free, int capped, int bare) {
  return static_cast<uint8_t>(free | (capped << 4) | (bare << 6));
}
// The levels of `mask` in every context.
constexpr uint8_t SpreadMask(uint8_t mask) { return PackSets(mask & 15, mask & 3, mask & 1); }
constexpr bool IsSingle(uint8_t mask) { return std::has_single_bit(mask); }
constexpr int OnlyLevel(uint8_t mask) { return mask == 0 ? 0 : std::countr_zero(mask); }

// A well-mixed hash of a number, for choices that must be the same in every run.
// Source: Steele, Lea & Flood 2014, Fast splittable pseudorandom number generators, finaliser of SplitMix64.
constexpr uint64_t Mix(uint64_t x) {
  x += 0x9e3779b97f4a7c15ull;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ull;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebull;
  return x ^ (x >> 31);
}

using PerResource = std::array<int64_t, kMaxResources>;

struct Core {
  Core() = default;
  Core(Core&&) = default;
  Core& operator=(Core&&) = default;

  int resources = 0;
  std::vector<int32_t> parent;    // -1: root; parent[i] < i
  std::vector<uint8_t> sets;      // per node, see above
  std::span<const int64_t> loss;  // [node * kLevels + level]
  std::span<const int64_t> cost;  // [(node * kLevels + level) * resources + k]
  std::vector<int32_t> origin;    // per node: its index in the Core or Problem it came from; empty: the same index
  bool has_trees = false;         // any node with a parent
  std::vector<int32_t> slot;      // per node: its number among the nodes with children, -1 without; empty without trees
  int32_t slots = 0;              // nodes with children: passes keep their buffers for these alone

  // What decided nodes add to every plan.
  int64_t base_loss = 0;
  PerResource base_used{};

  std::vector<int64_t> own_loss, own_cost;  // behind the spans, where the rows are not the caller's

  int32_t size() const { return static_cast<int32_t>(parent.size()); }
  const int64_t* LossRow(int32_t node) const { return loss.data() + int64_t{node} * kLevels; }
  const int64_t* CostRow(int32_t node, int level) const {
    return cost.data() + (int64_t{node} * kLevels + level) * resources;
  }
  // Points the spans at the own rows.
  void UseOwnRows() {
    loss = own_loss;
    cost = own_cost;
  }
};

// Depth of each node (roots 0), or empty with *on_cycle set to a node that is its own ancestor. Parents must be in
// [-1, n). O(n), no recursion.
std::vector<int32_t> Depths(std::span<const int32_t> parent, int64_t* on_cycle);

// The problem as a Core, its masks as given and not yet pruned. The Core's rows may point into `problem`, which must
// outlive it. O(n * K) where rows must be put in order, else O(n).
Core CoreOf(const Problem& problem);

// Removes options that alone exceed a capacity: no plan within the capacities takes them. O(n * K).
void RemoveOversized(const std::vector<std::optional<int64_t>>& capacity, Core* core);

// Removes options that some descendant cannot follow. False where a root is left without any. O(n).
bool PruneSets(std::span<const int32_t> parent, std::span<uint8_t> sets);

// Empties the sets of contexts no plan can bring about. Call after PruneSets. O(n).
void ReachSets(std::span<const int32_t> parent, std::span<uint8_t> sets);

// Sets has_trees, slots and the kLone bits from the parents. O(n).
void NumberNodes(Core* core);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_CORE_H_
