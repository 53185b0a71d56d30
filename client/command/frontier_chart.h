// A small chart for the terminal: what a shot loses over what may be spent on it.

#ifndef SCANTLING_CLIENT_COMMAND_FRONTIER_CHART_H_
#define SCANTLING_CLIENT_COMMAND_FRONTIER_CHART_H_

#include <string>
#include <vector>

namespace scantling::client {

struct BudgetMark {
  double budget = 0;  // hours, 0 or more
  bool fits = true;   // whether a plan fits it; else there is no loss
  double loss = 0;    // frame-octaves, 0 or more
  bool is_knee = false;
};

struct FrontierChartSize {
  int columns = 64;
  int rows = 12;  // at least 2
};

// Lines of text, each ended by a line break. Budgets grow to the right, evenly; loss grows upwards from 0, evenly in
// its cube root.
//   o  a plan            @  the plan at the knee       x  no plan fits (on the axis)
//   .  no plan was asked for there; the next tighter plan fits and loses so much
// Marks in any order; what is not finite is left out. Empty where fewer than two budgets differ or none is fitted.
// `unit` stands under the axis. O(marks log marks + columns * rows); pure; thread-safe.
std::string FrontierChart(std::vector<BudgetMark> marks, const std::string& unit, const FrontierChartSize& size);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_FRONTIER_CHART_H_
