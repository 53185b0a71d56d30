// A ratio is taken between percentiles of one series and of its echoes: edit by edit, a single echo that was held up
// would decide.

#include "tests/bench/live/figures.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>

namespace scantling::bench {
namespace {

using Figure = std::function<double(const Timing&)>;

std::vector<double> ValuesOf(const std::vector<Timing>& timings, const Figure& figure) {
  std::vector<double> values;
  for (const Timing& timing : timings) values.push_back(figure(timing));
  return values;
}

double Median(const std::vector<Timing>& timings, const Figure& figure) {
  return Percentile(ValuesOf(timings, figure), 0.5);
}

std::string Verdict(double p99_ms, const std::optional<Wanted>& wanted) {
  if (!wanted) return "";
  const char* const word = p99_ms <= wanted->stretch_ms    ? "within the stretch"
                           : p99_ms <= wanted->required_ms ? "met"
                                                           : "MISSED";
  char text[120];
  std::snprintf(text, sizeof text, "; p99 required %.0f, stretch %.0f ms: %s", wanted->required_ms, wanted->stretch_ms,
                word);
  return text;
}

void PrintRow(const char* to, const std::vector<double>& took_ms, const std::vector<double>& echo_ms,
              const std::optional<Wanted>& wanted) {
  const double p50 = Percentile(took_ms, 0.5), p99 = Percentile(took_ms, 0.99);
  const double echo50 = Percentile(echo_ms, 0.5), echo99 = Percentile(echo_ms, 0.99);
  std::printf("%8.1f x (p99 %8.1f x)  an echo: edit to %-11s  p50 %8.2f  p99 %8.2f ms; echo %.2f, %.2f ms%s\n",
              p50 / echo50, p99 / echo99, to, p50, p99, echo50, echo99, Verdict(p99, wanted).c_str());
}

// What of the time to settled no stage accounts for: waiting, messages, and whatever the daemon does not tell of.
double UntoldOf(const Timing& timing) {
  double told_ms = 0;
  for (const auto& [stage, ms] : timing.stages_ms) told_ms += ms;
  return timing.settled_ms - told_ms;
}

// The daemon's own account of the settled updates: medians, and of the edit that took longest.
void PrintSplits(const std::vector<Timing>& timings) {
  const Timing& worst = *std::max_element(timings.begin(), timings.end(),
                                          [](const Timing& a, const Timing& b) { return a.settled_ms < b.settled_ms; });
  std::printf("    stages of settled, median (of the worst edit), ms:");
  for (const auto& [stage, ms] : worst.stages_ms) {
    const double median = Median(timings, [&stage = stage](const Timing& timing) {
      const auto found = timing.stages_ms.find(stage);
      return found == timing.stages_ms.end() ? 0 : found->second;
    });
    std::printf(" %s %.2f (%.2f),", stage.c_str(), median, ms);
  }
  std::printf(" all else %.2f (%.2f)\n", Median(timings, UntoldOf), UntoldOf(worst));
}

}  // namespace

double Percentile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  const auto rank = static_cast<size_t>(std::ceil(share * static_cast<double>(values.size())));
  return values[std::max<size_t>(rank, 1) - 1];
}

void PrintTimings(const std::string& what, const std::vector<Timing>& timings, std::optional<Wanted> first,
                  std::optional<Wanted> settled) {
  const auto value = [&](double Timing::*member) {
    return ValuesOf(timings, [member](const Timing& timing) { return timing.*member; });
  };
  const auto provisional =
      std::count_if(timings.begin(), timings.end(), [](const Timing& timing) { return timing.was_provisional; });
  std::printf("%s, %zu edits, %lld of them with a provisional answer first\n", what.c_str(), timings.size(),
              static_cast<long long>(provisional));
  // Where none had one, the settled answer was the first, and one row says it all.
  if (provisional > 0) PrintRow("provisional", value(&Timing::first_ms), value(&Timing::echo_first_ms), first);
  PrintRow("settled", value(&Timing::settled_ms), value(&Timing::echo_settled_ms), settled);
  std::printf("    medians: %.2f KB out, %.2f KB back, gap %.1e\n", Percentile(value(&Timing::bytes_out), 0.5) / 1e3,
              Percentile(value(&Timing::bytes_back), 0.5) / 1e3, Percentile(value(&Timing::gap), 0.5));
  PrintSplits(timings);
  std::fflush(stdout);
}

}  // namespace scantling::bench
