// Bytes -> a problem of one to six nodes, solved and held against a search of all plans. Bytes also spoil a figure here
// and there: Validate() must say so, and Solve() must refuse what it refuses.
//
// Every byte is used for one figure, in a fixed order, and zeros follow the last: small changes of the input are small
// changes of the problem, which is what a fuzzer needs to find its way.

#include <cstddef>
#include <cstdint>
#include <string>

#include "server/budget/budget.h"
#include "tests/budget/problems.h"
#include "tests/fuzz/must.h"

namespace {

using scantling::Stop;
using namespace scantling::budget;  // NOLINT: a target's own few lines

class Bytes {
 public:
  Bytes(const uint8_t* data, size_t size) : data_(data), size_(size) {}
  int Next() { return at_ < size_ ? data_[at_++] : 0; }
  int Below(int limit) { return Next() % limit; }
  // Mostly small, so that sums tie; now and then large; `scale` makes all of them larger.
  int64_t Figure(int64_t scale) {
    const int byte = Next();
    return (byte < 200 ? byte % 12 : int64_t{1} << (byte - 200)) * (byte < 200 ? scale : 1);
  }

 private:
  const uint8_t* data_;
  size_t size_, at_ = 0;
};

FixedCost FixedCostOf(const Problem& problem, int64_t scale, Bytes* bytes) {
  FixedCost fixed;
  for (int k = 0; k < problem.resources; ++k) fixed.cost.push_back(bytes->Figure(scale));
  for (int32_t i = 0; i < problem.size(); ++i) {
    const uint8_t levels = static_cast<uint8_t>(bytes->Below(16));
    if (levels != 0) fixed.users.push_back({i, levels});
  }
  if (fixed.users.empty()) fixed.users.push_back({0, 8});
  return fixed;
}

Problem ProblemOf(Bytes* bytes) {
  Problem problem;
  const int nodes = 1 + bytes->Below(6);
  problem.resources = bytes->Below(4);
  const int64_t scale = bytes->Below(4) == 0 ? 1'000'003 : 1;
  for (int i = 0; i < nodes; ++i) {
    problem.parent.push_back(bytes->Below(i + 1) - 1);
    const int mask = bytes->Next();
    problem.allowed.push_back(static_cast<uint8_t>(mask < 128 ? 15 : 1 + mask % 15));
    problem.tie.push_back(static_cast<uint64_t>(bytes->Below(4)));
    for (int level = 0; level < kLevels; ++level) {
      problem.loss.push_back(bytes->Figure(scale));
      for (int k = 0; k < problem.resources; ++k) problem.cost.push_back(bytes->Figure(scale));
    }
  }
  for (int k = 0; k < problem.resources; ++k) {
    problem.money.push_back(bytes->Below(4));
    // A keep share: leaving out is what costs.
    for (int i = 0; bytes->Below(4) == 1 && i < nodes; ++i) {
      for (int level = 1; level < kLevels; ++level) problem.cost[(i * kLevels + level) * problem.resources + k] = 0;
    }
  }
  for (int count = bytes->Below(5); count > 0; --count) problem.fixed.push_back(FixedCostOf(problem, scale, bytes));
  for (int k = 0; k < problem.resources; ++k) {
    const int percent = bytes->Next();
    problem.capacity.emplace_back();
    if (percent < 16) continue;
    int64_t most = 0;
    for (size_t row = 0; row < problem.loss.size(); ++row) most += problem.cost[row * problem.resources + k];
    problem.capacity[k] = most / 256 * percent + most % 256 * percent / 256;
  }
  return problem;
}

// Spoils one figure. False where nothing was spoilt.
bool Spoil(Bytes* bytes, Problem* problem) {
  switch (bytes->Next()) {
    case 1:
      problem->loss[0] = -1;
      return true;
    case 2:
      problem->allowed.back() = 0;
      return true;
    case 3:
      problem->allowed[0] = 16;
      return true;
    case 4:
      problem->parent[0] = static_cast<int32_t>(problem->size());
      return true;
    case 5:
      problem->parent[0] = static_cast<int32_t>(problem->size()) - 1;  // an ancestor of itself, or the root's own
      for (int32_t i = 1; i < problem->size(); ++i) problem->parent[i] = i - 1;
      return true;
    case 6:
      problem->tie.pop_back();
      return true;
    case 7:
      problem->cost.push_back(0);
      return true;
    case 8:
      problem->resources = kMaxResources + 1;
      return true;
    case 9:
      problem->loss[0] = kMaxTotal + 1;
      return true;
    case 10:
      problem->capacity.emplace_back(0);
      return true;
    default:
      break;
  }
  if (problem->fixed.empty()) return false;
  FixedCost& fixed = problem->fixed.back();
  switch (bytes->Next()) {
    case 1:
      fixed.users.clear();
      return true;
    case 2:
      fixed.users[0].levels = 0;
      return true;
    case 3:
      fixed.users[0].levels = 16;
      return true;
    case 4:
      fixed.users[0].node = static_cast<int32_t>(problem->size());
      return true;
    case 5:
      fixed.users.push_back(fixed.users[0]);
      return true;
    case 6:
      fixed.cost.push_back(1);
      return true;
    case 7:
      if (fixed.cost.empty()) return false;
      fixed.cost[0] = -1;
      return true;
    default:
      return false;
  }
}

bool Fits(const Problem& problem, const std::vector<int64_t>& used) {
  for (int k = 0; k < problem.resources; ++k) {
    if (problem.capacity[k] && used[k] > *problem.capacity[k]) return false;
  }
  return true;
}

bool IsOpen(const Problem& problem) {
  for (const auto& capacity : problem.capacity) {
    if (capacity) return false;
  }
  return true;
}

void CheckPlan(const Problem& problem, const Exhaustive& want, const Solution& got) {
  SCANTLING_MUST(want.feasible);
  SCANTLING_MUST(FollowsParents(problem, got.level));
  SCANTLING_MUST(got.loss == LossOf(problem, got.level));
  SCANTLING_MUST(got.used == UseOf(problem, got.level));
  SCANTLING_MUST(problem.fixed.empty() || got.paid == PaysFor(problem, got.level));
  SCANTLING_MUST(Fits(problem, got.used));
  SCANTLING_MUST(got.bound <= want.loss);
  SCANTLING_MUST(got.loss >= want.loss);
  SCANTLING_MUST(static_cast<int>(got.price.size()) == problem.resources);
}

void CheckSolved(const Problem& problem) {
  const Exhaustive want = SearchAll(problem);
  Effort effort;
  effort.target_gap = 0;
  const absl::StatusOr<Solution> got = Solve(problem, effort, Stop());
  SCANTLING_MUST(got.ok() == want.feasible);
  if (got.ok()) {
    CheckPlan(problem, want, *got);
    // The search ends at a relative gap, reckoned in doubles: beyond 2^53 a gap of a few units is none to it.
    if (want.loss < int64_t{1} << 53) {
      SCANTLING_MUST(got->loss == want.loss && got->bound == want.loss && got->proved_optimal);
    } else {
      SCANTLING_MUST(got->gap() < 1e-15);
    }
    SCANTLING_MUST(!IsOpen(problem) || got->level == want.level);  // the whole order, ties and all
  }
  effort.branch_nodes = 0;
  const absl::StatusOr<Solution> root = Solve(problem, effort, Stop());
  if (root.ok()) CheckPlan(problem, want, *root);
  const absl::StatusOr<std::vector<int64_t>> least = LeastUse(problem);
  SCANTLING_MUST(least.ok() == want.any_plan);
  SCANTLING_MUST(!least.ok() || *least == want.least_use);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  Bytes bytes(data, size);
  Problem problem = ProblemOf(&bytes);
  const bool spoilt = Spoil(&bytes, &problem);
  const absl::Status valid = Validate(problem);
  SCANTLING_MUST(!spoilt || !valid.ok());
  if (valid.ok()) {
    CheckSolved(problem);
  } else {
    SCANTLING_MUST(valid.code() == absl::StatusCode::kInvalidArgument);
    SCANTLING_MUST(Solve(problem, Effort{}, Stop()).status() == valid);
    SCANTLING_MUST(LeastUse(problem).status() == valid);
  }
  return 0;
}
