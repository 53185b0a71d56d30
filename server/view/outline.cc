// Covered: between two horizontal lines the left border of a convex outline is convex and the right one concave, so a
// cell lies inside along the whole height of its row if it does at the row's two lines.
//
// Touched: the outline is cut to the band between the two lines; its least and greatest u there are at corners of the
// cut outline, which are corners inside the band and crossings of edges with the lines.

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

OutlineRows::Interval OutlineRows::Height(int32_t row) const {
  return {std::max(grid_.line_px(row), upper_px_), std::min(grid_.line_px(row + 1), lower_px_)};
}

OutlineRows::Interval OutlineRows::Middle(int32_t row) const {
  const Interval height = Height(row);
  return AtLine((height.least + height.most) / 2);
}

OutlineRows::Interval OutlineRows::AtLine(double v_px) const {
  Interval found;
  bool any = false;
  for (size_t i = 0; i < outline_.size(); ++i) {
    const PicturePoint& a = outline_[i];
    const PicturePoint& b = outline_[i + 1 == outline_.size() ? 0 : i + 1];
    // Half open, so that a corner on the line belongs to one edge; horizontal edges never cross.
    if ((a.v <= v_px) == (b.v <= v_px)) continue;
    const double u = Crossing(a, b, v_px);
    found = any ? Interval{std::min(found.least, u), std::max(found.most, u)} : Interval{u, u};
    any = true;
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
  const Interval upper = AtLine(grid_.line_px(row) - kMarginPx), lower = AtLine(grid_.line_px(row + 1) + kMarginPx);
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

}  // namespace scantling
