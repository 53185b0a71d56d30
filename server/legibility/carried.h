// What carries an object, and places of then seen with the camera of now: a passenger's place in the ferry.
//
// Private to legibility/. Matrices are row-major.

#ifndef SCANTLING_SERVER_LEGIBILITY_CARRIED_H_
#define SCANTLING_SERVER_LEGIBILITY_CARRIED_H_

#include <array>
#include <cstdint>

#include "server/scene/scene.h"
#include "server/units/frames.h"
#include "server/view/view.h"

namespace scantling {

using Matrix3 = std::array<double, 9>;
Matrix3 Product(const Matrix3& a, const Matrix3& b);
Vec3 Product(const Matrix3& a, const Vec3& v);
inline Vec3 Minus(const Vec3& a, const Vec3& b) { return {a[0] - b[0], a[1] - b[1], a[2] - b[2]}; }

Vec3 CentreAt(const PoseChunk& chunk, int32_t lane, int32_t frame_index);

// turn (X - from) + to.
struct Affine {
  Matrix3 turn = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  Vec3 from = {}, to = {};
};

// What an object's path is measured against: the box of the nearest container that has geometry where that box ever
// changes, else the world. The scene must outlive it.
class Carrier {
 public:
  Carrier() = default;                           // the world
  Carrier(const Scene& scene, uint32_t object);  // O(depth + frames)

  bool is_world() const { return chunk_ == nullptr; }
  Vec3 Centre(int32_t frame_index) const;  // the world: its origin
  // Columns are the half-axes of its box; the world: 1. A box without thickness gets an axis across it, as long as the
  // geometric mean of its sides, so that it turns and grows with it. A line or a point carries without turning: 1.
  Matrix3 Axes(int32_t frame_index) const;
  Matrix3 InverseAxes(int32_t frame_index) const;

 private:
  const PoseChunk* chunk_ = nullptr;
  int32_t lane_ = 0;
};

// A camera and a carrier at one frame. Both must outlive it.
class CarriedEye {
 public:
  CarriedEye(const CameraView& view, const Carrier& carrier, int32_t frame_index);

  const CameraView& view() const { return view_; }
  // From a place in the world at frame `since`, carried along to this frame, into camera space (looking down -Z).
  Affine Carried(int32_t since) const;
  // From a place in the carrier's coordinates.
  Affine Local() const;

 private:
  const CameraView& view_;
  const Carrier& carrier_;
  Matrix3 axes_to_camera_ = {};
  Vec3 centre_in_camera_ = {};
};

// Whether a box is another at some frame. O(frames); O(1) in a static chunk.
bool PoseChanges(const PoseChunk& chunk, int32_t lane);

// The same of an object or of any container around it; false for those without geometry. O(depth * frames).
bool PoseOrContainersChanges(const Scene& scene, uint32_t object);

// Whether the centre of an object with geometry moves against its carrier within the frames of `spans` by more than
// the rounding of the carrier's axes; false without geometry. O(depth + frames).
bool PathMoves(const Scene& scene, uint32_t object, const FrameSpans& spans);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_CARRIED_H_
