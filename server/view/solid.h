// Occluders as they stand in the picture: the inner box or the mesh of one object at one frame, laid on a depth map.
//
// Nearness is what the map holds: 1 / depth (perspective) or -depth (orthographic), so that larger is nearer. Over a
// plane it is linear in picture coordinates in both projections, and its least over a cell is at a corner of the cell.

#ifndef SCANTLING_SERVER_VIEW_SOLID_H_
#define SCANTLING_SERVER_VIEW_SOLID_H_

#include <cmath>
#include <cstdint>
#include <span>
#include <vector>

#include "server/scene/scene.h"
#include "server/view/frustum.h"
#include "server/view/outline.h"
#include "server/view/view.h"

namespace scantling {

// Nearness over a plane: origin + per_u * u + per_v * v.
struct NearnessPlane {
  double origin = 0, per_u = 0, per_v = 0;

  // Least and most over a cell about (u, v).
  double LeastAbout(double u, double v, double cell_px) const { return At(u, v) - Slack(cell_px); }
  double MostAbout(double u, double v, double cell_px) const { return At(u, v) + Slack(cell_px); }

 private:
  double At(double u, double v) const { return origin + per_u * u + per_v * v; }
  double Slack(double cell_px) const { return (std::abs(per_u) + std::abs(per_v)) * (cell_px / 2); }
};

double NearnessOf(Projection projection, double depth_m);

// Raises cells of a map, never lowers one. `nearness` has columns * rows values, row by row.
struct MapLayer {
  const CellGrid& grid;
  std::span<float> nearness;

  // A cell's nearness becomes at least `least`, less a margin (2e-6 of itself) above the rounding of what it is
  // compared with: an object on the surface of a solid is not hidden by it.
  void Raise(int32_t column, int32_t row, double least);

  // The same for a run of cells, each with the least over it of 1 to 6 planes. What float adds is taken off.
  void RaiseRun(std::span<const NearnessPlane> planes, int32_t row, const CellRun& run);
};

// Planes of the faces turned to the eye: the surface of the box is the farthest of them at each place of its outline.
// Empty where the eye is inside. A card has one.
std::vector<NearnessPlane> SurfaceOf(const CameraView& view, const CameraBox& box);

// The box `share` as large as `box` about the same centre, less the cells that openings touch. The part in front of the
// near plane is cut off: what shows there is its inside, which hides nothing.
void LayBox(const CameraView& view, const CameraBox& box, double share, std::span<const Outline> openings,
            MapLayer& layer);

// A mesh in box coordinates. Cells touched by an edge at which the surface ends or turns away are left out; in the
// others what covers the middle covers the whole cell. Triangles that reach the near plane are left out. O(triangles +
// cells they touch).
void LayMesh(const CameraView& view, const CameraBox& box, const OccluderMesh& mesh, std::span<const Outline> openings,
             MapLayer& layer);

// Outline of the part of an opening in front of the near plane; no corners where there is none.
Outline OutlineOfOpening(const CameraView& view, const CameraBox& box, const Opening& opening);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_SOLID_H_
