// Asking a depth map what of a chunk is visible: a rectangle about each object and its nearest point against the cells
// the rectangle touches.
//
// Going down from the coarsest cells that hold the rectangle, a cell is done with as soon as its least nearness is
// above the object's (all of it hidden) or its most is not (all of it visible); only cells on the outline of what hides
// are followed to the finest level. The rectangle is a little larger than the object, so a share of 0 is certain.
//
// What a rectangle leaves partly visible is looked at again by its outline, row by row of the finest level, each cell
// against the nearest that the object's own surface comes there: turned boxes fill little more than half of their
// rectangles, and long ones are near at one end only.
//
// Rectangles of objects clear of the frustum's planes come out of loops over the lanes that the compiler turns into
// vector code; those of cut objects are taken one at a time in double, from the part in front of the near plane.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "server/view/frustum.h"
#include "server/view/hiding.h"
#include "server/view/solid.h"

namespace scantling {
namespace {

// Rounding of a place in float, px: pictures reach some 1e4 px, 2^-24 of which is 6e-4; and what is behind it.
constexpr double kMarginPx = 0.01;

struct Rectangles {
  alignas(64) std::array<float, kChunkLanes> left, top, right, bottom;  // px
};

// Coordinates of the lanes' centres and half-axes in camera space, one row of world to camera at a time.
struct CameraLanes {
  alignas(64) std::array<float, kChunkLanes> centre;
  alignas(64) std::array<std::array<float, kChunkLanes>, 3> axis;
};

void Rotate(const PoseChunk& chunk, size_t first, const double* row, const Vec3& eye, double sign, CameraLanes& out) {
  const double r0 = sign * row[0], r1 = sign * row[1], r2 = sign * row[2];
  const auto f0 = static_cast<float>(r0), f1 = static_cast<float>(r1), f2 = static_cast<float>(r2);
  const double *x = &chunk.centre_x[first], *y = &chunk.centre_y[first], *z = &chunk.centre_z[first];
  for (size_t i = 0; i < kChunkLanes; ++i) {
    out.centre[i] = static_cast<float>(r0 * (x[i] - eye[0]) + r1 * (y[i] - eye[1]) + r2 * (z[i] - eye[2]));
  }
  for (size_t axis = 0; axis < 3; ++axis) {
    const float *ax = &chunk.axis[3 * axis][first], *ay = &chunk.axis[3 * axis + 1][first],
                *az = &chunk.axis[3 * axis + 2][first];
    for (size_t i = 0; i < kChunkLanes; ++i) out.axis[axis][i] = f0 * ax[i] + f1 * ay[i] + f2 * az[i];
  }
}

// Bounds of all lanes; right for those that lie clear in front of the eye.
void BoundLanes(const PoseChunk& chunk, int32_t frame_index, const CameraView& view, Rectangles& out) {
  const size_t first = chunk.at(frame_index, 0);
  CameraLanes x, y, depth;
  Rotate(chunk, first, &view.world_to_camera[0], view.position_m, 1, x);
  Rotate(chunk, first, &view.world_to_camera[3], view.position_m, 1, y);
  Rotate(chunk, first, &view.world_to_camera[6], view.position_m, -1, depth);
  const bool perspective = view.projection == Projection::kPerspective;
  const auto scale_u = static_cast<float>(view.scale_u), scale_v = static_cast<float>(view.scale_v);
  const auto centre_u = static_cast<float>(view.centre_u), centre_v = static_cast<float>(view.centre_v);
  out.left.fill(std::numeric_limits<float>::max());
  out.top.fill(std::numeric_limits<float>::max());
  out.right.fill(-std::numeric_limits<float>::max());
  out.bottom.fill(-std::numeric_limits<float>::max());
  for (int corner = 0; corner < 8; ++corner) {
    const float a = (corner & 1) != 0 ? 1.0f : -1.0f, b = (corner & 2) != 0 ? 1.0f : -1.0f,
                c = (corner & 4) != 0 ? 1.0f : -1.0f;
    for (size_t i = 0; i < kChunkLanes; ++i) {
      const float d = depth.centre[i] + a * depth.axis[0][i] + b * depth.axis[1][i] + c * depth.axis[2][i];
      const float over = perspective ? 1.0f / d : 1.0f;
      const float u =
          centre_u + scale_u * over * (x.centre[i] + a * x.axis[0][i] + b * x.axis[1][i] + c * x.axis[2][i]);
      const float v =
          centre_v - scale_v * over * (y.centre[i] + a * y.axis[0][i] + b * y.axis[1][i] + c * y.axis[2][i]);
      out.left[i] = u < out.left[i] ? u : out.left[i];
      out.right[i] = u > out.right[i] ? u : out.right[i];
      out.top[i] = v < out.top[i] ? v : out.top[i];
      out.bottom[i] = v > out.bottom[i] ? v : out.bottom[i];
    }
  }
}

// The rectangle of a box that planes cut: of the part in front of the near plane.
void BoundCut(const CameraView& view, const CameraBox& box, size_t lane, Rectangles& out) {
  double left = std::numeric_limits<double>::infinity(), top = left, right = -left, bottom = -left;
  const auto take = [&](const Vec3& point) {
    const std::array<double, 2> place = ProjectPoint(view, point);
    left = std::min(left, place[0]);
    right = std::max(right, place[0]);
    top = std::min(top, place[1]);
    bottom = std::max(bottom, place[1]);
  };
  for (int k = 0; k < 8; ++k) {
    const Vec3 from = CornerOf(box, k);
    if (from[2] >= view.near_m) take(from);
    for (int bit = 1; bit < 8; bit <<= 1) {
      const Vec3 to = CornerOf(box, k ^ bit);
      if (!(from[2] < view.near_m && to[2] > view.near_m)) continue;
      const double t = (view.near_m - from[2]) / (to[2] - from[2]);
      take({from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1]), view.near_m});
    }
  }
  const auto clamped = [](double px) { return static_cast<float>(std::clamp(px, -1e7, 1e7)); };
  out.left[lane] = clamped(left);
  out.right[lane] = clamped(right);
  out.top[lane] = clamped(top);
  out.bottom[lane] = clamped(bottom);
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

double Overlap(double least, double most, double begin, double end) {
  return std::max(0.0, std::min(most, end) - std::max(least, begin));
}

}  // namespace

// Visible part of a cell's overlap with the rectangle, in cells of the finest level.
double DepthMap::VisibleCells(size_t level, int32_t column, int32_t row, const Rectangle& rectangle,
                              float nearness) const {
  const Level& cells = levels_[level];
  const double side = std::ldexp(1.0, static_cast<int>(level));
  const double width = Overlap(rectangle.left, rectangle.right, column * side, (column + 1) * side);
  const double height = Overlap(rectangle.top, rectangle.bottom, row * side, (row + 1) * side);
  if (width <= 0 || height <= 0) return 0;
  const size_t at = static_cast<size_t>(row) * static_cast<size_t>(cells.columns) + static_cast<size_t>(column);
  if (cells.least[at] > nearness) return 0;
  if (level == 0 || !(cells.most[at] > nearness)) return width * height;
  double visible = 0;
  const Level& finer = levels_[level - 1];
  for (int32_t r = 2 * row; r < std::min(2 * row + 2, finer.rows); ++r) {
    for (int32_t c = 2 * column; c < std::min(2 * column + 2, finer.columns); ++c) {
      visible += VisibleCells(level - 1, c, r, rectangle, nearness);
    }
  }
  return visible;
}

double DepthMap::VisibleShare(const Rectangle& rectangle, float nearness) const {
  const double width = rectangle.right - rectangle.left, height = rectangle.bottom - rectangle.top;
  // The level at which the rectangle touches at most three cells each way.
  size_t level = 0;
  for (double span = std::max(width, height); span > 2 && level + 1 < levels_.size(); span /= 2) ++level;
  const double side = std::ldexp(1.0, static_cast<int>(level));
  const Level& cells = levels_[level];
  const auto last = [&](double at, int32_t count) { return std::min(static_cast<int32_t>(at / side), count - 1); };
  double visible = 0;
  for (int32_t row = last(rectangle.top, cells.rows); row <= last(rectangle.bottom, cells.rows); ++row) {
    for (int32_t column = last(rectangle.left, cells.columns); column <= last(rectangle.right, cells.columns);
         ++column) {
      visible += VisibleCells(level, column, row, rectangle, nearness);
    }
  }
  return std::min(1.0, visible / (width * height));
}

double DepthMap::OutlineShare(const Outline& outline, std::span<const NearnessPlane> surface, double nearness) const {
  const OutlineRows rows(outline, grid_);
  double area = 0, visible = 0;
  bool any = false;
  for (int32_t row = rows.begin(); row < rows.end(); ++row) {
    const OutlineRows::Interval height = rows.Height(row), middle = rows.Middle(row);
    const double high = std::max(height.most - height.least, 0.0);
    const double left = (middle.least - grid_.left_px) / grid_.cell_px,
                 right = (middle.most - grid_.left_px) / grid_.cell_px;
    const CellRun run = rows.Touched(row);
    const float* const cells = &levels_[0].least[static_cast<size_t>(row) * static_cast<size_t>(grid_.columns)];
    for (int32_t column = run.begin; column < run.end; ++column) {
      const double part = high * Overlap(left, right, column, column + 1);
      // Nothing of the object in this cell is nearer than this.
      double nearest = nearness;
      for (const NearnessPlane& plane : surface) {
        const double u = grid_.left_px + (column + 0.5) * grid_.cell_px, v = grid_.line_px(row) + grid_.cell_px / 2;
        nearest = std::min(nearest, plane.MostAbout(u, v, grid_.cell_px));
      }
      const bool hidden = cells[column] > nearest;
      area += part;
      visible += hidden ? 0 : part;
      any = any || !hidden;
    }
  }
  if (!any) return 0;
  constexpr double kLeast = 1e-6;  // what shows at all is never called hidden
  return area > 0 ? std::max(visible / area, kLeast) : 1;
}

void DepthMap::FindVisible(const PoseChunk& chunk, int32_t frame_index, const CameraView& view,
                           ViewBlock& block) const {
  if (empty()) return;
  Rectangles bounds;
  BoundLanes(chunk, frame_index, view, bounds);
  const double columns = grid_.columns, rows = grid_.rows;
  for (size_t lane = 0; lane < static_cast<size_t>(block.count); ++lane) {
    if ((block.flags[lane] & kInFrame) == 0) continue;
    if ((block.flags[lane] & kClipped) != 0) {
      BoundCut(view, BoxInCamera(chunk, static_cast<int32_t>(lane), frame_index, view), lane, bounds);
    }
    const auto cell = [&](double px, double origin_px, double most) {
      return std::clamp((px - origin_px) / grid_.cell_px, 0.0, most);
    };
    const Rectangle rectangle = {cell(bounds.left[lane] - kMarginPx, grid_.left_px, columns),
                                 cell(bounds.top[lane] - kMarginPx, grid_.top_px, rows),
                                 cell(bounds.right[lane] + kMarginPx, grid_.left_px, columns),
                                 cell(bounds.bottom[lane] + kMarginPx, grid_.top_px, rows)};
    if (!(rectangle.left < rectangle.right && rectangle.top < rectangle.bottom)) continue;  // NaN: visible
    const auto nearness = static_cast<float>(NearnessOf(view.projection, block.near_m[lane]));
    double share = VisibleShare(rectangle, nearness);
    if (share > 0 && share < 1 && (block.flags[lane] & kCornerBehind) == 0) {
      const CameraBox box = BoxInCamera(chunk, static_cast<int32_t>(lane), frame_index, view);
      share = OutlineShare(OutlineOf(view, box), SurfaceOf(view, box), nearness);
    }
    block.visible[lane] = static_cast<float>(share);
  }
}

}  // namespace scantling
