// What is saved by not starting from scratch: warm solves and a frontier against fresh solves of the same run.
//
//   bench_warm [SEEDS [NODES]]
//
// SEEDS instances of each kind (20; 3 with BENCH_SHORT=1), of NODES nodes (100,000). Two resources, both binding;
// instances as tests/budget/instances.h says. Times are wall clock of one thread; gaps are proved ones.
//
// Warm: 100 nodes get the rows of 100 nodes of another instance, target gap 1e-6, five times over on one solver; the
// last changed problem is solved afresh as well. Frontier: 64 points, both capacities together in even steps, the
// middles of 64 parts of what every node at level 3 would use, target gap 2e-6; a fresh solve at four of the points,
// times 16, is what 64 fresh solves are taken to last. Strongly correlated frontiers take half a minute each: two
// seeds, none with BENCH_SHORT=1.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <numeric>
#include <string>
#include <vector>

#include "server/budget/frontier.h"
#include "server/budget/warm.h"
#include "tests/budget/instances.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr int kChanged = 100, kSeries = 5;
constexpr int kPoints = 64, kFreshPoints = 4;
constexpr double kWarmGap = 1e-6, kFrontierGap = 2e-6;

class Clock {
 public:
  double Ms() const { return std::chrono::duration<double, std::milli>(Now() - start_).count(); }

 private:
  static std::chrono::steady_clock::time_point Now() { return std::chrono::steady_clock::now(); }
  std::chrono::steady_clock::time_point start_ = Now();
};

double Median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

double Worst(const std::vector<double>& values) { return *std::max_element(values.begin(), values.end()); }

// Figures of one measure over the seeds.
struct Figures {
  std::vector<double> ratio, ms, fresh_ms, gap, fresh_gap;
  int missed = 0, answers = 0;  // answers whose gap is above the target
};

void Print(const std::string& what, const Figures& f, double target) {
  std::printf(
      "%7.1fx median %7.1fx worst  %-28s %8.2f ms median %8.2f worst  fresh %8.2f median  gap %.1e median %.1e worst "
      "(fresh %.1e)  %d of %d above %.0e\n",
      Median(f.ratio), *std::min_element(f.ratio.begin(), f.ratio.end()), what.c_str(), Median(f.ms), Worst(f.ms),
      Median(f.fresh_ms), Median(f.gap), Worst(f.gap), Worst(f.fresh_gap), f.missed, f.answers, target);
  std::fflush(stdout);
}

std::vector<RowChange> Changes(const Problem& problem, const Problem& other, Draw* draw) {
  std::vector<RowChange> changes;
  const int64_t stride = problem.size() / kChanged, row = int64_t{kLevels} * problem.resources;
  for (int c = 0; c < kChanged; ++c) {
    RowChange change;
    change.node = static_cast<int32_t>(c * stride + draw->Below(stride));
    change.allowed = problem.allowed[change.node];
    const int64_t from = draw->Below(other.size());
    std::copy_n(other.loss.begin() + from * kLevels, kLevels, change.loss.begin());
    change.cost.assign(other.cost.begin() + from * row, other.cost.begin() + (from + 1) * row);
    changes.push_back(std::move(change));
  }
  return changes;
}

void Note(double gap, double target, Figures* figures) {
  figures->gap.push_back(gap);
  ++figures->answers;
  if (gap > target) ++figures->missed;
}

void MeasureWarm(const InstanceShape& shape, uint64_t seed, Figures* figures) {
  const Effort effort = {.target_gap = kWarmGap};
  const Problem other = MakeInstance(shape, seed + 1'000);
  absl::StatusOr<WarmSolver> warm = WarmSolver::Start(MakeInstance(shape, seed), effort, Stop());
  if (!warm.ok()) return;
  Draw draw(seed);
  std::vector<double> ms;
  for (int step = 0; step < kSeries; ++step) {
    const std::vector<RowChange> changes = Changes(warm->problem(), other, &draw);
    const Clock clock;
    const absl::Status status = warm->Resolve(changes, warm->problem().capacity, Stop());
    ms.push_back(clock.Ms());
    if (status.ok()) Note(warm->solution().gap(), kWarmGap, figures);
  }
  const Clock clock;
  const absl::StatusOr<Solution> fresh = Solve(warm->problem(), effort, Stop());
  figures->fresh_ms.push_back(clock.Ms());
  figures->fresh_gap.push_back(fresh.ok() ? fresh->gap() : 1);
  figures->ratio.push_back(figures->fresh_ms.back() / Median(ms));
  figures->ms.insert(figures->ms.end(), ms.begin(), ms.end());
}

void MeasureFrontier(const InstanceShape& shape, uint64_t seed, Figures* figures) {
  const Effort effort = {.target_gap = kFrontierGap};
  Problem problem = MakeInstance(shape, seed);
  std::vector<CapacityPoint> points;
  for (int p = 0; p < kPoints; ++p) {
    CapacityPoint point;
    for (const auto& capacity : problem.capacity) {
      point.push_back(*capacity / shape.percent * 100 / (2 * kPoints) * (2 * (kPoints - p) - 1));
    }
    points.push_back(point);
  }
  std::vector<double> gaps;
  const Clock clock;
  const absl::Status status =
      TraceFrontier(problem, points, effort, Stop(), [&](int64_t, const absl::StatusOr<Solution>& solution) {
        if (solution.ok()) gaps.push_back(solution->gap());
        return true;
      });
  figures->ms.push_back(clock.Ms());
  if (!status.ok()) std::printf("seed %d: %s\n", static_cast<int>(seed), status.ToString().c_str());
  for (const double gap : gaps) Note(gap, kFrontierGap, figures);
  double fresh_ms = 0;
  for (int f = 0; f < kFreshPoints; ++f) {
    problem.capacity = points[kPoints / kFreshPoints * f + kPoints / kFreshPoints / 2];
    const Clock fresh;
    const absl::StatusOr<Solution> solution = Solve(problem, effort, Stop());
    fresh_ms += fresh.Ms();
    figures->fresh_gap.push_back(solution.ok() ? solution->gap() : 1);
  }
  figures->fresh_ms.push_back(fresh_ms / kFreshPoints * kPoints);
  figures->ratio.push_back(figures->fresh_ms.back() / figures->ms.back());
}

template <typename Measure>
void ForEachKind(int64_t nodes, int seeds, int strong_seeds, double target, Measure measure) {
  for (const Correlation correlation : {Correlation::kNone, Correlation::kWeak, Correlation::kStrong}) {
    for (const bool forest : {false, true}) {
      InstanceShape shape;
      shape.nodes = nodes;
      shape.correlation = correlation;
      shape.forest = forest;
      Figures figures;
      const int most = correlation == Correlation::kStrong ? strong_seeds : seeds;
      for (int seed = 1; seed <= most; ++seed) measure(shape, static_cast<uint64_t>(seed), &figures);
      if (!figures.ratio.empty() && !figures.gap.empty()) Print(Name(shape), figures, target);
    }
  }
}

}  // namespace
}  // namespace scantling::budget

int main(int argc, char** argv) {
  using namespace scantling::budget;  // NOLINT: a program of its own
  const char* brief = std::getenv("BENCH_SHORT");
  const bool is_short = brief != nullptr && std::string(brief) == "1";
  const int seeds = argc > 1 ? std::max(1, std::atoi(argv[1])) : is_short ? 3 : 20;
  const int64_t nodes = argc > 2 ? std::max<int64_t>(kChanged, std::atoll(argv[2])) : 100'000;
  std::printf("Fresh solve over warm solve: %d of %lld nodes changed, %d times a seed, %d seeds\n", kChanged,
              static_cast<long long>(nodes), kSeries, seeds);
  ForEachKind(nodes, seeds, seeds, kWarmGap, MeasureWarm);
  const int sweeps = is_short ? 1 : seeds;
  std::printf("%d fresh solves (%d of them run, times %d) over a frontier of %d points at %lld nodes, %d seeds\n",
              kPoints, kFreshPoints, kPoints / kFreshPoints, kPoints, static_cast<long long>(nodes), sweeps);
  const int strong = is_short ? 0 : std::min(sweeps, 2);
  ForEachKind(nodes, sweeps, strong, kFrontierGap, MeasureFrontier);
  return 0;
}
