// Frustum planes and boxes in camera space.
//
// A border of the picture is a line u = constant or v = constant. With u = centre_u + scale_u x / depth the side
// u >= edge reads, for depth > 0,
//
//   x - slope depth >= 0,   slope = (edge - centre_u) / scale_u        a plane through the eye, perspective
//   x - slope       >= 0                                               a plane along the view, orthographic
//
// and divided by hypot(1, slope) its left side is the distance to the plane in metres, which is what the kernel's error
// bound is stated in. v runs downwards: the bottom of the picture is its largest v and its smallest y.

#include "server/view/frustum.h"

#include <cmath>

namespace scantling {
namespace {

// sign +1: inside is x (or y) above the slope; -1: below. `lateral` is 0 for x, 1 for y.
HalfSpace SideOf(Projection projection, int lateral, double sign, double slope) {
  HalfSpace side;
  if (projection == Projection::kOrthographic) {
    side.normal[lateral] = sign;
    side.offset = -sign * slope;
    return side;
  }
  const double length = std::sqrt(1 + slope * slope);
  side.normal[lateral] = sign / length;
  side.normal[2] = -sign * slope / length;
  return side;
}

// The picture grown by margin_px on every side.
Window WindowOf(const CameraView& view, double margin_px) {
  Window window;
  window.left = (-margin_px - view.centre_u) / view.scale_u;
  window.right = (view.width_px + margin_px - view.centre_u) / view.scale_u;
  window.bottom = (view.centre_v - (view.height_px + margin_px)) / view.scale_v;
  window.top = (view.centre_v + margin_px) / view.scale_v;
  window.sides = {SideOf(view.projection, 0, 1, window.left), SideOf(view.projection, 0, -1, window.right),
                  SideOf(view.projection, 1, 1, window.bottom), SideOf(view.projection, 1, -1, window.top)};
  return window;
}

Vec3 Rotate(const std::array<double, 9>& r, double x, double y, double z) {
  return {r[0] * x + r[1] * y + r[2] * z, r[3] * x + r[4] * y + r[5] * z, -(r[6] * x + r[7] * y + r[8] * z)};
}

}  // namespace

Frustum FrustumOf(const CameraView& view) {
  Frustum frustum;
  frustum.projection = view.projection;
  frustum.delivered = WindowOf(view, 0);
  frustum.has_overscan = view.overscan_px > 0;
  frustum.rendered = frustum.has_overscan ? WindowOf(view, view.overscan_px) : frustum.delivered;
  frustum.near_m = view.near_m;
  frustum.far_m = view.far_m;
  return frustum;
}

CameraBox BoxInCamera(const PoseChunk& chunk, int32_t lane, int32_t frame_index, const CameraView& view) {
  const size_t i = chunk.at(frame_index, lane);
  CameraBox box;
  box.centre = Rotate(view.world_to_camera, chunk.centre_x[i] - view.position_m[0],
                      chunk.centre_y[i] - view.position_m[1], chunk.centre_z[i] - view.position_m[2]);
  for (size_t k = 0; k < 3; ++k) {
    box.axis[k] =
        Rotate(view.world_to_camera, chunk.axis[3 * k][i], chunk.axis[3 * k + 1][i], chunk.axis[3 * k + 2][i]);
  }
  return box;
}

Vec3 CornerOf(const CameraBox& box, int k) {
  Vec3 corner = box.centre;
  for (int axis = 0; axis < 3; ++axis) {
    const double sign = (k >> axis & 1) ? 1 : -1;
    for (int j = 0; j < 3; ++j) corner[j] += sign * box.axis[axis][j];
  }
  return corner;
}

std::array<double, 2> ProjectPoint(const CameraView& view, const Vec3& point) {
  const double divisor = view.projection == Projection::kPerspective ? point[2] : 1;
  return {view.centre_u + view.scale_u * point[0] / divisor, view.centre_v - view.scale_v * point[1] / divisor};
}

}  // namespace scantling
