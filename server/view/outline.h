// Convex outlines in the picture and the grid of cells they are laid on.
//
// A cell (column, row) is the closed square left + column * cell .. left + (column + 1) * cell, and likewise downwards.
// What must be covered fully is asked with a margin inwards, what is touched with one outwards, so that rounding never
// turns a cell that is partly open into a covered one.

#ifndef SCANTLING_SERVER_VIEW_OUTLINE_H_
#define SCANTLING_SERVER_VIEW_OUTLINE_H_

#include <array>
#include <cstdint>
#include <span>
#include <vector>

namespace scantling {

// A place in the picture, delivered px, v downwards.
struct PicturePoint {
  double u = 0, v = 0;
};

struct CellGrid {
  int32_t columns = 0, rows = 0;
  double cell_px = 1;
  double left_px = 0, top_px = 0;

  double line_px(int32_t row) const { return top_px + row * cell_px; }  // the upper edge of a row
};

// Columns begin..end-1, within the grid; empty where end <= begin.
struct CellRun {
  int32_t begin = 0, end = 0;
};

// Corners of a convex polygon in order; 0 to 2 of them where what was given has no area.
using Outline = std::vector<PicturePoint>;

// Convex hull. O(n log n).
// Source: Andrew, Another efficient algorithm for convex hulls in two dimensions, Inf. Proc. Letters 9, 1979.
Outline HullOf(std::span<const PicturePoint> points);

// The rows an outline reaches into, and cell by cell what it covers and touches there.
class OutlineRows {
 public:
  OutlineRows(const Outline& outline, const CellGrid& grid);

  int32_t begin() const { return begin_; }  // first row touched
  int32_t end() const { return end_; }      // one past the last

  // Cells of a row that lie fully inside; none for outlines without area.
  CellRun Covered(int32_t row) const;
  // Cells of a row that have a point in common with the outline.
  CellRun Touched(int32_t row) const;

 private:
  // From least to most; empty where most < least.
  struct Interval {
    double least = 0, most = -1;
  };
  Interval AtLine(double v_px) const;
  Interval InBand(double upper_px, double lower_px) const;

  const Outline& outline_;
  const CellGrid& grid_;
  int32_t begin_ = 0, end_ = 0;
  double upper_px_ = 0, lower_px_ = 0;  // of the outline
};

// What an outline reaches into, row by row; px.
struct RowSpan {
  double high = 0;                              // of the row's height
  double touched_least = 0, touched_most = -1;  // a little more than the outline's part of the row; empty: none
  double middle_least = 0, middle_most = -1;    // along the middle of that height; empty: none
};

// All rows an outline touches: row first + k is spans[k]. O(rows + corners); `spans` keeps its room from call to call.
struct OutlineSpans {
  int32_t first = 0;
  std::vector<RowSpan> spans;

  void Find(const Outline& outline, const CellGrid& grid);
  CellRun Cells(const RowSpan& span, const CellGrid& grid) const;

 private:
  struct Reach {
    double upper_px = 0, lower_px = 0;
  };
  void AddCorner(const PicturePoint& corner, const CellGrid& grid);
  void AddEdge(const PicturePoint& upper, const PicturePoint& lower, const CellGrid& grid, const Reach& reach);
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_OUTLINE_H_
