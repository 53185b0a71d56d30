// A convex solid is entered where the last of the planes turned to the eye is passed, so the nearness of its surface is
// the least over those planes, and the least over a cell is the least of their leasts. Cells fully inside its outline
// are covered; which face a cell shows need not be asked.
//
// A box that crosses the near plane is laid face by face, each cut by that plane: cells that straddle two faces stay
// open, which is rare and errs to the safe side.

#include "server/view/solid.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "server/view/clip.h"
#include "server/view/hiding_kernel.h"

namespace scantling {
namespace {

Vec3 Cross(const Vec3& p, const Vec3& q) {
  return {p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]};
}
double Dot(const Vec3& p, const Vec3& q) { return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]; }
Vec3 Plus(const Vec3& p, const Vec3& q) { return {p[0] + q[0], p[1] + q[1], p[2] + q[2]}; }
Vec3 Times(const Vec3& p, double k) { return {p[0] * k, p[1] * k, p[2] * k}; }

// A face turned to the eye: its middle, its half-edges, and the nearness of its plane.
struct Face {
  Vec3 middle, p, q;
  NearnessPlane plane;
};

// Nearness over the plane normal . point = k. Picture to camera space: x = (u - centre_u) / scale_u (times depth in
// perspective), y = -(v - centre_v) / scale_v.
NearnessPlane PlaneOf(const CameraView& view, const Vec3& normal, double k) {
  const double per_x = normal[0] / view.scale_u, per_y = -normal[1] / view.scale_v;
  // Perspective: 1 / depth = (nx X + ny Y + nz) / k. Orthographic: -depth = (nx x + ny y - k) / nz.
  const bool perspective = view.projection == Projection::kPerspective;
  const double over = perspective ? 1 / k : 1 / normal[2];
  const double constant = perspective ? normal[2] : -k;
  return {(constant - per_x * view.centre_u - per_y * view.centre_v) * over, per_x * over, per_y * over};
}

// Faces turned to the eye. A card's plane counts from both sides; its edges have none.
std::vector<Face> FacesToTheEye(const CameraView& view, const CameraBox& box) {
  std::vector<Face> faces;
  for (size_t axis = 0; axis < 3; ++axis) {
    const Vec3 &r = box.axis[axis], &p = box.axis[(axis + 1) % 3], &q = box.axis[(axis + 2) % 3];
    const Vec3 normal = Cross(p, q);
    const double volume = Dot(normal, r);
    for (const double side : {-1.0, 1.0}) {
      const Vec3 middle = Plus(box.centre, Times(r, side));
      // Outwards: along `side * r`, or, where r has no extent, towards the eye whichever side that is.
      double outward = side * volume < 0 ? -1 : 1;
      const double towards = view.projection == Projection::kPerspective ? Dot(normal, middle) : normal[2];
      if (volume == 0) outward = towards > 0 ? -1 : 1;
      if (!(outward * towards < 0)) continue;
      faces.push_back({middle, p, q, PlaneOf(view, normal, Dot(normal, middle))});
      if (volume == 0) break;  // both sides are one
    }
  }
  return faces;
}

// Lays an outline whose surface is the farthest of `planes` at each place.
void LayOutline(const Outline& outline, std::span<const NearnessPlane> planes, std::span<const Outline> openings,
                MapLayer& layer) {
  const CellGrid& grid = layer.grid;
  const OutlineRows rows(outline, grid);
  std::vector<OutlineRows> holes;
  for (const Outline& opening : openings) holes.emplace_back(opening, grid);
  std::vector<uint8_t> open(static_cast<size_t>(grid.columns), 0);
  for (int32_t row = rows.begin(); row < rows.end(); ++row) {
    const CellRun run = rows.Covered(row);
    if (run.end <= run.begin) continue;
    for (const OutlineRows& hole : holes) {
      if (row < hole.begin() || row >= hole.end()) continue;
      const CellRun touched = hole.Touched(row);
      for (int32_t column = touched.begin; column < touched.end; ++column) open[static_cast<size_t>(column)] = 1;
    }
    const auto is_open = [&](int32_t column) { return open[static_cast<size_t>(column)] != 0; };
    for (int32_t begin = run.begin, end = begin; begin < run.end; begin = end + 1) {
      end = begin;
      while (end < run.end && (holes.empty() || !is_open(end))) end = holes.empty() ? run.end : end + 1;
      layer.RaiseRun(planes, row, {begin, end});
    }
    if (!holes.empty()) std::fill(open.begin(), open.end(), 0);
  }
}

PicturePoint Projected(const CameraView& view, const Vec3& point) {
  const std::array<double, 2> place = ProjectPoint(view, point);
  return {place[0], place[1]};
}

// One face of a box that the near plane cuts.
void LayCutFace(const CameraView& view, const Face& face, std::span<const Outline> openings, MapLayer& layer) {
  ConvexPolygon polygon;
  for (const std::array<double, 2>& sign : {std::array{-1.0, -1.0}, {1.0, -1.0}, {1.0, 1.0}, {-1.0, 1.0}}) {
    polygon.Add(Plus(face.middle, Plus(Times(face.p, sign[0]), Times(face.q, sign[1]))));
  }
  Cut({{0, 0, 1}, -view.near_m}, polygon);
  std::vector<PicturePoint> corners;
  for (int i = 0; i < polygon.size; ++i) corners.push_back(Projected(view, polygon.corner[static_cast<size_t>(i)]));
  LayOutline(HullOf(corners), std::span(&face.plane, 1), openings, layer);
}

}  // namespace

double NearnessOf(Projection projection, double depth_m) {
  return projection == Projection::kPerspective ? 1 / depth_m : -depth_m;
}

std::vector<NearnessPlane> SurfaceOf(const CameraView& view, const CameraBox& box) {
  std::vector<NearnessPlane> planes;
  for (const Face& face : FacesToTheEye(view, box)) planes.push_back(face.plane);
  return planes;
}

void MapLayer::RaiseRun(std::span<const NearnessPlane> planes, int32_t row, const CellRun& run) {
  const int32_t count = run.end - run.begin;
  if (count <= 0) return;
  const double u = grid.left_px + (run.begin + 0.5) * grid.cell_px, v = grid.line_px(row) + grid.cell_px / 2;
  std::array<NearnessRun, kMostPlanes> runs;
  for (size_t k = 0; k < planes.size(); ++k) {
    const double start = planes[k].LeastAbout(u, v, grid.cell_px), step = planes[k].per_u * grid.cell_px;
    // Start, step, place and sum are rounded to float: less than 4 parts in 2^24 of what they reach.
    const double margin = 0x1p-21 * (std::abs(start) + std::abs(step) * count);
    runs[k] = {static_cast<float>(start - margin), static_cast<float>(step)};
  }
  const size_t first = static_cast<size_t>(row) * static_cast<size_t>(grid.columns) + static_cast<size_t>(run.begin);
  RaiseCells(std::span(runs).first(planes.size()), &nearness[first], count);
}

void MapLayer::Raise(int32_t column, int32_t row, double least) {
  constexpr double kMargin = 2e-6;
  const auto value = static_cast<float>(least - kMargin * std::abs(least));
  float& cell = nearness[static_cast<size_t>(row) * static_cast<size_t>(grid.columns) + static_cast<size_t>(column)];
  if (value > cell) cell = value;
}

void LayBox(const CameraView& view, const CameraBox& box, double share, std::span<const Outline> openings,
            MapLayer& layer) {
  CameraBox inner = box;
  for (Vec3& axis : inner.axis) axis = Times(axis, share);
  const std::vector<Face> faces = FacesToTheEye(view, inner);
  if (faces.empty()) return;  // the eye is inside, or in the plane of a card
  double nearest_m = std::numeric_limits<double>::infinity();
  std::array<Vec3, 8> corners;
  for (int k = 0; k < 8; ++k) {
    corners[static_cast<size_t>(k)] = CornerOf(inner, k);
    nearest_m = std::min(nearest_m, corners[static_cast<size_t>(k)][2]);
  }
  if (nearest_m < view.near_m) {
    for (const Face& face : faces) LayCutFace(view, face, openings, layer);
    return;
  }
  std::array<PicturePoint, 8> places;
  for (size_t k = 0; k < 8; ++k) places[k] = Projected(view, corners[k]);
  LayOutline(HullOf(places), SurfaceOf(view, inner), openings, layer);
}

Outline OutlineOfOpening(const CameraView& view, const CameraBox& box, const Opening& opening) {
  CameraBox hole = box;
  for (size_t axis = 0; axis < 3; ++axis) {
    const double least = opening.min[axis], most = opening.max[axis];
    hole.centre = Plus(hole.centre, Times(box.axis[axis], (least + most) / 2));
    hole.axis[axis] = Times(box.axis[axis], (most - least) / 2);
  }
  std::vector<PicturePoint> places;
  for (int k = 0; k < 8; ++k) {
    const Vec3 from = CornerOf(hole, k);
    if (from[2] >= view.near_m) {
      places.push_back(Projected(view, from));
      continue;
    }
    for (int bit = 1; bit < 8; bit <<= 1) {  // where edges come through the near plane
      const Vec3 to = CornerOf(hole, k ^ bit);
      if (to[2] < view.near_m) continue;
      const double along = (view.near_m - from[2]) / (to[2] - from[2]);
      places.push_back(
          Projected(view, {from[0] + along * (to[0] - from[0]), from[1] + along * (to[1] - from[1]), view.near_m}));
    }
  }
  return HullOf(places);
}

}  // namespace scantling
