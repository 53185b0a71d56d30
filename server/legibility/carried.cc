// Carriers: their folded box is all that is known of their pose, and it is enough. Its three half-axes are the columns
// of an affine map from box coordinates to the world, turning, scale, shear and mirroring included; a place carried
// from frame a to frame f is
//
//   C(f) + A(f) A(a)^-1 (X - C(a))
//
// A flat box has one axis of length 0. The cross product of the other two stands for it: which of the two sides it
// points to does not matter, for it points there at every frame, mirrored or not. Axes are floats and are inverted in
// double by cofactors; their rounding (6e-8 of the carrier's size) is what is left of a jump of something that stands
// on its carrier. What the world carries is taken from the camera's own position, in double, and has no such error.

#include "server/legibility/carried.h"

#include <algorithm>
#include <cmath>

namespace scantling {
namespace {

// Under this share of the longest axis an axis has no length, and under this share of its axes' product a box no
// volume: well under any box that was meant to have one, well over the rounding of floats multiplied in double.
constexpr double kNoLength = 1e-9;
// Several times the rounding of single precision, of the distance between a thing and its carrier.
constexpr double kRounding = 1e-6;
constexpr Matrix3 kUnturned = {1, 0, 0, 0, 1, 0, 0, 0, 1};

Vec3 Cross(const Vec3& a, const Vec3& b) {
  return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
}

double Length(const Vec3& a) { return std::sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2]); }

using HalfAxes = std::array<Vec3, 3>;

HalfAxes HalfAxesOf(const PoseChunk& chunk, int32_t lane, int32_t frame_index) {
  const size_t at = chunk.at(frame_index, lane);
  HalfAxes axes;
  for (size_t i = 0; i < 9; ++i) axes[i / 3][i % 3] = static_cast<double>(chunk.axis[i][at]);
  return axes;
}

// Puts the cross product of the two others in place of one axis without length.
void MakeWhole(HalfAxes& axes) {
  const std::array<double, 3> length = {Length(axes[0]), Length(axes[1]), Length(axes[2])};
  const double longest = *std::max_element(length.begin(), length.end());
  for (size_t flat = 0; flat < 3; ++flat) {
    if (length[flat] > kNoLength * longest) continue;
    const size_t next = (flat + 1) % 3, last = (flat + 2) % 3;
    axes[flat] = Cross(axes[next], axes[last]);
    const double area = Length(axes[flat]);
    if (!(area > 0)) return;
    for (double& part : axes[flat]) part *= std::sqrt(length[next] * length[last]) / area;
    return;
  }
}

double VolumeOf(const HalfAxes& axes) {
  const Vec3 across = Cross(axes[1], axes[2]);
  return axes[0][0] * across[0] + axes[0][1] * across[1] + axes[0][2] * across[2];
}

// False: a line or a point.
bool WholeAxes(const PoseChunk& chunk, int32_t lane, int32_t frame_index, HalfAxes& axes) {
  axes = HalfAxesOf(chunk, lane, frame_index);
  MakeWhole(axes);
  return std::abs(VolumeOf(axes)) > kNoLength * Length(axes[0]) * Length(axes[1]) * Length(axes[2]);
}

}  // namespace

Matrix3 Product(const Matrix3& a, const Matrix3& b) {
  Matrix3 product;
  for (size_t row = 0; row < 9; row += 3) {
    for (size_t column = 0; column < 3; ++column) {
      product[row + column] = a[row] * b[column] + a[row + 1] * b[3 + column] + a[row + 2] * b[6 + column];
    }
  }
  return product;
}

Vec3 Product(const Matrix3& a, const Vec3& v) {
  return {a[0] * v[0] + a[1] * v[1] + a[2] * v[2], a[3] * v[0] + a[4] * v[1] + a[5] * v[2],
          a[6] * v[0] + a[7] * v[1] + a[8] * v[2]};
}

Vec3 CentreAt(const PoseChunk& chunk, int32_t lane, int32_t frame_index) {
  const size_t at = chunk.at(frame_index, lane);
  return {chunk.centre_x[at], chunk.centre_y[at], chunk.centre_z[at]};
}

Carrier::Carrier(const Scene& scene, uint32_t object) {
  const Objects& objects = scene.objects;
  uint32_t container = objects.container[object];
  while (container != kNone && objects.chunk[container] == kNone) container = objects.container[container];
  if (container == kNone) return;
  const PoseChunk& chunk = scene.chunks[objects.chunk[container]];
  if (!PoseChanges(chunk, objects.lane[container])) return;
  chunk_ = &chunk;
  lane_ = objects.lane[container];
}

Vec3 Carrier::Centre(int32_t frame_index) const { return is_world() ? Vec3{} : CentreAt(*chunk_, lane_, frame_index); }

Matrix3 Carrier::Axes(int32_t frame_index) const {
  HalfAxes axes;
  if (is_world() || !WholeAxes(*chunk_, lane_, frame_index, axes)) return kUnturned;
  Matrix3 columns;
  for (size_t i = 0; i < 9; ++i) columns[i] = axes[i % 3][i / 3];
  return columns;
}

Matrix3 Carrier::InverseAxes(int32_t frame_index) const {
  HalfAxes axes;
  if (is_world() || !WholeAxes(*chunk_, lane_, frame_index, axes)) return kUnturned;
  const HalfAxes cofactors = {Cross(axes[1], axes[2]), Cross(axes[2], axes[0]), Cross(axes[0], axes[1])};
  const double volume = VolumeOf(axes);
  Matrix3 inverse;
  for (size_t i = 0; i < 9; ++i) inverse[i] = cofactors[i / 3][i % 3] / volume;
  return inverse;
}

CarriedEye::CarriedEye(const CameraView& view, const Carrier& carrier, int32_t frame_index)
    : view_(view), carrier_(carrier) {
  axes_to_camera_ = Product(view.world_to_camera, carrier.Axes(frame_index));
  if (!carrier.is_world()) {
    centre_in_camera_ = Product(view.world_to_camera, Minus(carrier.Centre(frame_index), view.position_m));
  }
}

Affine CarriedEye::Carried(int32_t since) const {
  if (carrier_.is_world()) return Local();
  return {Product(axes_to_camera_, carrier_.InverseAxes(since)), carrier_.Centre(since), centre_in_camera_};
}

Affine CarriedEye::Local() const {
  if (carrier_.is_world()) return {view_.world_to_camera, view_.position_m, {}};
  return {axes_to_camera_, {}, centre_in_camera_};
}

bool PoseChanges(const PoseChunk& chunk, int32_t lane) {
  const Vec3 centre = CentreAt(chunk, lane, 0);
  const HalfAxes axes = HalfAxesOf(chunk, lane, 0);
  for (int32_t frame_index = 1; frame_index < chunk.frames; ++frame_index) {
    if (CentreAt(chunk, lane, frame_index) != centre || HalfAxesOf(chunk, lane, frame_index) != axes) return true;
  }
  return false;
}

bool PoseOrContainersChanges(const Scene& scene, uint32_t object) {
  const Objects& objects = scene.objects;
  for (uint32_t row = object; row != kNone; row = objects.container[row]) {
    if (objects.chunk[row] != kNone && PoseChanges(scene.chunks[objects.chunk[row]], objects.lane[row])) return true;
  }
  return false;
}

bool PathMoves(const Scene& scene, uint32_t object, const FrameSpans& spans) {
  if (scene.objects.chunk[object] == kNone || spans.empty()) return false;
  const PoseChunk& chunk = scene.chunks[scene.objects.chunk[object]];
  const int32_t lane = scene.objects.lane[object];
  const Carrier carrier(scene, object);
  const auto offset_at = [&](int32_t frame_index) {
    return Minus(CentreAt(chunk, lane, frame_index), carrier.Centre(frame_index));
  };
  const int32_t first = spans.front().first - scene.frames.first;
  const Vec3 place = Product(carrier.InverseAxes(first), offset_at(first));
  for (const FrameRange& span : spans) {
    for (int32_t frame = span.first; frame <= span.last; ++frame) {
      const int32_t frame_index = frame - scene.frames.first;
      const Vec3 offset = offset_at(frame_index);
      const double rounding = carrier.is_world() ? 0 : kRounding * Length(offset);
      if (Length(Minus(Product(carrier.Axes(frame_index), place), offset)) > rounding) return true;
    }
  }
  return false;
}

}  // namespace scantling
