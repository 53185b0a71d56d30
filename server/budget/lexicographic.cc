// The best plan where no capacity binds, ties settled to the last.
//
// The same bottom-up pass with a key of three sums (loss, money, sum of levels) in place of one price. Least keys add
// up over disjoint subtrees, so the pass is exact. Where two options of a node agree in all three sums the plans
// themselves are compared: of the nodes on which they differ the one of smallest (tie, index) decides, and the plan
// that gives it the lower level wins. That order, too, is kept when the same nodes are added to both plans, so it may
// be settled subtree by subtree. Such a tie needs a child whose free choice differs from its capped one in the sums, so
// it is rare.

#include <tuple>

#include "server/budget/tree_pass.h"

namespace scantling::budget {
namespace {

constexpr int32_t kStopEvery = 1 << 15;  // nodes between two looks at the stop

struct Key {
  int64_t loss = 0, money = 0, levels = 0;
  Key& operator+=(const Key& other) {
    loss += other.loss;
    money += other.money;
    levels += other.levels;
    return *this;
  }
  friend auto operator<=>(const Key&, const Key&) = default;
};

class Lexicographic {
 public:
  Lexicographic(const Core& core, const Problem& problem) : core_(core), problem_(problem) {}

  bool Run(const Stop& stop, std::vector<uint8_t>* level) {
    level->resize(core_.size());
    if (core_.has_trees) {
      below_.resize(int64_t{core_.slots} * kContexts);
      choice_.resize(core_.size());
    }
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      if (i % kStopEvery == 0 && stop.Requested()) return false;
      if ((core_.sets[i] & kLone) != 0) {
        (*level)[i] = static_cast<uint8_t>(Best(i, LevelsIn(core_.sets[i], kFree)));
      } else {
        Settle(i);
      }
    }
    for (int32_t i = 0; i < core_.size(); ++i) {
      if ((core_.sets[i] & kLone) != 0) continue;
      const int context = core_.parent[i] < 0 ? kFree : ContextOf((*level)[core_.parent[i]]);
      (*level)[i] = static_cast<uint8_t>(ChoiceIn(choice_[i], context));
    }
    return true;
  }

 private:
  Key KeyOf(int32_t node, int level) const {
    Key key = {core_.LossRow(node)[level], 0, level};
    const int64_t* cost = core_.CostRow(node, level);
    for (int k = 0; k < core_.resources; ++k) key.money += problem_.money[k] * cost[k];
    if (HasChildren(node)) key += below_[int64_t{core_.slot[node]} * kContexts + ContextOf(level)];
    return key;
  }

  int Best(int32_t node, int mask) {
    int best = -1;
    Key best_key;
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0) continue;
      const Key key = KeyOf(node, level);
      if (best < 0 || key < best_key || (key == best_key && TieGoesTo(node, level, best))) {
        best = level;
        best_key = key;
      }
    }
    return best;
  }

  void Settle(int32_t node) {
    const uint8_t set = core_.sets[node];
    uint8_t choice = 0;
    for (int context = 0; context < kContexts; ++context) {
      const int mask = LevelsIn(set, context);
      if (mask == 0) continue;
      const int best = Best(node, mask);
      choice |= static_cast<uint8_t>(best << (context == kFree ? 0 : 2));
      const int32_t above = core_.parent[node];
      if (above >= 0) below_[int64_t{core_.slot[above]} * kContexts + context] += KeyOf(node, best);
    }
    choice_[node] = choice;
  }

  bool HasChildren(int32_t node) const { return (core_.sets[node] & kLone) == 0 && core_.slot[node] >= 0; }

  // Only a tie of whole plans asks for children, and most problems have none.
  void LinkChildren() {
    if (!first_child_.empty()) return;
    first_child_.assign(core_.size(), -1);
    next_sibling_.assign(core_.size(), -1);
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      if (core_.parent[i] < 0) continue;
      next_sibling_[i] = first_child_[core_.parent[i]];
      first_child_[core_.parent[i]] = i;
    }
  }

  // Whether of two plans of the subtree that agree in all sums the one with `node` at `level` comes before the one with
  // it at `other`. Walks both plans together, only where they differ.
  bool TieGoesTo(int32_t node, int level, int other) {
    std::pair<uint64_t, int32_t> decider = OrderOf(node);
    bool wins = level < other;
    if (!HasChildren(node) || ContextOf(level) == ContextOf(other)) return wins;
    LinkChildren();
    std::vector<std::tuple<int32_t, int, int>> open = {{node, level, other}};
    while (!open.empty()) {
      const auto [at, ours, theirs] = open.back();
      open.pop_back();
      if (ours != theirs && OrderOf(at) < decider) {
        decider = OrderOf(at);
        wins = ours < theirs;
      }
      const int our_context = ContextOf(ours), their_context = ContextOf(theirs);
      if (our_context == their_context) continue;
      for (int32_t child = first_child_[at]; child >= 0; child = next_sibling_[child]) {
        open.emplace_back(child, ChoiceIn(choice_[child], our_context), ChoiceIn(choice_[child], their_context));
      }
    }
    return wins;
  }

  std::pair<uint64_t, int32_t> OrderOf(int32_t node) const {
    const int32_t from = core_.origin.empty() ? node : core_.origin[node];
    return {problem_.tie[from], from};
  }

  const Core& core_;
  const Problem& problem_;
  std::vector<Key> below_;
  std::vector<uint8_t> choice_;
  std::vector<int32_t> first_child_, next_sibling_;
};

}  // namespace

bool LexicographicPass(const Core& core, const Problem& problem, const Stop& stop, std::vector<uint8_t>* level) {
  return Lexicographic(core, problem).Run(stop, level);
}

}  // namespace scantling::budget
