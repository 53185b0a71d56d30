// Asking a depth map what of a chunk is visible: a rectangle about each object and its nearest point against the cells
// the rectangle touches.
//
// All lanes are asked at once at the level where their rectangles touch four cells at most (hiding_kernel.cc); that
// decides most. What is left is counted in cells of the finest level. The rectangle is a little larger than the object,
// so a share of 0 is certain.
//
// What a rectangle leaves partly visible is looked at again by its outline, row by row: turned boxes fill little more
// than half of their rectangles, and in a cell they are no nearer there than the planes of their faces. Those planes
// are asked over a cell larger by a margin, so that a face seen almost edge-on is not taken for farther than it is.
//
// Objects that planes of the frustum cut get their rectangles one at a time in double, from the part in front of the
// near plane.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "server/view/frustum.h"
#include "server/view/hiding.h"
#include "server/view/hiding_kernel.h"
#include "server/view/solid.h"

namespace scantling {
namespace {

// The rectangle of a box that planes cut: of the part in front of the near plane.
CellRectangle BoundCut(const CameraView& view, const CameraBox& box, const CellGrid& grid) {
  double left = std::numeric_limits<double>::infinity(), top = left, right = -left, bottom = -left;
  const auto take = [&](const Vec3& point) {
    const std::array<double, 2> place = ProjectPoint(view, point);
    left = std::min(left, place[0]);
    right = std::max(right, place[0]);
    top = std::min(top, place[1]);
    bottom = std::max(bottom, place[1]);
  };
  std::array<Vec3, 8> corners;
  for (size_t k = 0; k < 8; ++k) corners[k] = CornerOf(box, static_cast<int>(k));
  for (size_t k = 0; k < 8; ++k) {
    const Vec3& from = corners[k];
    if (from[2] >= view.near_m) {
      take(from);
      continue;
    }
    for (size_t bit = 1; bit < 8; bit <<= 1) {
      const Vec3& to = corners[k ^ bit];
      if (!(from[2] < view.near_m && to[2] > view.near_m)) continue;
      const double t = (view.near_m - from[2]) / (to[2] - from[2]);
      take({from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1]), view.near_m});
    }
  }
  return CellsOf(grid, left, top, right, bottom);
}

// Of a box in front of the near plane.
Outline OutlineOf(const CameraView& view, const CameraBox& box) {
  std::array<PicturePoint, 8> places;
  for (int k = 0; k < 8; ++k) {
    const std::array<double, 2> place = ProjectPoint(view, CornerOf(box, k));
    places[static_cast<size_t>(k)] = {place[0], place[1]};
  }
  return HullOf(places);
}

}  // namespace

void DepthMap::FindVisible(const PoseChunk& chunk, int32_t frame_index, const CameraView& view,
                           ViewBlock& block) const {
  if (empty()) return;
  const auto count = static_cast<size_t>(block.count);
  if (std::none_of(block.flags.begin(), block.flags.begin() + block.count, [](uint8_t flags) { return flags != 0; })) {
    return;
  }
  LaneRectangles bounds;
  OutlineSpans rows;
  BoundLanes(BoxesOf(chunk, frame_index), view, grid_, bounds);
  alignas(64) std::array<float, kChunkLanes> nearness = {}, answer;
  const bool perspective = view.projection == Projection::kPerspective;
  for (size_t lane = 0; lane < count; ++lane)
    nearness[lane] = perspective ? 1 / block.near_m[lane] : -block.near_m[lane];
  for (size_t lane = 0; lane < count; ++lane) {
    if ((block.flags[lane] & kClipped) == 0) continue;
    const CellRectangle cut = BoundCut(view, BoxInCamera(chunk, static_cast<int32_t>(lane), frame_index, view), grid_);
    bounds.left[lane] = cut.left, bounds.top[lane] = cut.top;
    bounds.right[lane] = cut.right, bounds.bottom[lane] = cut.bottom;
  }
  AskLanes(pyramid_, bounds, std::span(nearness).first(count), answer);
  for (size_t lane = 0; lane < count; ++lane) {
    if ((block.flags[lane] & kInFrame) == 0) continue;
    double share = answer[lane];
    if (share < 0) {
      const CellRectangle cells = {bounds.left[lane], bounds.top[lane], bounds.right[lane], bounds.bottom[lane]};
      const CellSight sight = CellSightOf(pyramid_, cells, nearness[lane]);
      share = sight == CellSight::kHidden ? 0 : 1;
      if (sight == CellSight::kMixed && (block.flags[lane] & kCornerBehind) != 0) {
        const double area = double{cells.right - cells.left} * double{cells.bottom - cells.top};
        share = std::min(1.0, VisibleArea(pyramid_, cells, nearness[lane]) / area);
      } else if (sight == CellSight::kMixed) {
        const CameraBox box = BoxInCamera(chunk, static_cast<int32_t>(lane), frame_index, view);
        rows.Find(OutlineOf(view, box), grid_);
        share = AskOutline({pyramid_, grid_, rows, SurfaceOf(view, box), nearness[lane]});
      }
    }
    block.visible[lane] = static_cast<float>(share);
  }
}

}  // namespace scantling
