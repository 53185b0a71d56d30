// The planes that bound what a camera sees, and a box in that camera's space: shared by the vector kernel and the
// double-precision border path, so that both decide by the same numbers.
//
// Camera space here is (x, y, depth): x to the right, y up, depth = -z, all in metres; a left-handed system, which is
// why nothing in this folder reads meaning into the sign of a volume.

#ifndef SCANTLING_SERVER_VIEW_FRUSTUM_H_
#define SCANTLING_SERVER_VIEW_FRUSTUM_H_

#include <array>
#include <cstdint>

#include "server/scene/scene.h"
#include "server/view/view.h"

namespace scantling {

// A point (x, y, depth) is inside where normal . point + offset >= 0. Normals have unit length, so the sum is metres.
struct HalfSpace {
  Vec3 normal = {};
  double offset = 0;
};

// A rectangle of the picture seen as a bundle of rays.
struct Window {
  // Left, right, bottom, top: x or y in metres, at depth 1 (perspective) or at any depth (orthographic).
  double left = 0, right = 0, bottom = 0, top = 0;
  // In the same order. Left and right have normal y = 0, bottom and top have normal x = 0.
  std::array<HalfSpace, 4> sides;
};

struct Frustum {
  Projection projection = Projection::kPerspective;
  Window rendered;   // image plus overscan: decides what is in frame
  Window delivered;  // the image; equal to `rendered` where overscan_px is 0
  bool has_overscan = false;
  double near_m = 0, far_m = 0;  // far may be infinite
};

// Two square roots a side; no failure. Wants scale_u, scale_v > 0, and near_m > 0 for a perspective camera.
Frustum FrustumOf(const CameraView& view);

// A folded box in camera space: corners are centre +- axis[0] +- axis[1] +- axis[2].
struct CameraBox {
  Vec3 centre = {};
  std::array<Vec3, 3> axis = {};
};

// The camera's position is subtracted before anything is rounded: far from the origin only the stored digits count.
CameraBox BoxInCamera(const PoseChunk& chunk, int32_t lane, int32_t frame_index, const CameraView& view);

// Corner k in 0..7, bit 0: +a, bit 1: +b, bit 2: +c.
Vec3 CornerOf(const CameraBox& box, int k);

// Where a point (x, y, depth) falls in the picture; a perspective camera wants depth > 0.
std::array<double, 2> ProjectPoint(const CameraView& view, const Vec3& point);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_FRUSTUM_H_
