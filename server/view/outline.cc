// Covered: between two horizontal lines the left border of a convex outline is convex and the right one concave, so a
// cell lies inside along the whole height of its row if it does at the row's two lines.
//
// Touched: the outline is cut to the band between the two lines; its least and greatest u there are at corners of the
// cut outline, which are corners inside the band and crossings of edges with the lines.

// All rows at once: every line between two rows is crossed by two edges, so each edge is followed along its own rows.
// What it reaches a margin above and below a line is taken for both rows there, but no more than the edge's own reach;
// corners go to the rows they lie in, within the margin. That is at least what Touched gives.

#include "server/view/outline.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace scantling {
namespace {

// A ten thousandth of a pixel: far above the rounding of double at any place a picture has, far below a cell.
constexpr double kMarginPx = 1e-4;

double Turn(const PicturePoint& a, const PicturePoint& b, const PicturePoint& c) {
  return (b.u - a.u) * (c.v - a.v) - (b.v - a.v) * (c.u - a.u);
}

// Half a hull: of points sorted by u, those at which it keeps turning one way.
void AddChain(std::span<const PicturePoint> sorted, Outline& hull) {
  const size_t first = hull.size();
  for (const PicturePoint& point : sorted) {
    while (hull.size() >= first + 2 && Turn(hull[hull.size() - 2], hull.back(), point) <= 0) hull.pop_back();
    hull.push_back(point);
  }
  hull.pop_back();  // the next half begins there
}

double Crossing(const PicturePoint& a, const PicturePoint& b, double v_px) {
  return a.u + (b.u - a.u) * ((v_px - a.v) / (b.v - a.v));
}

int32_t Clamped(double cell, int32_t most) {
  return static_cast<int32_t>(std::clamp(cell, 0.0, static_cast<double>(most)));
}

}  // namespace

Outline HullOf(std::span<const PicturePoint> points) {
  std::vector<PicturePoint> sorted(points.begin(), points.end());
  std::sort(sorted.begin(), sorted.end(),
            [](const PicturePoint& a, const PicturePoint& b) { return a.u < b.u || (a.u == b.u && a.v < b.v); });
  const auto same = [](const PicturePoint& a, const PicturePoint& b) { return a.u == b.u && a.v == b.v; };
  sorted.erase(std::unique(sorted.begin(), sorted.end(), same), sorted.end());
  if (sorted.size() < 3) return sorted;
  Outline hull;
  hull.reserve(sorted.size() + 2);
  AddChain(sorted, hull);
  std::reverse(sorted.begin(), sorted.end());
  AddChain(sorted, hull);
  return hull;
}

OutlineRows::OutlineRows(const Outline& outline, const CellGrid& grid) : outline_(outline), grid_(grid) {
  if (outline.empty()) return;
  upper_px_ = lower_px_ = outline[0].v;
  for (const PicturePoint& corner : outline) {
    upper_px_ = std::min(upper_px_, corner.v);
    lower_px_ = std::max(lower_px_, corner.v);
  }
  begin_ = Clamped(std::floor((upper_px_ - kMarginPx - grid.top_px) / grid.cell_px), grid.rows);
  end_ = Clamped(std::floor((lower_px_ + kMarginPx - grid.top_px) / grid.cell_px) + 1, grid.rows);
}

OutlineRows::Interval OutlineRows::AtLine(double v_px) const {
  Interval found;
  int crossed = 0;  // a convex outline crosses a line twice
  for (size_t i = 0; i < outline_.size() && crossed < 2; ++i) {
    const PicturePoint& a = outline_[i];
    const PicturePoint& b = outline_[i + 1 == outline_.size() ? 0 : i + 1];
    // Half open, so that a corner on the line belongs to one edge; horizontal edges never cross.
    if ((a.v <= v_px) == (b.v <= v_px)) continue;
    const double u = Crossing(a, b, v_px);
    found = crossed > 0 ? Interval{std::min(found.least, u), std::max(found.most, u)} : Interval{u, u};
    ++crossed;
  }
  return found;
}

OutlineRows::Interval OutlineRows::InBand(double upper_px, double lower_px) const {
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  Interval found = {kInfinity, -kInfinity};
  const auto take = [&](double u) {
    found.least = std::min(found.least, u);
    found.most = std::max(found.most, u);
  };
  for (size_t i = 0; i < outline_.size(); ++i) {
    const PicturePoint& a = outline_[i];
    const PicturePoint& b = outline_[i + 1 == outline_.size() ? 0 : i + 1];
    if (a.v >= upper_px && a.v <= lower_px) take(a.u);
    for (const double line : {upper_px, lower_px}) {
      if ((a.v < line) != (b.v < line)) take(Crossing(a, b, line));
    }
  }
  return found;
}

CellRun OutlineRows::Covered(int32_t row) const {
  if (outline_.size() < 3) return {};
  const double upper_px = grid_.line_px(row) - kMarginPx, lower_px = grid_.line_px(row + 1) + kMarginPx;
  if (upper_px < upper_px_ || lower_px > lower_px_) return {};
  const Interval upper = AtLine(upper_px), lower = AtLine(lower_px);
  if (upper.most < upper.least || lower.most < lower.least) return {};
  const double left = std::max(upper.least, lower.least) + kMarginPx;
  const double right = std::min(upper.most, lower.most) - kMarginPx;
  return {Clamped(std::ceil((left - grid_.left_px) / grid_.cell_px), grid_.columns),
          Clamped(std::floor((right - grid_.left_px) / grid_.cell_px), grid_.columns)};
}

CellRun OutlineRows::Touched(int32_t row) const {
  const Interval band = InBand(grid_.line_px(row) - kMarginPx, grid_.line_px(row + 1) + kMarginPx);
  if (!(band.least <= band.most)) return {};
  return {Clamped(std::floor((band.least - kMarginPx - grid_.left_px) / grid_.cell_px), grid_.columns),
          Clamped(std::floor((band.most + kMarginPx - grid_.left_px) / grid_.cell_px) + 1, grid_.columns)};
}

void OutlineSpans::AddCorner(const PicturePoint& corner, const CellGrid& grid) {
  const int32_t last = first + static_cast<int32_t>(spans.size()) - 1;
  const auto row_of = [&](double v) { return std::clamp((v - grid.top_px) / grid.cell_px, first - 1.0, last + 1.0); };
  const auto begin = static_cast<int32_t>(std::floor(row_of(corner.v - kMarginPx)));
  const auto end = static_cast<int32_t>(std::floor(row_of(corner.v + kMarginPx)));
  for (int32_t row = std::max(begin, first); row <= std::min(end, last); ++row) {
    RowSpan& span = spans[static_cast<size_t>(row - first)];
    span.touched_least = std::min(span.touched_least, corner.u);
    span.touched_most = std::max(span.touched_most, corner.u);
  }
}

void OutlineSpans::AddEdge(const PicturePoint& upper, const PicturePoint& lower, const CellGrid& grid,
                           const Reach& reach) {
  const double high = lower.v - upper.v;
  if (high < 1e-9) return;  // far within the margin: its corners say all
  const double slope = (lower.u - upper.u) / high, spread = std::abs(slope) * kMarginPx;
  const double least = std::min(upper.u, lower.u), most = std::max(upper.u, lower.u);
  const auto count = static_cast<int32_t>(spans.size());
  const auto row_of = [&](double v) {
    return static_cast<int32_t>(std::floor(std::clamp((v - grid.top_px) / grid.cell_px, -1.0, grid.rows + 1.0)));
  };
  const int32_t begin = std::max(row_of(upper.v - kMarginPx) - first, 0);
  const int32_t end = std::min(row_of(lower.v + kMarginPx) - first, count - 1);
  for (int32_t k = begin; k <= end; ++k) {
    RowSpan& span = spans[static_cast<size_t>(k)];
    const double top = grid.line_px(first + k), bottom = top + grid.cell_px;
    const double middle = (std::max(top, reach.upper_px) + std::min(bottom, reach.lower_px)) / 2;
    if (upper.v <= middle && middle < lower.v) {
      const double u = upper.u + (middle - upper.v) * slope;
      span.middle_least = std::min(span.middle_least, u);
      span.middle_most = std::max(span.middle_most, u);
    }
    if (lower.v + kMarginPx < bottom || upper.v - kMarginPx > bottom) continue;
    const double u = upper.u + (bottom - upper.v) * slope;
    const double left = std::max(u - spread, least), right = std::min(u + spread, most);
    for (int32_t both = k; both <= std::min(k + 1, count - 1); ++both) {
      RowSpan& touched = spans[static_cast<size_t>(both)];
      touched.touched_least = std::min(touched.touched_least, left);
      touched.touched_most = std::max(touched.touched_most, right);
    }
  }
  const double top = grid.line_px(first);  // the line above the first row
  if (begin > 0 || lower.v + kMarginPx < top || upper.v - kMarginPx > top || count == 0) return;
  const double u = upper.u + (top - upper.v) * slope;
  spans[0].touched_least = std::min(spans[0].touched_least, std::max(u - spread, least));
  spans[0].touched_most = std::max(spans[0].touched_most, std::min(u + spread, most));
}

void OutlineSpans::Find(const Outline& outline, const CellGrid& grid) {
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  const OutlineRows rows(outline, grid);
  first = rows.begin();
  spans.assign(static_cast<size_t>(std::max(rows.end() - rows.begin(), 0)),
               {0, kInfinity, -kInfinity, kInfinity, -kInfinity});
  if (spans.empty()) return;
  Reach reach{kInfinity, -kInfinity};
  for (const PicturePoint& corner : outline) {
    reach.upper_px = std::min(reach.upper_px, corner.v);
    reach.lower_px = std::max(reach.lower_px, corner.v);
  }
  for (size_t k = 0; k < spans.size(); ++k) {
    const double top = grid.line_px(first + static_cast<int32_t>(k));
    spans[k].high = std::max(0.0, std::min(top + grid.cell_px, reach.lower_px) - std::max(top, reach.upper_px));
  }
  for (size_t i = 0; i < outline.size(); ++i) {
    const PicturePoint &a = outline[i], &b = outline[i + 1 == outline.size() ? 0 : i + 1];
    AddCorner(a, grid);
    a.v <= b.v ? AddEdge(a, b, grid, reach) : AddEdge(b, a, grid, reach);
  }
}

CellRun OutlineSpans::Cells(const RowSpan& span, const CellGrid& grid) const {
  if (!(span.touched_least <= span.touched_most)) return {};
  return {Clamped(std::floor((span.touched_least - kMarginPx - grid.left_px) / grid.cell_px), grid.columns),
          Clamped(std::floor((span.touched_most + kMarginPx - grid.left_px) / grid.cell_px) + 1, grid.columns)};
}

}  // namespace scantling
