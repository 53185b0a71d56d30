// Idea: gather frames into columns, map the logarithm of a size to a row, draw two marks a column.
//
// The scale is logarithmic because the eye's question is one of ratio: how many octaves over the floor.

#include "client/command/chart.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>

#include "absl/strings/str_cat.h"

namespace scantling::client {
namespace {

constexpr int kLabelColumns = 9;

struct Scale {
  double least = std::numeric_limits<double>::infinity();
  double largest = 0;

  void Include(double value) {
    if (!(value > 0) || !std::isfinite(value)) return;
    least = std::min(least, value);
    largest = std::max(largest, value);
  }
  bool empty() const { return largest == 0; }
  // Row 0 at the top; -1: not on the chart.
  int RowOf(double value, int rows) const {
    if (!(value > 0) || !std::isfinite(value)) return -1;
    if (largest == least) return rows / 2;
    const double share = std::log(value / least) / std::log(largest / least);
    return static_cast<int>(std::lround((1 - share) * (rows - 1)));
  }
  double ValueOf(int row, int rows) const {
    const double share = rows > 1 ? 1 - static_cast<double>(row) / (rows - 1) : 1;
    return largest == least ? largest : least * std::pow(largest / least, share);
  }
};

// One point per column: the seen frame with the largest height of those drawn together.
std::vector<ChartPoint> Gathered(const std::vector<ChartPoint>& points, int columns) {
  const size_t count = std::min(points.size(), static_cast<size_t>(std::max(1, columns)));
  std::vector<ChartPoint> out(count);
  for (size_t i = 0; i < points.size(); ++i) {
    ChartPoint& column = out[i * count / points.size()];
    const bool is_better = !column.seen || points[i].height_px > column.height_px;
    if (points[i].seen && is_better) column = points[i];
  }
  return out;
}

std::string Label(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%*.*f ", kLabelColumns - 1, value < 10 ? 2 : 0, value);
  return text;
}

void Mark(std::vector<std::string>& grid, int row, size_t column, char mark) {
  if (row < 0) return;
  char& cell = grid[static_cast<size_t>(row)][column];
  cell = cell == ' ' ? mark : '#';
}

}  // namespace

std::string VisibleRow(const std::vector<ChartPoint>& points, const ChartSize& size) {
  const size_t count = std::min(points.size(), static_cast<size_t>(std::max(1, size.columns)));
  std::vector<const ChartPoint*> best(count, nullptr);
  for (size_t i = 0; i < points.size(); ++i) {
    const ChartPoint*& column = best[i * count / points.size()];
    const auto rank = [](const ChartPoint& p) { return p.replaced ? -1 : p.in_frame ? 1 + p.visible_fraction : 0; };
    if (column == nullptr || rank(points[i]) > rank(*column)) column = &points[i];
  }
  std::string row;
  for (const ChartPoint* point : best) {
    const double share = point->visible_fraction;
    if (point->replaced) {
      row += '/';
    } else if (!point->in_frame) {
      row += ' ';
    } else if (!(share > 0)) {
      row += 'x';
    } else {
      row +=
          share >= 0.995 ? '#' : static_cast<char>('0' + std::clamp(static_cast<int>(std::lround(share * 10)), 1, 9));
    }
  }
  return row;
}

std::string HeightChart(const std::vector<ChartPoint>& points, const ChartSize& size) {
  const std::vector<ChartPoint> columns = Gathered(points, size.columns);
  Scale scale;
  for (const ChartPoint& point : columns) {
    if (!point.seen) continue;
    scale.Include(point.height_px);
    scale.Include(point.floor_px);
  }
  if (scale.empty()) return "";
  const int rows = scale.largest == scale.least ? 1 : std::max(2, size.rows);
  std::vector<std::string> grid(static_cast<size_t>(rows), std::string(columns.size(), ' '));
  for (size_t i = 0; i < columns.size(); ++i) {
    if (!columns[i].seen) continue;
    Mark(grid, scale.RowOf(columns[i].floor_px, rows), i, '-');
    Mark(grid, scale.RowOf(columns[i].height_px, rows), i, '*');
  }
  std::string out = absl::StrCat(std::string(kLabelColumns - 3, ' '), "px   * height   - floor   # both\n");
  for (int row = 0; row < rows; ++row) {
    std::string line = Label(scale.ValueOf(row, rows)) + "|" + grid[static_cast<size_t>(row)];
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + "\n";
  }
  const std::string first = absl::StrCat(points.front().frame), last = absl::StrCat(points.back().frame);
  const size_t between = columns.size() > first.size() + last.size() ? columns.size() - first.size() - last.size() : 1;
  out += std::string(kLabelColumns, ' ') + "+" + std::string(columns.size(), '-') + "\n";
  out += std::string(kLabelColumns + 1, ' ') + first + std::string(between, ' ') + last + "\n";
  const std::string visible = VisibleRow(points, size);
  if (visible.find_first_not_of("# ") != std::string::npos) {
    std::string line = " visible |" + visible;
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + "\n" + std::string(kLabelColumns - 3, ' ') +
           "# all of it   1-9 tenths   x hidden   / a drawing stands for it\n";
  }
  return out;
}

}  // namespace scantling::client
