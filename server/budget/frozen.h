// A frozen Core that is kept while trees of the Core it was made from change.
//
// Nothing a tree leaves behind in a compacted Core depends on any other tree: its decided nodes are summands of the
// constants, its open ones are trees of their own. So the trees that change are taken out and put in anew, and the rest
// stays as it is.

#ifndef SCANTLING_SERVER_BUDGET_FROZEN_H_
#define SCANTLING_SERVER_BUDGET_FROZEN_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/budget/core.h"

namespace scantling::budget {

// Which nodes of a Core make up a tree.
class Trees {
 public:
  Trees() = default;
  explicit Trees(const Core& core);  // O(n)

  // All nodes of the trees that `nodes` are in, each once, ascending (so parents come first). O(result log result).
  std::vector<int32_t> Whole(std::span<const int32_t> nodes) const;
  int32_t SizeOf(int32_t node) const;  // of the node's tree
  int32_t RootOf(int32_t node) const { return root_.empty() ? node : root_[node]; }

 private:
  std::vector<int32_t> root_;   // per node; empty where every node is a tree
  std::vector<int32_t> first_;  // per node that is a root: where its tree starts in nodes_, -1 for others
  std::vector<int32_t> count_;  // per node that is a root: nodes in its tree
  std::vector<int32_t> nodes_;  // by tree, ascending in each
};

// A Core of some whole trees of `core`: rows copied, sets as they are there, origin the nodes of `core`. `nodes` as
// Trees::Whole gives them.
Core PartOf(const Core& core, std::span<const int32_t> nodes);

class FrozenCore {
 public:
  // Compacts `base` to `sets` (pruned and reached, a subset of its own). O(n * K).
  void Build(const Core& base, std::vector<uint8_t> sets);

  // Takes whole trees out; `base` still has the rows they were put in with. O(nodes + open nodes).
  void TakeOut(const Core& base, std::span<const int32_t> nodes);

  // Puts the trees of `part` (PartOf the base) in, compacted to `sets`. Same cost.
  void PutIn(const Core& part, std::span<const uint8_t> sets);

  // What is left open; its origin is nodes of the base.
  const Core& core() const { return core_; }
  const std::vector<uint8_t>& sets() const { return sets_; }  // per node of the base

  // The plan of the base that a plan of core() stands for. A copy of n bytes, and O(nodes not decided).
  void Expand(const Core& base, std::span<const uint8_t> open_level, std::vector<uint8_t>* level) const;

 private:
  void NoteNode(int32_t node, uint8_t set, bool kept);

  std::vector<uint8_t> sets_;
  std::vector<uint8_t> decided_;  // per node of the base: its level where it has only one
  std::vector<int32_t> folded_;   // nodes of the base whose level follows from their parent's, parents first
  std::vector<uint8_t> out_;      // per node of the base: being taken out; all zero between calls
  Core core_;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FROZEN_H_
