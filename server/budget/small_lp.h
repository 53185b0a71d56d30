// A dense linear programme of a few dozen rows and a handful of columns.

#ifndef SCANTLING_SERVER_BUDGET_SMALL_LP_H_
#define SCANTLING_SERVER_BUDGET_SMALL_LP_H_

#include <vector>

namespace scantling::budget {

// Maximise objective . x subject to rows . x <= limit, x >= 0, every limit >= 0 (so x = 0 is a start). Figures should
// be scaled to about 1: pivots under 1e-11 are taken for zero.
struct SmallLp {
  explicit SmallLp(int columns) : objective(columns, 0.0) {}

  void AddRow(const std::vector<double>& row, double at_most) {
    rows.push_back(row);
    limit.push_back(at_most);
  }

  std::vector<double> objective;
  std::vector<std::vector<double>> rows;
  std::vector<double> limit;
};

struct SmallLpSolution {
  bool bounded = false;  // false: unbounded, or no optimum within the pivot limit; the rest is then void
  std::vector<double> x;
  std::vector<double> shadow_price;  // per row, >= 0: gain of the objective per unit of its limit
  double value = 0;
};

// Primal simplex; deterministic. O(rows * columns) per pivot.
SmallLpSolution Maximise(const SmallLp& lp);

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_SMALL_LP_H_
