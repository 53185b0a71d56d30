// What the shot camera measures of each object: exact covered area, height, depth and place in the picture.
//
// One call measures one chunk (up to kChunkLanes objects) at one frame through one camera. Three ways of exactness,
// chosen per object from float distances to the planes of the frustum and a margin for their error (kernel.cc):
//   reject    box is outside one frustum plane by more than the float error
//   interior  box is inside all planes by more than the float error: area in double, all lanes at once (Highway)
//   border    everything between: the box is cut by the frustum in double, one object at a time
// Required (2-model section 1): unclipped area within 2e-6 relative, in/out decisions identical to double precision,
// unchanged to 0.001 px when the whole scene sits 10,000 km from the origin. Held: 6e-8 relative, the rounding to
// float.
//
// Picture coordinates: u to the right from the left edge, v down from the top edge, delivered pixels:
//   u = W (1/2 + (f x / -z - ox) / aw),   v = H (1/2 - (f y / -z - oy) / ah)
// orthographic: u = W (1/2 + (x - ox) / ww), v = H (1/2 - (y - oy) / wh).

#ifndef SCANTLING_SERVER_VIEW_VIEW_H_
#define SCANTLING_SERVER_VIEW_VIEW_H_

#include <array>
#include <cstdint>
#include <optional>

#include "server/scene/scene.h"

namespace scantling {

// A camera at one frame, ready for measuring.
struct CameraView {
  Projection projection = Projection::kPerspective;
  Vec3 position_m = {};
  std::array<double, 9> world_to_camera = {};  // row-major
  // Perspective: u = centre_u + scale_u * x / -z;  orthographic: u = centre_u + scale_u * x. v likewise, downwards:
  // v = centre_v - scale_v * y / -z.
  double scale_u = 0, scale_v = 0, centre_u = 0, centre_v = 0;
  double width_px = 0, height_px = 0, overscan_px = 0;
  double near_m = 0, far_m = 0;  // far may be infinite
};

// Wants a validated camera: window, image and focal length > 0, and near_m > 0 for a perspective one.
CameraView ViewOf(const Camera& camera, int32_t frame_index);

enum ViewFlag : uint8_t {
  kInFrame = 1,       // the box meets the frustum of image plus overscan
  kClipped = 2,       // it was cut by a border or plane
  kCornerBehind = 4,  // a corner of the box lies at or behind the near plane
};

// Columns for one chunk at one frame through one camera. Lanes [0, count) are valid. Where kInFrame is not set all
// figures but u, v are 0, and so are the flags.
struct ViewBlock {
  int32_t count = 0;
  alignas(64) std::array<float, kChunkLanes> covered_px;   // exact area of the box in the delivered image, px^2
  alignas(64) std::array<float, kChunkLanes> rendered_px;  // the same in image plus overscan
  alignas(64) std::array<float, kChunkLanes> height_px;    // vertical scale at the nearest visible point * height
  alignas(64) std::array<float, kChunkLanes> near_m;       // depth of the nearest visible point
  alignas(64) std::array<float, kChunkLanes> far_m;        // depth of the farthest visible point
  alignas(64) std::array<float, kChunkLanes> u_px;         // projected centre of the box; NaN where it lies at or
  alignas(64) std::array<float, kChunkLanes> v_px;         // behind the eye (perspective)
  // Share of the object that nothing hides, 0..1: 0 only where certainly hidden. MeasureChunk sets 1; see hiding.h.
  alignas(64) std::array<float, kChunkLanes> visible;
  alignas(64) std::array<uint8_t, kChunkLanes> flags;
};

// Height of an object is 2 |b|, the world length of its box along local Y (up).
// Deterministic on one instruction set; thread-safe.
void MeasureChunk(const PoseChunk& chunk, int32_t frame_index, const CameraView& view, ViewBlock& out);

// One object in double precision, by the border path: the reference for tests and the figures of an explanation.
struct ObjectView {
  double covered_px = 0, rendered_px = 0, height_px = 0, near_m = 0, far_m = 0, u_px = 0, v_px = 0;
  uint8_t flags = 0;
};
ObjectView MeasureObject(const PoseChunk& chunk, int32_t lane, int32_t frame_index, const CameraView& view);

// The eight corners in the picture, order bit 0: +a, bit 1: +b, bit 2: +c. nullopt where one lies at or behind the near
// plane.
using Corners = std::array<std::array<double, 2>, 8>;
std::optional<Corners> ProjectCorners(const PoseChunk& chunk, int32_t lane, int32_t frame_index,
                                      const CameraView& view);

// How far the view of a box turned: the largest residual in px of `now` against the best (least squares) shift and
// uniform scale of `reference`. The scale is never negative: no painting is used upside down.
double TurnResidual(const Corners& reference, const Corners& now);

// Projected box centre (u, v); NaN where it lies at or behind the eye.
std::array<double, 2> ProjectCentre(const PoseChunk& chunk, int32_t lane, int32_t frame_index, const CameraView& view);

// Name of the instruction set MeasureChunk runs on, for logs and benchmarks ("AVX2", "AVX3", ...).
const char* ViewInstructionSet();

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_VIEW_H_
