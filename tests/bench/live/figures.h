// Percentiles and the rows they are printed in: the ratio to the echo first, milliseconds beside it.

#ifndef SCANTLING_TESTS_BENCH_LIVE_FIGURES_H_
#define SCANTLING_TESTS_BENCH_LIVE_FIGURES_H_

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace scantling::bench {

// Nearest rank: the least value that at least `share` of the values do not pass; 0 < share <= 1, values not empty. p99
// of fewer than a hundred values is the greatest of them.
double Percentile(std::vector<double> values, double share);

// One edit and what it took.
struct Timing {
  double first_ms = 0;    // to the first update that answers it
  double settled_ms = 0;  // to the first settled or final one
  bool was_provisional = false;
  double bytes_out = 0, bytes_first = 0, bytes_back = 0;  // sent; in the first update; in all up to the settled one
  double gap = 0;
  std::map<std::string, double> stages_ms;        // of the settled update, as the daemon tells
  double echo_first_ms = 0, echo_settled_ms = 0;  // the same bytes through the echo
};

// Most a p99 may be, ms.
struct Wanted {
  double required_ms, stretch_ms;
};

// A row to provisional, where there were such answers, one to settled, one with bytes, and the split by stage as the
// daemon tells it. `timings` not empty.
void PrintTimings(const std::string& what, const std::vector<Timing>& timings, std::optional<Wanted> first,
                  std::optional<Wanted> settled);

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_LIVE_FIGURES_H_
