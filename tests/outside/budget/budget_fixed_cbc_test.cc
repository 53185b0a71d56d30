// Fixed costs against CBC, a general mixed-integer solver: 100 to 300 nodes here, with SCANTLING_LONG=1 also 1,000 and
// 2,000 nodes of several seeds, where CBC is stopped after a minute.

#include <gtest/gtest.h>

#include <cstdlib>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "server/budget/budget.h"
#include "tests/budget/fixed_instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr int kCapS = 60;  // CBC's time; the short form needs a second or two each

struct Kind {
  const char* name;
  FixedShape shape;
};

std::vector<Kind> Kinds(int64_t nodes, int64_t assets) {
  std::vector<Kind> kinds = {{"rigs", {}}, {"cycles in containers", {}}, {"memory", {}}, {"floors", {}}};
  for (Kind& kind : kinds) {
    kind.shape.base.nodes = nodes;
    kind.shape.assets = assets;
    kind.shape.fixed_percent = 60;
  }
  kinds[0].shape.base.correlation = Correlation::kWeak;
  kinds[1].shape.cycles = true;
  kinds[1].shape.base.forest = true;
  kinds[2].shape.memory = true;
  kinds[2].shape.rigs = false;
  kinds[2].shape.base.resources = 1;
  kinds[3].shape.floor_percent = 50;
  kinds[3].shape.base.percent = 60;
  return kinds;
}

void ExpectNoConflict(const Kind& kind, uint64_t seed) {
  const std::string name = absl::StrCat(kind.name, ", ", kind.shape.base.nodes, " nodes, seed ", seed);
  const Problem problem = MakeFixedInstance(kind.shape, seed);
  const absl::StatusOr<Solution> ours = Solve(problem, Effort{}, Stop());
  ASSERT_TRUE(ours.ok()) << name << ": " << ours.status();
  // So few are within the reach of both: what we find is the optimum, not only in no conflict with it.
  if (problem.size() <= 300) {
    EXPECT_LE(ours->gap(), 1e-6) << name;
  }
  EXPECT_TRUE(FollowsParents(problem, ours->level)) << name;
  EXPECT_EQ(ours->loss, LossOf(problem, ours->level)) << name;
  EXPECT_EQ(ours->used, UseOf(problem, ours->level)) << name;
  EXPECT_EQ(ours->paid, PaysFor(problem, ours->level)) << name;
  for (int k = 0; k < problem.resources; ++k) EXPECT_LE(ours->used[k], *problem.capacity[k]) << name;
  const CbcAnswer cbc = RunCbcWithFixedCosts(problem, 0, kCapS);
  ASSERT_TRUE(cbc.ran) << name << ": the program cbc is missing or failed; install coinor-cbc";
  // CBC writes eight decimals; its integrality tolerance of 1e-6 per binary may hide a loss of a unit or two among
  // losses of 1e5 each. A plan of CBC's is a plan whether it is proved best or not, so our bound may not be above it.
  EXPECT_LE(static_cast<double>(ours->bound), cbc.objective + 2) << name;
  if (!cbc.optimal) return;
  EXPECT_GE(static_cast<double>(ours->loss), cbc.objective - 2) << name;
  EXPECT_LE(static_cast<double>(ours->loss) * (1 - ours->gap()), cbc.objective + 2) << name;
  // Where our search ended within its target the two optima are the same but for that.
  if (ours->gap() <= 1e-6) {
    EXPECT_NEAR(static_cast<double>(ours->loss), cbc.objective, 1e-6 * cbc.objective + 2) << name;
  }
}

TEST(FixedCostsAgainstCbc, AHundredNodes) {
  for (const Kind& kind : Kinds(100, 8)) ExpectNoConflict(kind, 1);
}

TEST(FixedCostsAgainstCbc, ThreeHundredNodes) {
  for (const Kind& kind : Kinds(300, 20)) ExpectNoConflict(kind, 2);
}

TEST(FixedCostsAgainstCbc, InfeasibleForBoth) {
  Problem problem = MakeFixedInstance(Kinds(100, 8)[3].shape, 3);  // floors: some asset needs one of its rigs
  int64_t least = 0;                                               // of resource 0, fixed costs apart
  for (int64_t i = 0; i < problem.size(); ++i) {
    int level = 0;
    while (((problem.allowed[i] >> level) & 1) == 0) ++level;
    least += problem.cost[(i * kLevels + level) * problem.resources];
  }
  problem.capacity[0] = least;  // enough for the rows, with nothing left for a rig
  EXPECT_EQ(Solve(problem, Effort{}, Stop()).status().code(), absl::StatusCode::kFailedPrecondition);
  const CbcAnswer cbc = RunCbcWithFixedCosts(problem, 0, kCapS);
  ASSERT_TRUE(cbc.ran) << "the program cbc is missing or failed; install coinor-cbc";
  EXPECT_FALSE(cbc.optimal);
}

TEST(FixedCostsAgainstCbc, UpToTwoThousandNodes) {
  if (std::getenv("SCANTLING_LONG") == nullptr) GTEST_SKIP() << "takes several minutes; SCANTLING_LONG=1 runs it";
  for (const int64_t nodes : {1000, 2000}) {
    for (const Kind& kind : Kinds(nodes, nodes / 20)) {
      for (uint64_t seed = 1; seed <= 5; ++seed) ExpectNoConflict(kind, seed);
    }
  }
}

}  // namespace
}  // namespace scantling::budget
