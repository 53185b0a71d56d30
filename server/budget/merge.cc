// A state is what a partial plan uses of the limited resources, its loss, and a record of how it came about.
//
// Bottom-up: a node's list in a context is, for each level open there, the level's row added to the merged lists of the
// children in the context the level makes. Roots' lists are merged into one another, alike ones in a row so that equal
// use is met early. A state goes where its priced loss exceeds the least of its list by more than the window (whatever
// else the plan does, it pays that much over the bound), where even the least use of the trees to come exceeds a
// capacity, and where even their greatest leaves so much unused that the price of the rest exceeds the window.
// Source: the lists of Nemhauser & Ullmann 1969, Discrete dynamic programming and capital allocation, Management
// Science 15(9), 494-505, with bounds.

#include "server/budget/merge.h"

#include <algorithm>
#include <array>
#include <tuple>
#include <utility>
#include <vector>

namespace scantling::budget {
namespace {

constexpr int kMostLimited = 4;
constexpr int64_t kMostRecords = 4'000'000;  // 32 MB
constexpr int64_t kJudgeAfter = 30'000;  // states after which it shows whether nodes are alike: then of two states that
constexpr int64_t kMetInTen = 1;         // differ in one alike node one meets an equal; one in ten is asked for
constexpr int64_t kStopEvery = 1 << 14;  // states between two looks at the stop

using Use = std::array<int64_t, kMostLimited>;

struct State {
  Use used{};
  int64_t loss = 0;
  int32_t record = -1;
};

// Two records joined, or a node at a level (first = -2 - node); -1: nothing.
struct Record {
  int32_t first, second;
};

using List = std::vector<State>;

class Merger {
 public:
  Merger(const Core& core, const Capacities& capacity, const Prices& prices, Wide window, int64_t most,
         const Stop& stop)
      : core_(core), capacity_(capacity), prices_(prices), window_(window), most_(most), stop_(stop) {
    for (int k = 0; k < core.resources; ++k) {
      if (capacity[k]) limited_.push_back(k);
    }
  }

  MergeResult Run() {
    MergeResult result;
    if (limited_.size() <= kMostLimited && Trees() && Chain()) {
      result.finished = true;
      result.best = Read();
    }
    result.made = made_;
    return result;
  }

 private:
  Wide PriceOf(const State& state) const {
    Wide price = Wide{prices_.loss_weight} * state.loss;
    for (size_t j = 0; j < limited_.size(); ++j) price += Wide{prices_.per_unit[limited_[j]]} * state.used[j];
    return price;
  }

  Wide LeastPrice(const List& list) const {
    Wide least = PriceOf(list.front());
    for (const State& state : list) least = std::min(least, PriceOf(state));
    return least;
  }

  // What trees still to come use at the least and at the most; unknown inside a tree.
  struct ToCome {
    Use least{}, most{};
  };

  bool Hopeless(const State& state, Wide excess, const ToCome* to_come) const {
    if (excess > window_) return true;
    if (to_come == nullptr) return false;
    for (size_t j = 0; j < limited_.size(); ++j) {
      const int64_t room = *capacity_[limited_[j]] - state.used[j];
      if (to_come->least[j] > room) return true;
      if (room > to_come->most[j]) excess += Wide{prices_.per_unit[limited_[j]]} * (room - to_come->most[j]);
    }
    return excess > window_;
  }

  // Every sum of one state of each list that is not hopeless, one per use; false where a limit came first.
  // `least` is the sum of the lists' least prices before any state was dropped.
  bool Merge(const List& a, const List& b, Wide least, const ToCome* to_come, List* merged) {
    merged->clear();
    if (a.empty() || b.empty()) return true;
    std::vector<Wide> price_b;
    for (const State& state : b) price_b.push_back(PriceOf(state));
    table_.assign(1024, -1);
    for (const State& one : a) {
      const Wide over = PriceOf(one) - least;
      for (size_t i = 0; i < b.size(); ++i) {
        if (over + price_b[i] > window_) continue;
        State sum = one;
        for (size_t j = 0; j < limited_.size(); ++j) sum.used[j] += b[i].used[j];
        sum.loss += b[i].loss;
        if (Hopeless(sum, over + price_b[i], to_come)) continue;
        if (!Enter(sum, {one.record, b[i].record}, merged)) return false;
      }
    }
    return true;
  }

  static uint64_t HashOf(const Use& used) {
    uint64_t hash = 0;
    for (const int64_t figure : used) hash = Mix(hash ^ static_cast<uint64_t>(figure));
    return hash;
  }

  // Puts the state into the list unless one of the same use and no more loss is there.
  bool Enter(State state, Record record, List* list) {
    if (++made_ > most_ || static_cast<int64_t>(records_.size()) >= kMostRecords) return false;
    if (made_ % kStopEvery == 0 && stop_.Requested()) return false;
    if (list->size() * 2 >= table_.size()) Rehash(*list);
    size_t at = HashOf(state.used) & (table_.size() - 1);
    while (table_[at] >= 0 && (*list)[table_[at]].used != state.used) at = (at + 1) & (table_.size() - 1);
    if (table_[at] >= 0) ++met_;
    if (made_ > kJudgeAfter && met_ * 10 < made_ * kMetInTen) return false;
    if (table_[at] >= 0 && (*list)[table_[at]].loss <= state.loss) return true;
    state.record = static_cast<int32_t>(records_.size());
    records_.push_back(record);
    if (table_[at] >= 0) {
      (*list)[table_[at]] = state;
      return true;
    }
    table_[at] = static_cast<int32_t>(list->size());
    list->push_back(state);
    return true;
  }

  void Rehash(const List& list) {
    table_.assign(table_.size() * 4, -1);
    for (size_t i = 0; i < list.size(); ++i) {
      size_t at = HashOf(list[i].used) & (table_.size() - 1);
      while (table_[at] >= 0) at = (at + 1) & (table_.size() - 1);
      table_[at] = static_cast<int32_t>(i);
    }
  }

  // The lists of all roots, in roots_; base first.
  bool Trees() {
    std::vector<std::array<List, kContexts>> below(core_.slots);  // per node with children: their lists merged
    for (auto& lists : below) {
      for (List& list : lists) list = {State{}};
    }
    State base;
    base.loss = core_.base_loss;
    for (size_t j = 0; j < limited_.size(); ++j) base.used[j] = core_.base_used[limited_[j]];
    roots_.push_back({base});
    for (int32_t i = core_.size() - 1; i >= 0; --i) {
      std::array<List, kContexts>* own = core_.has_trees && core_.slot[i] >= 0 ? &below[core_.slot[i]] : nullptr;
      const int32_t above = core_.parent[i];
      if (above < 0) roots_.emplace_back();
      for (int context = 0; context < (above < 0 ? 1 : kContexts); ++context) {
        List list;
        if (!ListOf(i, LevelsIn(core_.sets[i], context), own, &list)) return false;
        if (above < 0) {
          roots_.back() = std::move(list);
          continue;
        }
        List& siblings = below[core_.slot[above]][context];
        List merged;
        if (siblings.empty() || list.empty()) {
          siblings.clear();
          continue;
        }
        const Wide least = LeastPrice(siblings) + LeastPrice(list);
        if (!Merge(siblings, list, least, nullptr, &merged)) return false;
        siblings = std::move(merged);
      }
      if (own != nullptr) *own = {};
    }
    return true;
  }

  bool ListOf(int32_t node, int mask, const std::array<List, kContexts>* below, List* list) {
    List all;
    const List none = {State{}};
    for (int level = 0; level < kLevels; ++level) {
      if (((mask >> level) & 1) == 0) continue;
      const int32_t own = static_cast<int32_t>(records_.size());
      records_.push_back({-2 - node, level});
      for (State state : below == nullptr ? none : (*below)[ContextOf(level)]) {
        state.loss += core_.LossRow(node)[level];
        const int64_t* cost = core_.CostRow(node, level);
        for (size_t j = 0; j < limited_.size(); ++j) state.used[j] += cost[limited_[j]];
        if (state.record < 0) {
          state.record = own;
        } else {
          records_.push_back({own, state.record});
          state.record = static_cast<int32_t>(records_.size()) - 1;
        }
        all.push_back(state);
        if (++made_ > most_) return false;
      }
    }
    if (all.empty()) return true;
    const Wide least = LeastPrice(all);
    for (const State& state : all) {
      if (PriceOf(state) - least <= window_) list->push_back(state);
    }
    return true;
  }

  // Merges the roots' lists, alike ones in a row.
  bool Chain() {
    std::stable_sort(roots_.begin() + 1, roots_.end(), [](const List& a, const List& b) {
      return std::lexicographical_compare(a.begin(), a.end(), b.begin(), b.end(),
                                          [](const State& x, const State& y) { return x.used < y.used; });
    });
    if (roots_.size() == 1) roots_.push_back({State{}});  // so that the only plan, too, is held against the window
    std::vector<ToCome> to_come(roots_.size() + 1);
    for (size_t r = roots_.size(); r-- > 0;) to_come[r] = With(to_come[r + 1], roots_[r]);
    all_ = roots_[0];
    Wide least = LeastPrice(all_);
    for (size_t r = 1; r < roots_.size(); ++r) {
      least += LeastPrice(roots_[r]);
      List merged;
      if (!Merge(all_, roots_[r], least, &to_come[r + 1], &merged)) return false;
      all_ = std::move(merged);
    }
    return true;
  }

  ToCome With(ToCome to_come, const List& list) const {
    if (list.empty()) return to_come;
    for (size_t j = 0; j < limited_.size(); ++j) {
      const auto by_use = [j](const State& a, const State& b) { return a.used[j] < b.used[j]; };
      const auto [least, most] = std::minmax_element(list.begin(), list.end(), by_use);
      to_come.least[j] += least->used[j];
      to_come.most[j] += most->used[j];
    }
    return to_come;
  }

  std::optional<Plan> Read() const {
    const State* best = nullptr;
    for (const State& state : all_) {
      bool fits = true;
      for (size_t j = 0; j < limited_.size(); ++j) fits = fits && state.used[j] <= *capacity_[limited_[j]];
      if (fits && (best == nullptr || std::tie(state.loss, state.used) < std::tie(best->loss, best->used))) {
        best = &state;
      }
    }
    if (best == nullptr) return std::nullopt;
    Plan plan;
    plan.level.assign(core_.size(), 0);
    std::vector<int32_t> open = {best->record};
    while (!open.empty()) {
      const int32_t at = open.back();
      open.pop_back();
      if (at < 0) continue;
      const Record record = records_[at];
      if (record.first < -1) {
        plan.level[-2 - record.first] = static_cast<uint8_t>(record.second);
        continue;
      }
      open.push_back(record.first);
      open.push_back(record.second);
    }
    plan.outcome = Total(core_, plan.level);
    return plan;
  }

  const Core& core_;
  const Capacities& capacity_;
  const Prices& prices_;
  const Wide window_;
  const int64_t most_;
  const Stop& stop_;
  std::vector<int> limited_;
  std::vector<Record> records_;
  std::vector<List> roots_;
  std::vector<int32_t> table_;  // of the list being made: by hash of use, -1: free
  List all_;
  int64_t made_ = 0, met_ = 0;  // states made; those that met one of equal use
};

}  // namespace

MergeResult MergeLists(const Core& core, const Capacities& capacity, const Prices& prices, Wide window, int64_t most,
                       const Stop& stop) {
  return Merger(core, capacity, prices, window, most, stop).Run();
}

}  // namespace scantling::budget
