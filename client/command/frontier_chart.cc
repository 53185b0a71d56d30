// Idea: a plan that fits a budget fits every larger one, so between two plans the tighter one's loss is reached for
// certain. The chart shows just that: plans as marks, and dots to the right of each until the next plan. No line is
// drawn through the marks, for nothing is known to lie on it.
//
// The upward scale is the cube root of the loss. What a shot loses grows so steeply towards the tight end that on an
// even scale all plans but two or three lie on the bottom line (demonstration shot, 32 budgets: 471 frame-octaves at
// the tight end, 26 at a third of the budget); a logarithm has no place for no loss at all.

#include "client/command/frontier_chart.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "client/command/units.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr int kLabelColumns = 10;

// Even steps from `least` to `most`, 0 to steps - 1.
int StepOf(double value, double least, double most, int steps) {
  return most > least ? static_cast<int>(std::lround((value - least) / (most - least) * (steps - 1))) : 0;
}

std::string RightIn(const std::string& text, int columns) {
  return std::string(static_cast<size_t>(std::max(0, columns - static_cast<int>(text.size()))), ' ') + text;
}

std::string TrimmedLine(std::string line) {
  line.erase(line.find_last_not_of(' ') + 1);
  return line + "\n";
}

// Both ends of the axis, with the unit between them, or behind where there is no room for it.
std::string EndsText(const std::string& least, const std::string& most, const std::string& unit, int columns) {
  const auto blanks = [](int count) { return std::string(static_cast<size_t>(std::max(1, count)), ' '); };
  const int between = columns - static_cast<int>(least.size() + most.size());
  const int room = between - ColumnsOf(unit);
  if (room < 2) return absl::StrCat(least, blanks(between), most, "  ", unit);
  return absl::StrCat(least, blanks(room / 2), unit, blanks(room - room / 2), most);
}

class Grid {
 public:
  Grid(const FrontierChartSize& size, double most_loss)
      : rows_(std::max(2, size.rows)), most_loss_(most_loss), lines_(rows_, std::string(size.columns, ' ')) {}

  void Put(int column, double loss, char mark) {
    const int up = StepOf(std::cbrt(loss), 0, std::cbrt(most_loss_), rows_);
    char& cell = lines_[static_cast<size_t>(rows_ - 1 - up)][column];
    if (mark != '.' || cell == ' ') cell = mark;
  }
  // From the top, each with its loss before it.
  std::string Text() const {
    std::string out;
    for (int row = 0; row < rows_; ++row) {
      const double share = static_cast<double>(rows_ - 1 - row) / (rows_ - 1);
      const double loss = most_loss_ * share * share * share;
      out += TrimmedLine(RightIn(Measured(loss), kLabelColumns - 1) + " |" + lines_[static_cast<size_t>(row)]);
    }
    return out;
  }

 private:
  int rows_;
  double most_loss_;
  std::vector<std::string> lines_;
};

}  // namespace

std::string FrontierChart(std::vector<BudgetMark> marks, const std::string& unit, const FrontierChartSize& size) {
  std::erase_if(marks, [](const BudgetMark& mark) { return !std::isfinite(mark.budget) || !std::isfinite(mark.loss); });
  std::stable_sort(marks.begin(), marks.end(),
                   [](const BudgetMark& a, const BudgetMark& b) { return a.budget < b.budget; });
  double most_loss = 0;
  for (const BudgetMark& mark : marks) most_loss = std::max(most_loss, mark.fits ? mark.loss : 0);
  const bool any_fits = std::any_of(marks.begin(), marks.end(), [](const BudgetMark& mark) { return mark.fits; });
  if (!any_fits || !(marks.back().budget > marks.front().budget)) return "";
  const auto column_of = [&](double budget) {
    return StepOf(budget, marks.front().budget, marks.back().budget, size.columns);
  };
  Grid grid(size, most_loss > 0 ? most_loss : 1);
  std::string axis(static_cast<size_t>(size.columns), '-');
  const BudgetMark* tighter = nullptr;
  int reached = 0;  // dots stand left of this column
  for (const BudgetMark& mark : marks) {
    const int column = column_of(mark.budget);
    for (; tighter != nullptr && reached < column; ++reached) grid.Put(reached, tighter->loss, '.');
    reached = column + 1;
    if (mark.fits) tighter = &mark;
    if (!mark.fits) axis[static_cast<size_t>(column)] = 'x';
  }
  for (const BudgetMark& mark : marks) {
    if (mark.fits && !mark.is_knee) grid.Put(column_of(mark.budget), mark.loss, 'o');
  }
  for (const BudgetMark& mark : marks) {
    if (mark.fits && mark.is_knee) grid.Put(column_of(mark.budget), mark.loss, '@');
  }
  return absl::StrCat(
      RightIn("loss", kLabelColumns - 1), "   o plan   @ knee   . surely reached   x no plan fits\n", grid.Text(),
      std::string(kLabelColumns, ' '), "+", axis, "\n", std::string(kLabelColumns + 1, ' '),
      EndsText(Measured(marks.front().budget), Measured(marks.back().budget), unit, size.columns), "\n");
}

}  // namespace scantling::client
