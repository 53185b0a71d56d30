// The solver against CBC in one run, then alone at four sizes.
//
//   bench_budget [SEEDS [LARGEST [CBC_CAP_S]]]
//
// SEEDS instances of each kind (3), sizes up to LARGEST objects (1,000,000), CBC stopped after CBC_CAP_S seconds (60;
// 0: no comparison). Two resources, both binding; instances as tests/budget/instances.h says. Times are wall clock of
// one thread, median and worst over the seeds; gaps are proved ones.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "server/budget/budget.h"
#include "tests/budget/instances.h"

namespace scantling::budget {
namespace {

struct Run {
  double seconds = 0, gap = 0;
  int64_t branched = 0;
  bool solved = false;
};

Run SolveOnce(const Problem& problem, double gap) {
  Effort effort;
  effort.target_gap = gap;
  const auto start = std::chrono::steady_clock::now();
  const absl::StatusOr<Solution> solution = Solve(problem, effort, Stop());
  Run run;
  run.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  run.solved = solution.ok();
  if (solution.ok()) {
    run.gap = solution->gap();
    run.branched = solution->branched;
  }
  return run;
}

double Median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

void Compare(InstanceShape shape, int seeds, int cap_s) {
  constexpr double kGap = 1e-4;
  for (int seed = 1; seed <= seeds; ++seed) {
    const Problem problem = MakeInstance(shape, seed);
    const Run ours = SolveOnce(problem, kGap);
    const CbcAnswer cbc = RunCbc(problem, kGap, cap_s);
    std::printf("%8.0fx %s  %7lld objects  %-19s seed %d  ours %8.2f ms gap %.1e   CBC %8.2f s%s\n",
                cbc.seconds / ours.seconds, cbc.optimal ? "faster  " : "at least", static_cast<long long>(shape.nodes),
                Name(shape).c_str(), seed, ours.seconds * 1e3, ours.gap, cbc.seconds,
                !cbc.ran      ? " (CBC gave no answer)"
                : cbc.optimal ? ""
                              : " (capped)");
    std::fflush(stdout);
  }
}

void Measure(InstanceShape shape, int seeds, double gap) {
  std::vector<double> seconds, gaps, branched;
  for (int seed = 1; seed <= seeds; ++seed) {
    const Run run = SolveOnce(MakeInstance(shape, seed), gap);
    if (!run.solved) std::printf("seed %d: no plan\n", seed);
    seconds.push_back(run.seconds);
    gaps.push_back(run.gap);
    branched.push_back(static_cast<double>(run.branched));
  }
  std::printf(
      "%8lld objects  %-19s target %.0e  median %9.2f ms  worst %9.2f ms   gap median %.1e worst %.1e  nodes %.0f\n",
      static_cast<long long>(shape.nodes), Name(shape).c_str(), gap, Median(seconds) * 1e3,
      *std::max_element(seconds.begin(), seconds.end()) * 1e3, Median(gaps),
      *std::max_element(gaps.begin(), gaps.end()), Median(branched));
  std::fflush(stdout);
}

template <typename Do>
void ForEachKind(int64_t nodes, Do each) {
  for (const bool forest : {false, true}) {
    for (const Correlation correlation : {Correlation::kNone, Correlation::kWeak, Correlation::kStrong}) {
      InstanceShape shape;
      shape.nodes = nodes;
      shape.correlation = correlation;
      shape.forest = forest;
      each(shape);
    }
  }
}

}  // namespace
}  // namespace scantling::budget

int main(int argc, char** argv) {
  using namespace scantling::budget;  // NOLINT: a program of its own
  const int seeds = argc > 1 ? std::max(1, std::atoi(argv[1])) : 3;
  const int64_t largest = argc > 2 ? std::atoll(argv[2]) : 1'000'000;
  const int cap_s = argc > 3 ? std::atoi(argv[3]) : 60;
  if (cap_s > 0) {
    std::printf("Ratio to CBC at gap 1e-4, CBC capped at %d s\n", cap_s);
    for (const int64_t nodes : {1'000, 10'000}) {
      if (nodes <= largest) ForEachKind(nodes, [&](const InstanceShape& shape) { Compare(shape, seeds, cap_s); });
    }
  }
  std::printf("Alone\n");
  for (const int64_t nodes : {1'000, 10'000, 100'000, 1'000'000}) {
    if (nodes > largest) continue;
    for (const double gap :
         nodes == 1'000 ? std::vector<double>{1e-4, 1e-6} : std::vector<double>{nodes == 10'000 ? 1e-5 : 1e-6}) {
      ForEachKind(nodes, [&](const InstanceShape& shape) { Measure(shape, seeds, gap); });
    }
  }
  return 0;
}
