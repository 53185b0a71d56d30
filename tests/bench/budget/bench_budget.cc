// Solve() against general solvers in one run, then alone, at the sizes of the requirements.
//
//   bench_budget [SEEDS [LARGEST [CAP_S [OTHERS]]]]
//
// SEEDS instances of each kind (20), sizes up to LARGEST objects (1,000,000). CBC and GLPK, each stopped after CAP_S
// seconds (60; 0: no comparison), on the first OTHERS (SEEDS) of them; the faster of the two counts, and a ratio is "at
// least" where both were stopped. Two resources, both binding; instances as tests/budget/instances.h says. Times are
// wall clock of one thread; gaps are proved ones; memory is the growth of the process's peak over what it held with the
// problem in it.

#include <malloc.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

#include "server/budget/budget.h"
#include "tests/budget/instances.h"

namespace scantling::budget {
namespace {

constexpr double kOthersGap = 1e-4;
constexpr int64_t kVisits = 100'000;  // branch-and-bound nodes allowed; about 20 us each at 1,000 nodes

struct Run {
  double seconds = 0, gap = 0, bytes = 0;  // bytes an object
  int64_t branched = 0;
  bool solved = false, proved = false;
};

// A figure of /proc/self/status in bytes.
double StatusBytes(const std::string& name) {
  std::ifstream file("/proc/self/status");
  for (std::string word; file >> word;) {
    double kib = 0;
    if (word == name && file >> kib) return kib * 1024;
  }
  return 0;
}

Run SolveOnce(const Problem& problem, double gap) {
  Effort effort;
  effort.target_gap = gap;
  effort.branch_nodes = kVisits;
  malloc_trim(0);
  std::ofstream("/proc/self/clear_refs") << "5";  // the peak starts again from what is held now
  const double held = StatusBytes("VmRSS:");
  const auto start = std::chrono::steady_clock::now();
  const absl::StatusOr<Solution> solution = Solve(problem, effort, Stop());
  Run run;
  run.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  run.bytes = (StatusBytes("VmHWM:") - held) / static_cast<double>(problem.size());
  run.solved = solution.ok();
  if (solution.ok()) {
    run.gap = solution->gap();
    run.branched = solution->branched;
    run.proved = solution->proved_optimal;
  }
  return run;
}

double Median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

double Worst(const std::vector<double>& values) { return *std::max_element(values.begin(), values.end()); }

struct Ratio {
  double ratio = 0;
  bool at_least = false;
  std::string by;
};

Ratio AgainstOthers(const Problem& problem, double ours_s, int cap_s) {
  const OtherAnswer cbc = RunCbc(problem, kOthersGap, cap_s), glpk = RunGlpk(problem, kOthersGap, cap_s);
  const bool by_glpk = glpk.optimal && (!cbc.optimal || glpk.seconds < cbc.seconds);
  const double seconds = by_glpk || cbc.optimal ? (by_glpk ? glpk.seconds : cbc.seconds) : cap_s;
  return {seconds / ours_s, !by_glpk && !cbc.optimal, by_glpk ? "GLPK" : cbc.optimal ? "CBC" : "both stopped"};
}

void Compare(InstanceShape shape, int seeds, int cap_s) {
  std::vector<double> ratios;
  int stopped = 0, glpk = 0;
  for (int seed = 1; seed <= seeds; ++seed) {
    const Problem problem = MakeInstance(shape, seed);
    const Ratio one = AgainstOthers(problem, SolveOnce(problem, kOthersGap).seconds, cap_s);
    ratios.push_back(one.ratio);
    stopped += one.at_least ? 1 : 0;
    glpk += one.by == "GLPK" ? 1 : 0;
  }
  std::printf("%8.0fx median %8.0fx worst  %7lld objects  %-19s %d seeds, GLPK the faster %d times, both stopped %d\n",
              Median(ratios), *std::min_element(ratios.begin(), ratios.end()), static_cast<long long>(shape.nodes),
              Name(shape).c_str(), seeds, glpk, stopped);
  std::fflush(stdout);
}

void Measure(InstanceShape shape, int seeds, double gap) {
  std::vector<double> seconds, gaps, bytes;
  int proved = 0, met = 0;
  for (int seed = 1; seed <= seeds; ++seed) {
    const Run run = SolveOnce(MakeInstance(shape, seed), gap);
    if (!run.solved) std::printf("seed %d: no plan\n", seed);
    seconds.push_back(run.seconds);
    gaps.push_back(run.gap);
    bytes.push_back(run.bytes);
    proved += run.proved ? 1 : 0;
    met += run.proved || run.gap <= gap ? 1 : 0;
  }
  std::printf(
      "%8lld objects  %-19s to %.0e  median %9.2f ms worst %9.2f ms  gap median %.1e worst %.1e  met %d of %d, proved "
      "optimal %d",
      static_cast<long long>(shape.nodes), Name(shape).c_str(), gap, Median(seconds) * 1e3, Worst(seconds) * 1e3,
      Median(gaps), Worst(gaps), met, seeds, proved);
  if (shape.nodes >= 1'000'000)
    std::printf("  memory median %.0f worst %.0f bytes an object", Median(bytes), Worst(bytes));
  std::printf("\n");
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

struct Row {
  int64_t nodes;
  double gap;
  const char* wanted;
};
constexpr Row kRows[] = {{1'000, 1e-4, "100 ms"},
                         {1'000, 1e-6, "3 s, 1e-6 or proved optimal"},
                         {10'000, 1e-5, "60 ms"},
                         {100'000, 1e-6, "60 ms"},
                         {1'000'000, 1e-6, "250 ms and 150 bytes an object"}};

}  // namespace
}  // namespace scantling::budget

int main(int argc, char** argv) {
  using namespace scantling::budget;  // NOLINT: a program of its own
  const int seeds = argc > 1 ? std::max(1, std::atoi(argv[1])) : 20;
  const int64_t largest = argc > 2 ? std::atoll(argv[2]) : 1'000'000;
  const int cap_s = argc > 3 ? std::atoi(argv[3]) : 60;
  const int others = argc > 4 ? std::clamp(std::atoi(argv[4]), 1, seeds) : seeds;
  if (cap_s > 0) {
    std::printf("Ratio to the faster of CBC and GLPK at gap 1e-4, each stopped after %d s (wanted: 100x at 10,000)\n",
                cap_s);
    for (const int64_t nodes : {1'000, 10'000}) {
      if (nodes <= largest) ForEachKind(nodes, [&](const InstanceShape& shape) { Compare(shape, others, cap_s); });
    }
  }
  std::printf("Alone\n");
  for (const Row& row : kRows) {
    if (row.nodes > largest) continue;
    std::printf("wanted: %s\n", row.wanted);
    ForEachKind(row.nodes, [&](const InstanceShape& shape) { Measure(shape, seeds, row.gap); });
  }
  return 0;
}
