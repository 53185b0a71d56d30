// A mesh on the depth map. Each triangle alone covers few cells fully, all of them together many; so coverage is asked
// of the whole surface:
//
//   an edge ends the surface, or turns it from the eye, where it does not have exactly one triangle on either side of
//   it that face the same way. Within a cell that no such edge touches, the number of layers that face the eye (and of
//   those that face away) is the same everywhere: what covers its middle covers all of it.
//
//   On which side of an edge a triangle lies is told by its way of facing and the direction in which it runs along the
//   edge. So triangles given twice, or wound against their neighbours, end the surface; they never widen it.
//
// Vertices at one place count as one, however often they are listed: meshes split along seams of texture stay closed.
//
// The two ways of facing are kept apart, so that the far wall of a closed mesh does not push its near wall back: each
// has the least nearness of its triangles that touch the cell, and the nearer of the two counts. A triangle's least in
// a cell is that of its plane, but never under its farthest corner. Triangles seen edge-on (of no area) have no plane:
// their edges count as ends.

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <unordered_map>

#include "server/view/solid.h"

namespace scantling {
namespace {

constexpr double kFlatPx2 = 1e-9;  // twice the area of a triangle seen edge-on
// Below this a plane through three corners would be made of rounding: its farthest corner stands for a triangle.
constexpr double kThinPx2 = 1e-3;

struct Corner {
  PicturePoint place;
  double nearness = 0;
  bool in_front = false;  // of the near plane
};

// What is known of one cell, of the layers facing one way.
struct Side {
  float least = std::numeric_limits<float>::infinity();
  bool covers_middle = false;
};

struct Triangle {
  std::array<Corner, 3> corner;
  double twice_area = 0;  // > 0: facing one way, < 0: the other
};

// The cells a mesh reaches into.
class MeshCells {
 public:
  MeshCells(const CellGrid& grid, const std::vector<Corner>& corners) : grid_(grid) {
    std::vector<PicturePoint> places;
    for (const Corner& corner : corners) {
      if (corner.in_front) places.push_back(corner.place);
    }
    const Outline hull = HullOf(places);
    const OutlineRows rows(hull, grid);
    first_row_ = rows.begin();
    row_count_ = std::max(rows.end() - rows.begin(), 0);
    sides_.resize(2 * CellCount());
    ends_.resize(CellCount());
  }

  void End(const PicturePoint& a, const PicturePoint& b) {
    const Outline edge = {a, b};
    ForEachTouched(edge, [&](size_t cell, int32_t, int32_t) { ends_[cell] = 1; });
  }

  void Add(const Triangle& triangle) {
    const Outline outline = {triangle.corner[0].place, triangle.corner[1].place, triangle.corner[2].place};
    const NearnessPlane plane = PlaneThrough(triangle);
    const double farthest =
        std::min({triangle.corner[0].nearness, triangle.corner[1].nearness, triangle.corner[2].nearness});
    const size_t way = triangle.twice_area > 0 ? 0 : 1;
    const bool thin = std::abs(triangle.twice_area) < kThinPx2;
    ForEachTouched(outline, [&](size_t cell, int32_t column, int32_t row) {
      const double u = grid_.left_px + (column + 0.5) * grid_.cell_px, v = grid_.line_px(row) + grid_.cell_px / 2;
      Side& side = sides_[2 * cell + way];
      const double least = thin ? farthest : std::max(plane.LeastAbout(u, v, grid_.cell_px), farthest);
      side.least = std::min(side.least, static_cast<float>(least));
      side.covers_middle = side.covers_middle || Covers(triangle, {u, v});
    });
  }

  void CloseOpening(const Outline& opening) {
    ForEachTouched(opening, [&](size_t cell, int32_t, int32_t) { ends_[cell] = 1; });
  }

  void LayOn(MapLayer& layer) const {
    for (size_t cell = 0; cell < CellCount(); ++cell) {
      if (ends_[cell] != 0) continue;
      const auto column = static_cast<int32_t>(cell % static_cast<size_t>(grid_.columns));
      const int32_t row = first_row_ + static_cast<int32_t>(cell / static_cast<size_t>(grid_.columns));
      for (const Side& side : {sides_[2 * cell], sides_[2 * cell + 1]}) {
        if (side.covers_middle) layer.Raise(column, row, side.least);
      }
    }
  }

 private:
  size_t CellCount() const { return static_cast<size_t>(row_count_) * static_cast<size_t>(grid_.columns); }

  template <typename Visit>
  void ForEachTouched(const Outline& outline, Visit visit) {
    const OutlineRows rows(outline, grid_);
    for (int32_t row = std::max(rows.begin(), first_row_); row < std::min(rows.end(), first_row_ + row_count_); ++row) {
      const CellRun run = rows.Touched(row);
      for (int32_t column = run.begin; column < run.end; ++column) {
        const size_t cell =
            static_cast<size_t>(row - first_row_) * static_cast<size_t>(grid_.columns) + static_cast<size_t>(column);
        visit(cell, column, row);
      }
    }
  }

  static NearnessPlane PlaneThrough(const Triangle& triangle) {
    const auto& [a, b, c] = triangle.corner;
    const double bu = b.place.u - a.place.u, bv = b.place.v - a.place.v, bw = b.nearness - a.nearness;
    const double cu = c.place.u - a.place.u, cv = c.place.v - a.place.v, cw = c.nearness - a.nearness;
    const double per_u = (bw * cv - cw * bv) / triangle.twice_area, per_v = (cw * bu - bw * cu) / triangle.twice_area;
    return {a.nearness - per_u * a.place.u - per_v * a.place.v, per_u, per_v};
  }

  // On an edge counts: the neighbour across it, facing the same way, covers the middle too.
  static bool Covers(const Triangle& triangle, const PicturePoint& point) {
    const double way = triangle.twice_area > 0 ? 1 : -1;
    for (size_t k = 0; k < 3; ++k) {
      const PicturePoint &a = triangle.corner[k].place, &b = triangle.corner[(k + 1) % 3].place;
      if (way * ((b.u - a.u) * (point.v - a.v) - (b.v - a.v) * (point.u - a.u)) < 0) return false;
    }
    return true;
  }

  const CellGrid& grid_;
  int32_t first_row_ = 0, row_count_ = 0;
  std::vector<Side> sides_;  // [cell][way]
  std::vector<uint8_t> ends_;
};

std::vector<Corner> CornersOf(const CameraView& view, const CameraBox& box, const OccluderMesh& mesh) {
  std::vector<Corner> corners;
  corners.reserve(mesh.vertices.size());
  for (const std::array<float, 3>& vertex : mesh.vertices) {
    Vec3 point = box.centre;
    for (size_t axis = 0; axis < 3; ++axis) {
      for (size_t k = 0; k < 3; ++k) point[k] += double{vertex[axis]} * box.axis[axis][k];
    }
    Corner corner;
    corner.in_front = point[2] > view.near_m;
    if (corner.in_front) {
      const std::array<double, 2> place = ProjectPoint(view, point);
      corner.place = {place[0], place[1]};
      corner.nearness = NearnessOf(view.projection, point[2]);
    }
    corners.push_back(corner);
  }
  return corners;
}

// For every vertex the first one at its place. O(vertices).
std::vector<uint32_t> FirstAtItsPlace(const OccluderMesh& mesh) {
  struct Hash {
    size_t operator()(const std::array<float, 3>& place) const {
      size_t hash = 0;
      for (const float x : place) hash = hash * 0x9e3779b97f4a7c15u + std::bit_cast<uint32_t>(x);
      return hash ^ hash >> 29;
    }
  };
  std::unordered_map<std::array<float, 3>, uint32_t, Hash> known;
  known.reserve(mesh.vertices.size());
  std::vector<uint32_t> first;
  first.reserve(mesh.vertices.size());
  for (std::array<float, 3> place : mesh.vertices) {
    for (float& x : place) x += 0.0f;  // -0 and 0 are one place
    first.push_back(known.emplace(place, static_cast<uint32_t>(first.size())).first->second);
  }
  return first;
}

// The triangles at one edge, by [way of facing][direction along the edge].
struct EdgeUse {
  std::array<std::array<int, 2>, 2> count = {};
  bool flat = false;

  // One triangle on either side, both facing the same way, and no other.
  bool goes_on() const {
    const auto is = [&](size_t way, int each) { return count[way][0] == each && count[way][1] == each; };
    return !flat && ((is(0, 1) && is(1, 0)) || (is(0, 0) && is(1, 1)));
  }
};

}  // namespace

void LayMesh(const CameraView& view, const CameraBox& box, const OccluderMesh& mesh, std::span<const Outline> openings,
             MapLayer& layer) {
  const std::vector<Corner> corners = CornersOf(view, box, mesh);
  const std::vector<uint32_t> first = FirstAtItsPlace(mesh);
  MeshCells cells(layer.grid, corners);
  std::unordered_map<uint64_t, EdgeUse> edges;
  edges.reserve(mesh.triangles.size() * 2);
  for (const std::array<uint32_t, 3>& listed : mesh.triangles) {
    const std::array<uint32_t, 3> indices = {first[listed[0]], first[listed[1]], first[listed[2]]};
    Triangle triangle{{corners[indices[0]], corners[indices[1]], corners[indices[2]]}};
    const auto& [a, b, c] = triangle.corner;
    if (!a.in_front || !b.in_front || !c.in_front) continue;
    triangle.twice_area =
        (b.place.u - a.place.u) * (c.place.v - a.place.v) - (b.place.v - a.place.v) * (c.place.u - a.place.u);
    const bool flat = std::abs(triangle.twice_area) < kFlatPx2;
    for (size_t k = 0; k < 3; ++k) {
      const uint64_t from = indices[k], to = indices[(k + 1) % 3];
      EdgeUse& edge = edges[std::min(from, to) << 32 | std::max(from, to)];
      edge.flat = edge.flat || flat;
      if (!flat) ++edge.count[triangle.twice_area > 0 ? 0 : 1][from < to ? 0 : 1];
    }
    if (!flat) cells.Add(triangle);
  }
  for (const auto& [key, edge] : edges) {
    if (!edge.goes_on()) cells.End(corners[key >> 32].place, corners[key & 0xffffffffu].place);
  }
  for (const Outline& opening : openings) cells.CloseOpening(opening);
  cells.LayOn(layer);
}

}  // namespace scantling
