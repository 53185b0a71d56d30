// Validation: everything the passes take for granted is checked here, once.
//
// Sizes first, for the other checks index by them; then every figure, all faults gathered (the first kListed are
// spelt out, the rest counted); then totals. A total is the sum over nodes of a node's largest row, allowed or not,
// summed in 128 bits, so no plan can exceed it and no sum of a plan can overflow.

#include <algorithm>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "server/budget/budget.h"
#include "server/budget/core.h"

namespace scantling::budget {
namespace {

constexpr size_t kListed = 20;  // faults spelt out; more are only counted

class Faults {
 public:
  void Add(std::string fault) {
    ++count_;
    if (listed_.size() < kListed) listed_.push_back(std::move(fault));
  }
  bool empty() const { return count_ == 0; }
  absl::Status ToStatus() const {
    if (empty()) return absl::OkStatus();
    std::string text = absl::StrJoin(listed_, "; ");
    if (count_ > listed_.size()) absl::StrAppend(&text, "; and ", count_ - listed_.size(), " more");
    return absl::InvalidArgumentError(text);
  }

 private:
  size_t count_ = 0;
  std::vector<std::string> listed_;
};

void CheckSizes(const Problem& p, Faults* faults) {
  const auto check = [&](const char* name, size_t got, int64_t want) {
    if (static_cast<int64_t>(got) != want) faults->Add(absl::StrCat(name, ": got ", got, " entries, want ", want));
  };
  const int64_t n = p.size();
  check("allowed", p.allowed.size(), n);
  check("tie", p.tie.size(), n);
  check("loss", p.loss.size(), n * kLevels);
  check("cost", p.cost.size(), n * kLevels * p.resources);
  check("capacity", p.capacity.size(), p.resources);
  check("money", p.money.size(), p.resources);
}

void CheckTree(const Problem& p, Faults* faults) {
  const int64_t n = p.size();
  bool in_range = true;
  for (int64_t i = 0; i < n; ++i) {
    if (p.parent[i] >= -1 && p.parent[i] < n) continue;
    in_range = false;
    faults->Add(absl::StrCat("parent[", i, "]: got ", p.parent[i], ", want -1 or a node below ", n));
  }
  if (!in_range) return;
  int64_t on_cycle;
  Depths(p.parent, &on_cycle);
  if (on_cycle >= 0) faults->Add(absl::StrCat("parent: node ", on_cycle, " is its own ancestor, want a forest"));
}

void CheckFigures(const Problem& p, Faults* faults) {
  for (int64_t i = 0; i < p.size(); ++i) {
    if (p.allowed[i] == 0 || p.allowed[i] > 15) {
      faults->Add(absl::StrCat("allowed[", i, "]: got ", int{p.allowed[i]}, ", want 1 to 15"));
    }
    for (int level = 0; level < kLevels; ++level) {
      const int64_t row = i * kLevels + level;
      if (p.loss[row] < 0) {
        faults->Add(absl::StrCat("loss of node ", i, " level ", level, ": got ", p.loss[row], ", want 0 or more"));
      }
      for (int k = 0; k < p.resources; ++k) {
        const int64_t cost = p.cost[row * p.resources + k];
        if (cost >= 0) continue;
        faults->Add(
            absl::StrCat("cost of node ", i, " level ", level, " resource ", k, ": got ", cost, ", want 0 or more"));
      }
    }
  }
  for (int k = 0; k < p.resources; ++k) {
    if (p.capacity[k] && *p.capacity[k] < 0) {
      faults->Add(absl::StrCat("capacity[", k, "]: got ", *p.capacity[k], ", want 0 or more"));
    }
    if (p.money[k] < 0) faults->Add(absl::StrCat("money[", k, "]: got ", p.money[k], ", want 0 or more"));
  }
}

void CheckUsers(const Problem& p, size_t number, Faults* faults) {
  const FixedCost& fixed = p.fixed[number];
  const std::string name = absl::StrCat("fixed[", number, "].users");
  if (fixed.users.empty()) faults->Add(absl::StrCat(name, ": got none, want at least one"));
  std::vector<int32_t> nodes;
  for (size_t u = 0; u < fixed.users.size(); ++u) {
    const FixedCost::User& user = fixed.users[u];
    if (user.node < 0 || user.node >= p.size()) {
      faults->Add(absl::StrCat(name, "[", u, "]: got node ", user.node, ", want 0 to ", p.size() - 1));
    }
    if (user.levels == 0 || user.levels > 15) {
      faults->Add(absl::StrCat(name, "[", u, "]: got levels ", int{user.levels}, ", want 1 to 15"));
    }
    nodes.push_back(user.node);
  }
  std::sort(nodes.begin(), nodes.end());
  const auto twice = std::adjacent_find(nodes.begin(), nodes.end());
  if (twice != nodes.end()) faults->Add(absl::StrCat(name, ": got node ", *twice, " twice, want each node once"));
}

void CheckFixed(const Problem& p, Faults* faults) {
  for (size_t i = 0; i < p.fixed.size(); ++i) {
    const std::vector<int64_t>& cost = p.fixed[i].cost;
    if (cost.size() != static_cast<size_t>(p.resources)) {
      faults->Add(absl::StrCat("fixed[", i, "].cost: got ", cost.size(), " entries, want ", p.resources));
    }
    for (size_t k = 0; k < cost.size(); ++k) {
      if (cost[k] < 0) faults->Add(absl::StrCat("fixed[", i, "].cost[", k, "]: got ", cost[k], ", want 0 or more"));
    }
    CheckUsers(p, i, faults);
  }
}

// Sum over nodes of the largest of a column's figures, `step` apart starting at `first`.
Wide LargestTotal(const std::vector<int64_t>& column, int64_t nodes, int64_t first, int64_t step) {
  Wide total = 0;
  const int64_t* figure = column.data() + first;
  for (int64_t i = 0; i < nodes; ++i, figure += kLevels * step) {
    total += std::max({figure[0], figure[step], figure[2 * step], figure[3 * step]});
  }
  return total;
}

void CheckTotals(const Problem& p, Faults* faults) {
  const auto too_much = [faults](const std::string& name) {
    faults->Add(absl::StrCat(name, ": the largest total exceeds 2^61, want coarser units"));
  };
  if (p.size() == 0) return;
  if (LargestTotal(p.loss, p.size(), 0, 1) > kMaxTotal) too_much("loss");
  Wide money = 0;
  for (int k = 0; k < p.resources; ++k) {
    Wide total = LargestTotal(p.cost, p.size(), k, p.resources);
    for (const FixedCost& fixed : p.fixed) total += fixed.cost[k];
    if (total > kMaxTotal) {
      too_much(absl::StrCat("cost of resource ", k));
      return;  // the money of an oversized total could overflow itself
    }
    money += total * p.money[k];
    if (money > kMaxTotal) {
      too_much(absl::StrCat("money up to resource ", k));
      return;
    }
  }
}

}  // namespace

absl::Status Validate(const Problem& problem) {
  Faults faults;
  if (problem.resources < 0 || problem.resources > kMaxResources) {
    faults.Add(absl::StrCat("resources: got ", problem.resources, ", want 0 to ", kMaxResources));
    return faults.ToStatus();
  }
  CheckSizes(problem, &faults);
  if (!faults.empty()) return faults.ToStatus();
  CheckTree(problem, &faults);
  CheckFigures(problem, &faults);
  CheckFixed(problem, &faults);
  if (faults.empty()) CheckTotals(problem, &faults);
  return faults.ToStatus();
}

}  // namespace scantling::budget
