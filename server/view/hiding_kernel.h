// Vector loops of hiding: rectangles of many objects, their first question to the map, and rows of cells.
//
// All of them are deterministic on one instruction set and thread-safe; none fails.

#ifndef SCANTLING_SERVER_VIEW_HIDING_KERNEL_H_
#define SCANTLING_SERVER_VIEW_HIDING_KERNEL_H_

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "server/view/kernel.h"
#include "server/view/outline.h"
#include "server/view/solid.h"
#include "server/view/view.h"

namespace scantling {

// Cells of all levels in one column: the least nearness of every level, then the most of every level but the finest, in
// which both are one. Level 0 is the finest, each next one has half the columns and rows, rounded up, to 1 x 1.
struct CellPyramid {
  static constexpr size_t kMostLevels = 32;
  // Vectors are loaded whole: so many values behind the last one can be read.
  static constexpr size_t kPadding = 64;

  int32_t levels = 0;  // 0: nothing is covered
  std::array<int32_t, kMostLevels> columns = {}, rows = {};
  std::array<int32_t, kMostLevels> least_at = {}, most_at = {};  // where a level begins in `cells`
  std::vector<float> cells;

  const float* row(int32_t row) const { return &cells[static_cast<size_t>(row) * static_cast<size_t>(columns[0])]; }
};

// Sets the sizes, and every cell to `open`. columns and rows at least 1.
void ShapePyramid(int32_t columns, int32_t rows, float open, CellPyramid& pyramid);
// Gathers the coarser levels from the finest.
void FillPyramid(CellPyramid& pyramid);

// In cells of the finest level, cut to the grid.
struct CellRectangle {
  float left = 0, top = 0, right = 0, bottom = 0;
};

// Of one chunk, by lane.
struct LaneRectangles {
  alignas(64) std::array<float, kChunkLanes> left, top, right, bottom;
};

// Rectangles about the boxes, a little larger than they are by the error of float; right for boxes wholly in front of
// the eye, anything within the grid for others.
void BoundLanes(const BoxColumns& boxes, const CameraView& view, const CellGrid& grid, LaneRectangles& out);

// Cuts px to cells of the grid.
CellRectangle CellsOf(const CellGrid& grid, double left_px, double top_px, double right_px, double bottom_px);

// Every lane's rectangle against the at most four cells of the level that holds it: 0 where all are nearer-covered, 1
// where none is or the rectangle is empty, -1 where that does not decide.
void AskLanes(const CellPyramid& pyramid, const LaneRectangles& rectangles, std::span<const float> nearness,
              std::array<float, kChunkLanes>& answer);

// What the cells say that a rectangle reaches into: all of them nearer-covered, none, or some. Ends at the first row by
// which it is mixed. O(cells).
enum class CellSight : uint8_t { kHidden, kVisible, kMixed };
CellSight CellSightOf(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness);

// Visible part of the rectangle, in cells; 0 where all cells it reaches into are nearer-covered. O(cells).
double VisibleArea(const CellPyramid& pyramid, const CellRectangle& rectangle, float nearness);

// A nearness that grows by `step` from one cell of a row to the next.
struct NearnessRun {
  float start = 0, step = 0;
};

// The share of an outline that is visible, of an object nowhere nearer than `nearness` nor than any of the planes (at
// most kMostPlanes): 0 only where every cell it touches is nearer-covered. O(cells).
inline constexpr size_t kMostPlanes = 6;
struct OutlineQuestion {
  const CellPyramid& pyramid;
  const CellGrid& grid;
  const OutlineSpans& rows;
  std::span<const NearnessPlane> surface;
  float nearness = 0;
};
double AskOutline(const OutlineQuestion& question);

// Raises `count` cells to the least of the runs, less 2e-6 of itself; lowers none.
void RaiseCells(std::span<const NearnessRun> runs, float* cells, int32_t count);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_HIDING_KERNEL_H_
