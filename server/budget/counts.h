// Limits on how many nodes of a kind take a level or more: what branch and bound splits on where nodes are much alike.
//
// Fixing one of a hundred like nodes changes nothing, another takes its place; "at most 40 of them, or at least 41"
// does. Such a limit is one more resource, dualised like the others.

#ifndef SCANTLING_SERVER_BUDGET_COUNTS_H_
#define SCANTLING_SERVER_BUDGET_COUNTS_H_

#include <cstdint>
#include <span>
#include <vector>

#include "server/budget/dual.h"

namespace scantling::budget {

// At most `most` nodes of the kind take `level` or more; where `below` is set: a lower level.
struct CountLimit {
  int32_t kind = 0;
  int level = 1;
  bool below = false;
  int64_t most = 0;

  bool SameAs(const CountLimit& other) const {
    return kind == other.kind && level == other.level && below == other.below;
  }
};

class Kinds {
 public:
  // Kind 0 holds every node, the others those of equal cost rows, at least kLeastAlike of them and the largest
  // kMostKinds of such kinds. O(n log n * K).
  explicit Kinds(const Core& core);

  int32_t size() const { return kinds_; }
  // Number of nodes of the kind.
  int64_t nodes(int32_t kind) const { return nodes_[kind]; }
  // No price on a count above this can be of use: no node's loss changes by more, in units of loss.
  int64_t most_loss(int32_t kind) const { return most_loss_[kind]; }
  // counts[kind * kLevels + level]: nodes of the kind at that level or above, `share` added for each. O(n).
  void Count(std::span<const uint8_t> level, double share, std::vector<double>* counts) const;

  // `core` with one more resource per limit, its sets as given. A node counts `unit` to a limit. O(n * K).
  Core WithLimits(const Core& core, std::span<const CountLimit> limits, int64_t unit) const;
  // What the plan uses of a limit's resource.
  int64_t Use(const CountLimit& limit, std::span<const uint8_t> level) const;

 private:
  bool Counts(const CountLimit& limit, int64_t node, int level) const {
    return (limit.kind == 0 || kind_[node] == limit.kind) && (limit.below ? level < limit.level : level >= limit.level);
  }

  int32_t kinds_ = 1;
  std::vector<int32_t> kind_;  // per node: its kind beside 0; 0: none
  std::vector<int64_t> nodes_, most_loss_;
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_COUNTS_H_
