// The loops of hiding that run over many values, compiled once for every instruction set.
//
//   BoundLanes   the eight corners of every box projected in float, their least and greatest kept
//   AskLanes     the level at which a rectangle is no larger than a cell: it touches at most 2 x 2 there; their least
//                and most nearness against the object's decides most objects with eight gathered values
//   VisibleArea, AskOutline, RaiseCells, FillPyramid   rows of cells
//
// Error of a place. With u = 2^-24, D and S the sums of the absolute coordinates of centre and half-axes (kernel.cc), a
// corner's coordinate is off by less than 6 u D + 12 u S < 16 u (D + S), and so is its depth d. Divided by d the first
// is magnified by scale / d, the second moves the place by less than its distance from the projection's centre, at most
// the picture and that centre's own offset (`extent`), times 16 u (D + S) / d. In all less than
// 2^-20 (scale_u + scale_v + extent) (D + S) / d; rounding the place itself is within a hundredth of a pixel.

#include "server/view/hiding_kernel.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "server/view/hiding_kernel.cc"
// As in kernel.cc.
#define HWY_DISABLED_TARGETS (HWY_SVE | HWY_SVE2 | HWY_SVE_256 | HWY_SVE2_128 | HWY_RVV)
#include <hwy/foreach_target.h>
// After foreach_target.h, always.
#include <hwy/highway.h>

#ifndef SCANTLING_SERVER_VIEW_HIDING_KERNEL_ONCE
#define SCANTLING_SERVER_VIEW_HIDING_KERNEL_ONCE
namespace scantling {
inline constexpr double kPlaceMarginPx = 0.01;
}  // namespace scantling
#endif  // SCANTLING_SERVER_VIEW_HIDING_KERNEL_ONCE

HWY_BEFORE_NAMESPACE();
namespace scantling {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using Floats = hn::ScalableTag<float>;
using Ints = hn::RebindToSigned<Floats>;
using Doubles = hn::ScalableTag<double>;
using HalfFloats = hn::Rebind<float, Doubles>;
using VecF = hn::Vec<Floats>;
using VecI = hn::Vec<Ints>;
using VecD = hn::Vec<Doubles>;

// ---- BoundLanes

// One coordinate of the centres in camera space; depth is -z.
void RotateCentres(const BoxColumns& boxes, const CameraView& view, size_t row, float* out) {
  const Doubles d;
  const HalfFloats half;
  const double sign = row == 2 ? -1 : 1;
  const auto count = static_cast<size_t>(boxes.count);
  for (size_t i = 0; i < count; i += hn::Lanes(d)) {
    VecD sum = hn::Zero(d);
    for (size_t k = 0; k < 3; ++k) {
      const VecD from_eye = hn::Sub(hn::LoadU(d, boxes.centre_m[k] + i), hn::Set(d, view.position_m[k]));
      sum = hn::MulAdd(hn::Set(d, sign * view.world_to_camera[3 * row + k]), from_eye, sum);
    }
    hn::Store(hn::DemoteTo(half, sum), half, out + i);
  }
}

struct Coordinate {
  VecF centre, a, b, c;

  VecF Corner(size_t k) const {
    const VecF with_a = (k & 1) != 0 ? hn::Add(centre, a) : hn::Sub(centre, a);
    const VecF with_b = (k & 2) != 0 ? hn::Add(with_a, b) : hn::Sub(with_a, b);
    return (k & 4) != 0 ? hn::Add(with_b, c) : hn::Sub(with_b, c);
  }
  VecF AbsSum() const { return hn::Add(hn::Add(hn::Abs(centre), hn::Abs(a)), hn::Add(hn::Abs(b), hn::Abs(c))); }
};

HWY_INLINE Coordinate CoordinateAt(const BoxColumns& boxes, const CameraView& view, size_t row, const float* centres,
                                   size_t lane) {
  const Floats d;
  const double sign = row == 2 ? -1 : 1;
  const auto axis = [&](size_t n) HWY_ATTR {
    VecF sum = hn::Zero(d);
    for (size_t k = 0; k < 3; ++k) {
      const VecF factor = hn::Set(d, static_cast<float>(sign * view.world_to_camera[3 * row + k]));
      sum = hn::MulAdd(factor, hn::LoadU(d, boxes.axis_m[3 * n + k] + lane), sum);
    }
    return sum;
  };
  return {hn::Load(d, centres + lane), axis(0), axis(1), axis(2)};
}

// Cells from px, cut to 0..most; NaN becomes 0.
HWY_INLINE VecF ToCells(const VecF& px, double origin_px, const CellGrid& grid, int32_t most) {
  const Floats d;
  const VecF cells =
      hn::Mul(hn::Sub(px, hn::Set(d, static_cast<float>(origin_px))), hn::Set(d, static_cast<float>(1 / grid.cell_px)));
  const VecF least = hn::IfThenElseZero(hn::Gt(cells, hn::Zero(d)), cells);
  return hn::Min(least, hn::Set(d, static_cast<float>(most)));
}

struct Bounds {
  VecF left, top, right, bottom, least_depth;
};

template <bool kPerspective>
HWY_INLINE Bounds BoundCorners(const Coordinate& x, const Coordinate& y, const Coordinate& depth,
                               const CameraView& view) {
  const Floats d;
  const VecF scale_u = hn::Set(d, static_cast<float>(view.scale_u));
  const VecF scale_v = hn::Set(d, static_cast<float>(-view.scale_v));
  const VecF centre_u = hn::Set(d, static_cast<float>(view.centre_u));
  const VecF centre_v = hn::Set(d, static_cast<float>(view.centre_v));
  Bounds bounds;
  for (size_t k = 0; k < 8; ++k) {
    const VecF at = depth.Corner(k);
    VecF u = hn::Mul(scale_u, x.Corner(k)), v = hn::Mul(scale_v, y.Corner(k));
    if constexpr (kPerspective) {
      const VecF over = hn::Div(hn::Set(d, 1.0f), at);
      u = hn::Mul(u, over);
      v = hn::Mul(v, over);
    }
    bounds.left = k == 0 ? u : hn::Min(bounds.left, u);
    bounds.right = k == 0 ? u : hn::Max(bounds.right, u);
    bounds.top = k == 0 ? v : hn::Min(bounds.top, v);
    bounds.bottom = k == 0 ? v : hn::Max(bounds.bottom, v);
    bounds.least_depth = k == 0 ? at : hn::Min(bounds.least_depth, at);
  }
  bounds.left = hn::Add(bounds.left, centre_u);
  bounds.right = hn::Add(bounds.right, centre_u);
  bounds.top = hn::Add(bounds.top, centre_v);
  bounds.bottom = hn::Add(bounds.bottom, centre_v);
  return bounds;
}

template <bool kPerspective>
void BoundAll(const BoxColumns& boxes, const CameraView& view, const CellGrid& grid, LaneRectangles& out) {
  const Floats d;
  alignas(64) std::array<std::array<float, kChunkLanes>, 3> centres;
  for (size_t row = 0; row < 3; ++row) RotateCentres(boxes, view, row, centres[row].data());
  const double extent =
      view.width_px + view.height_px + 4 * view.overscan_px + std::abs(view.centre_u) + std::abs(view.centre_v);
  const VecF per_metre = hn::Set(d, static_cast<float>(0x1p-20 * (view.scale_u + view.scale_v + extent)));
  const VecF least_margin = hn::Set(d, static_cast<float>(kPlaceMarginPx + 0x1p-20 * extent));
  for (size_t i = 0; i < static_cast<size_t>(boxes.count); i += hn::Lanes(d)) {
    const Coordinate x = CoordinateAt(boxes, view, 0, centres[0].data(), i);
    const Coordinate y = CoordinateAt(boxes, view, 1, centres[1].data(), i);
    const Coordinate depth = CoordinateAt(boxes, view, 2, centres[2].data(), i);
    const Bounds bounds = BoundCorners<kPerspective>(x, y, depth, view);
    VecF size = hn::Add(x.AbsSum(), hn::Add(y.AbsSum(), depth.AbsSum()));
    if constexpr (kPerspective) size = hn::Div(size, bounds.least_depth);
    const VecF margin = hn::MulAdd(per_metre, size, least_margin);
    hn::Store(ToCells(hn::Sub(bounds.left, margin), grid.left_px, grid, grid.columns), d, &out.left[i]);
    hn::Store(ToCells(hn::Add(bounds.right, margin), grid.left_px, grid, grid.columns), d, &out.right[i]);
    hn::Store(ToCells(hn::Sub(bounds.top, margin), grid.top_px, grid, grid.rows), d, &out.top[i]);
    hn::Store(ToCells(hn::Add(bounds.bottom, margin), grid.top_px, grid, grid.rows), d, &out.bottom[i]);
  }
}

void BoundLanesHere(const BoxColumns& boxes, const CameraView& view, const CellGrid& grid, LaneRectangles& out) {
  view.projection == Projection::kPerspective ? BoundAll<true>(boxes, view, grid, out)
                                              : BoundAll<false>(boxes, view, grid, out);
}

// ---- AskLanes

// Cell of the finest level that holds a place, in cells.
HWY_INLINE VecI CellAt(const VecF& place, int32_t count) {
  const Ints d;
  return hn::Min(hn::ConvertTo(d, place), hn::Set(d, count - 1));
}

void AskLanesHere(const CellPyramid& pyramid, const LaneRectangles& rectangles, const float* nearness, size_t count,
                  float* answer) {
  const Floats d;
  const Ints d_int;
  const float* const cells = pyramid.cells.data();
  for (size_t i = 0; i < count; i += hn::Lanes(d)) {
    const VecF left = hn::Load(d, &rectangles.left[i]), right = hn::Load(d, &rectangles.right[i]);
    const VecF top = hn::Load(d, &rectangles.top[i]), bottom = hn::Load(d, &rectangles.bottom[i]);
    const VecF near = hn::LoadU(d, nearness + i);
    const VecF span = hn::Max(hn::Max(hn::Sub(right, left), hn::Sub(bottom, top)), hn::Set(d, 1.0f));
    // 2^level > span, by the exponent of the float.
    const VecI exponent = hn::ShiftRight<23>(hn::BitCast(d_int, span));
    const VecI level = hn::Min(hn::Sub(exponent, hn::Set(d_int, 126)), hn::Set(d_int, pyramid.levels - 1));
    const VecI column0 = hn::Shr(CellAt(left, pyramid.columns[0]), level);
    const VecI column1 = hn::Shr(CellAt(right, pyramid.columns[0]), level);
    const VecI columns = hn::GatherIndex(d_int, pyramid.columns.data(), level);
    const VecI row0 = hn::Mul(hn::Shr(CellAt(top, pyramid.rows[0]), level), columns);
    const VecI row1 = hn::Mul(hn::Shr(CellAt(bottom, pyramid.rows[0]), level), columns);
    const auto corner = [&](const VecI& start, const VecI& row, const VecI& column)
                            HWY_ATTR { return hn::GatherIndex(d, cells, hn::Add(start, hn::Add(row, column))); };
    const VecI least_at = hn::GatherIndex(d_int, pyramid.least_at.data(), level);
    const VecF least = hn::Min(hn::Min(corner(least_at, row0, column0), corner(least_at, row0, column1)),
                               hn::Min(corner(least_at, row1, column0), corner(least_at, row1, column1)));
    const VecI most_at = hn::GatherIndex(d_int, pyramid.most_at.data(), level);
    const VecF most = hn::Max(hn::Max(corner(most_at, row0, column0), corner(most_at, row0, column1)),
                              hn::Max(corner(most_at, row1, column0), corner(most_at, row1, column1)));
    const VecF one = hn::Set(d, 1.0f);
    VecF found = hn::IfThenElse(hn::Gt(most, near), hn::Set(d, -1.0f), one);
    found = hn::IfThenZeroElse(hn::Gt(least, near), found);
    found = hn::IfThenElse(hn::And(hn::Lt(left, right), hn::Lt(top, bottom)), found, one);
    hn::StoreU(found, d, answer + i);
  }
}

// ---- Rows of cells

HWY_INLINE size_t CountVisibleCells(const float* cells, size_t count, float nearness) {
  const Floats d;
  const VecF near = hn::Set(d, nearness);
  size_t covered = 0;
  for (size_t i = 0; i < count; i += hn::Lanes(d)) {
    const auto within = hn::FirstN(d, std::min(count - i, hn::Lanes(d)));
    covered += hn::CountTrue(d, hn::And(within, hn::Gt(hn::LoadU(d, cells + i), near)));
  }
  return count - covered;
}

// One row: the most each plane reaches in its cells, and the two places between which cells are weighed.
struct OutlineRow {
  std::array<NearnessRun, kMostPlanes> runs;
  CellRun run;
  float left = 0, right = 0, high = 0;
};

HWY_INLINE bool PrepareRow(const OutlineQuestion& question, size_t k, OutlineRow& row) {
  constexpr double kMarginPx = 1e-4;  // as outlines have
  const CellGrid& grid = question.grid;
  const RowSpan& span = question.rows.spans[k];
  row.run = question.rows.Cells(span, grid);
  const int32_t count = row.run.end - row.run.begin;
  if (count <= 0) return false;
  const double u = grid.left_px + (row.run.begin + 0.5) * grid.cell_px;
  const double v = grid.line_px(question.rows.first + static_cast<int32_t>(k)) + grid.cell_px / 2;
  for (size_t i = 0; i < question.surface.size(); ++i) {
    const double start = question.surface[i].MostAbout(u, v, grid.cell_px + 2 * kMarginPx);
    const double step = question.surface[i].per_u * grid.cell_px;
    const double margin = 0x1p-21 * (std::abs(start) + std::abs(step) * count);  // as in RaiseRun
    row.runs[i] = {static_cast<float>(start + margin), static_cast<float>(step)};
  }
  const double over = 1 / grid.cell_px;
  const auto cells = [&](double px) {
    const double from_left = std::clamp((px - grid.left_px) * over, 0.0, static_cast<double>(grid.columns));
    return static_cast<float>(from_left - row.run.begin);
  };
  row.left = cells(span.middle_least);
  row.right = std::max(row.left, cells(span.middle_most));
  row.high = static_cast<float>(span.high);
  return true;
}

double AskOutlineHere(const OutlineQuestion& question) {
  const Floats d;
  const VecF places = hn::ConvertTo(d, hn::Iota(Ints(), 0)), one = hn::Set(d, 1.0f);
  VecF visible = hn::Zero(d), any = hn::Zero(d);
  double area = 0;
  bool asked = false;
  OutlineRow row;
  for (size_t k = 0; k < question.rows.spans.size(); ++k) {
    if (!PrepareRow(question, k, row)) continue;
    asked = true;
    const float* const cells = question.pyramid.row(question.rows.first + static_cast<int32_t>(k)) + row.run.begin;
    const auto count = static_cast<size_t>(row.run.end - row.run.begin);
    const VecF left = hn::Set(d, row.left), right = hn::Set(d, row.right), high = hn::Set(d, row.high);
    for (size_t i = 0; i < count; i += hn::Lanes(d)) {
      const VecF place = hn::Add(places, hn::Set(d, static_cast<float>(i)));
      VecF nearness = hn::Set(d, question.nearness);
      for (size_t j = 0; j < question.surface.size(); ++j) {
        const NearnessRun& plane = row.runs[j];
        nearness = hn::Min(nearness, hn::MulAdd(place, hn::Set(d, plane.step), hn::Set(d, plane.start)));
      }
      const auto within = hn::FirstN(d, std::min(count - i, hn::Lanes(d)));
      const auto shows = hn::AndNot(hn::Gt(hn::LoadU(d, cells + i), nearness), within);
      any = hn::IfThenElse(shows, one, any);
      const VecF width = hn::Sub(hn::Min(right, hn::Add(place, one)), hn::Max(left, place));
      visible = hn::MulAdd(high, hn::IfThenElseZero(shows, hn::Max(width, hn::Zero(d))), visible);
    }
    area += double{row.high} * double{row.right - row.left};
  }
  if (!asked) return 1;  // nothing to go by
  if (hn::AllFalse(d, hn::Gt(any, hn::Zero(d)))) return 0;
  constexpr double kLeast = 1e-6;  // what shows at all is never called hidden
  return area > 0 ? std::clamp(double{hn::GetLane(hn::SumOfLanes(d, visible))} / area, kLeast, 1.0) : 1;
}

// Cells of the finest level a rectangle reaches into, both ends included.
struct CellBlock {
  int32_t column0, column1, row0, row1;
};
HWY_INLINE CellBlock BlockOf(const CellPyramid& pyramid, const CellRectangle& rectangle) {
  const auto last = [](float place, int32_t count) { return std::min(static_cast<int32_t>(place), count - 1); };
  return {last(rectangle.left, pyramid.columns[0]), last(rectangle.right, pyramid.columns[0]),
          last(rectangle.top, pyramid.rows[0]), last(rectangle.bottom, pyramid.rows[0])};
}

CellSight CellSightHere(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness) {
  const CellBlock block = BlockOf(pyramid, rectangle);
  const auto count = static_cast<size_t>(block.column1 - block.column0 + 1);
  size_t visible = 0, looked_at = 0;
  for (int32_t row = block.row0; row <= block.row1; ++row) {
    visible += CountVisibleCells(pyramid.row(row) + block.column0, count, nearness);
    looked_at += count;
    if (visible > 0 && visible < looked_at) return CellSight::kMixed;
  }
  return visible > 0 ? CellSight::kVisible : CellSight::kHidden;
}

double VisibleAreaHere(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness) {
  const CellBlock block = BlockOf(pyramid, rectangle);
  double area = 0;
  for (int32_t row = block.row0; row <= block.row1; ++row) {
    const double height = std::min<double>(rectangle.bottom, row + 1) - std::max<double>(rectangle.top, row);
    const float* const cells = pyramid.row(row);
    const auto edge = [&](int32_t column) {
      const double width = std::min<double>(rectangle.right, column + 1) - std::max<double>(rectangle.left, column);
      return cells[column] > nearness ? 0 : std::max(width, 0.0);
    };
    double width = edge(block.column0);
    if (block.column1 > block.column0) width += edge(block.column1);
    if (block.column1 > block.column0 + 1) {
      width += static_cast<double>(CountVisibleCells(cells + block.column0 + 1,
                                                     static_cast<size_t>(block.column1 - block.column0 - 1), nearness));
    }
    area += std::max(height, 0.0) * width;
  }
  return area;
}

void RaiseCellsHere(const NearnessRun* runs, size_t run_count, float* cells, size_t count) {
  const Floats d;
  const VecF places = hn::ConvertTo(d, hn::Iota(Ints(), 0));
  for (size_t i = 0; i < count; i += hn::Lanes(d)) {
    const VecF place = hn::Add(places, hn::Set(d, static_cast<float>(i)));
    VecF value = hn::MulAdd(place, hn::Set(d, runs[0].step), hn::Set(d, runs[0].start));
    for (size_t k = 1; k < run_count; ++k) {
      value = hn::Min(value, hn::MulAdd(place, hn::Set(d, runs[k].step), hn::Set(d, runs[k].start)));
    }
    value = hn::NegMulAdd(hn::Set(d, 2e-6f), hn::Abs(value), value);
    const VecF old = hn::LoadU(d, cells + i);
    const auto raised = hn::And(hn::FirstN(d, std::min(count - i, hn::Lanes(d))), hn::Gt(value, old));
    hn::BlendedStore(value, raised, d, cells + i);
  }
}

// `out` from two rows of `count` values each, two and two; an odd last one is left to the caller.
template <bool kLeast>
HWY_INLINE void HalveRow(const float* upper, const float* lower, size_t pairs, float* out) {
  const Floats d;
  const auto chosen = [](float a, float b) { return kLeast ? std::min(a, b) : std::max(a, b); };
  size_t i = 0;
  for (; i + hn::Lanes(d) <= pairs; i += hn::Lanes(d)) {
    VecF a, b, p, q;
    hn::LoadInterleaved2(d, upper + 2 * i, a, b);
    hn::LoadInterleaved2(d, lower + 2 * i, p, q);
    const VecF value = kLeast ? hn::Min(hn::Min(a, b), hn::Min(p, q)) : hn::Max(hn::Max(a, b), hn::Max(p, q));
    hn::StoreU(value, d, out + i);
  }
  for (; i < pairs; ++i) {
    out[i] = chosen(chosen(upper[2 * i], upper[2 * i + 1]), chosen(lower[2 * i], lower[2 * i + 1]));
  }
}

void HalveLevel(const CellPyramid& pyramid, size_t fine, bool least, float* cells) {
  const auto columns = static_cast<size_t>(pyramid.columns[fine]), rows = static_cast<size_t>(pyramid.rows[fine]);
  const auto coarse_columns = static_cast<size_t>(pyramid.columns[fine + 1]);
  const float* const from = cells + (least ? pyramid.least_at : pyramid.most_at)[fine];
  float* out = cells + (least ? pyramid.least_at : pyramid.most_at)[fine + 1];
  for (size_t row = 0; row < rows; row += 2, out += coarse_columns) {
    const float* const upper = from + row * columns;
    const float* const lower = row + 1 < rows ? upper + columns : upper;
    least ? HalveRow<true>(upper, lower, columns / 2, out) : HalveRow<false>(upper, lower, columns / 2, out);
    if (columns % 2 == 1) {
      const float a = upper[columns - 1], b = lower[columns - 1];
      out[columns / 2] = least ? std::min(a, b) : std::max(a, b);
    }
  }
}

}  // namespace HWY_NAMESPACE
}  // namespace scantling
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace scantling {

HWY_EXPORT(BoundLanesHere);
HWY_EXPORT(AskLanesHere);
HWY_EXPORT(AskOutlineHere);
HWY_EXPORT(CellSightHere);
HWY_EXPORT(VisibleAreaHere);
HWY_EXPORT(RaiseCellsHere);
HWY_EXPORT(HalveLevel);

void ShapePyramid(int32_t columns, int32_t rows, float open, CellPyramid& pyramid) {
  size_t level = 0;
  int32_t size = 0;
  for (;; ++level) {
    pyramid.columns[level] = columns;
    pyramid.rows[level] = rows;
    pyramid.least_at[level] = size;
    size += columns * rows;
    if (columns == 1 && rows == 1) break;
    columns = (columns + 1) / 2;
    rows = (rows + 1) / 2;
  }
  pyramid.levels = static_cast<int32_t>(level) + 1;
  const int32_t finest = pyramid.columns[0] * pyramid.rows[0];
  for (size_t k = 1; k <= level; ++k) pyramid.most_at[k] = pyramid.least_at[k] + size - finest;
  pyramid.most_at[0] = 0;
  pyramid.cells.assign(static_cast<size_t>(2 * size - finest) + CellPyramid::kPadding, open);
}

void FillPyramid(CellPyramid& pyramid) {
  for (size_t level = 0; level + 1 < static_cast<size_t>(pyramid.levels); ++level) {
    for (const bool least : {true, false})
      HWY_DYNAMIC_DISPATCH(HalveLevel)(pyramid, level, least, pyramid.cells.data());
  }
}

void BoundLanes(const BoxColumns& boxes, const CameraView& view, const CellGrid& grid, LaneRectangles& out) {
  HWY_DYNAMIC_DISPATCH(BoundLanesHere)(boxes, view, grid, out);
}

CellRectangle CellsOf(const CellGrid& grid, double left_px, double top_px, double right_px, double bottom_px) {
  const auto cut = [&](double px, double origin_px, int32_t most) {
    const double cells = (px - origin_px) / grid.cell_px;
    return cells > 0 ? static_cast<float>(std::min(cells, static_cast<double>(most))) : 0;
  };
  return {cut(left_px - kPlaceMarginPx, grid.left_px, grid.columns),
          cut(top_px - kPlaceMarginPx, grid.top_px, grid.rows),
          cut(right_px + kPlaceMarginPx, grid.left_px, grid.columns),
          cut(bottom_px + kPlaceMarginPx, grid.top_px, grid.rows)};
}

void AskLanes(const CellPyramid& pyramid, const LaneRectangles& rectangles, std::span<const float> nearness,
              std::array<float, kChunkLanes>& answer) {
  HWY_DYNAMIC_DISPATCH(AskLanesHere)(pyramid, rectangles, nearness.data(), nearness.size(), answer.data());
}

CellSight CellSightOf(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness) {
  return HWY_DYNAMIC_DISPATCH(CellSightHere)(pyramid, rectangle, nearness);
}

double VisibleArea(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness) {
  return HWY_DYNAMIC_DISPATCH(VisibleAreaHere)(pyramid, rectangle, nearness);
}

double AskOutline(const OutlineQuestion& question) { return HWY_DYNAMIC_DISPATCH(AskOutlineHere)(question); }

void RaiseCells(std::span<const NearnessRun> runs, float* cells, int32_t count) {
  HWY_DYNAMIC_DISPATCH(RaiseCellsHere)(runs.data(), runs.size(), cells, static_cast<size_t>(count));
}

}  // namespace scantling
#endif  // HWY_ONCE
