// Small builders for the tests of the view stage: chunks of folded boxes, cameras, random placements.
//
// Nothing here is shared with the product: a box is folded from a matrix as 2-model writes it, by hand.

#ifndef SCANTLING_TESTS_VIEW_BOXES_H_
#define SCANTLING_TESTS_VIEW_BOXES_H_

#include <array>
#include <cmath>
#include <limits>
#include <random>

#include "server/scene/scene.h"
#include "server/view/view.h"

namespace scantling::view_test {

// Column-major, column vectors.
using Matrix = std::array<double, 16>;

struct Box {
  Vec3 centre = {};
  Vec3 a = {}, b = {}, c = {};  // half-axes
};

inline Vec3 Plus(const Vec3& p, const Vec3& q) { return {p[0] + q[0], p[1] + q[1], p[2] + q[2]}; }
inline Vec3 Minus(const Vec3& p, const Vec3& q) { return {p[0] - q[0], p[1] - q[1], p[2] - q[2]}; }
inline Vec3 Times(double s, const Vec3& p) { return {s * p[0], s * p[1], s * p[2]}; }
inline double Dot(const Vec3& p, const Vec3& q) { return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]; }
inline Vec3 Cross(const Vec3& p, const Vec3& q) {
  return {p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]};
}

inline Box Upright(Vec3 centre, double half_x, double half_y, double half_z) {
  return {centre, {half_x, 0, 0}, {0, half_y, 0}, {0, 0, half_z}};
}

// The local box [low, high] carried into the world.
inline Box Fold(const Matrix& m, const Vec3& low, const Vec3& high) {
  Box box;
  for (int i = 0; i < 3; ++i) {
    box.centre[i] = m[12 + i];
    for (int j = 0; j < 3; ++j) box.centre[i] += m[4 * j + i] * (low[j] + high[j]) / 2;
    box.a[i] = m[i] * (high[0] - low[0]) / 2;
    box.b[i] = m[4 + i] * (high[1] - low[1]) / 2;
    box.c[i] = m[8 + i] * (high[2] - low[2]) / 2;
  }
  return box;
}

inline PoseChunk EmptyChunk() {
  PoseChunk chunk;
  chunk.centre_x.resize(kChunkLanes);
  chunk.centre_y.resize(kChunkLanes);
  chunk.centre_z.resize(kChunkLanes);
  for (auto& column : chunk.axis) column.resize(kChunkLanes);
  return chunk;
}

// Returns the lane. Half-axes are rounded to float, as the chunk stores them.
inline int32_t Add(PoseChunk& chunk, const Box& box) {
  const auto lane = static_cast<size_t>(chunk.count++);
  chunk.centre_x[lane] = box.centre[0];
  chunk.centre_y[lane] = box.centre[1];
  chunk.centre_z[lane] = box.centre[2];
  for (size_t j = 0; j < 3; ++j) {
    chunk.axis[j][lane] = static_cast<float>(box.a[j]);
    chunk.axis[3 + j][lane] = static_cast<float>(box.b[j]);
    chunk.axis[6 + j][lane] = static_cast<float>(box.c[j]);
  }
  return static_cast<int32_t>(lane);
}

// The box as the chunk holds it, axes rounded.
inline Box Stored(const PoseChunk& chunk, size_t lane) {
  const auto axis = [&](size_t k) {
    return Vec3{chunk.axis[k][lane], chunk.axis[k + 1][lane], chunk.axis[k + 2][lane]};
  };
  return {{chunk.centre_x[lane], chunk.centre_y[lane], chunk.centre_z[lane]}, axis(0), axis(3), axis(6)};
}

inline PoseChunk ChunkOf(const Box& box) {
  PoseChunk chunk = EmptyChunk();
  Add(chunk, box);
  return chunk;
}

// At the origin, looking down -Z. Film 2 x 2 mm behind a 1 mm lens, picture 1000 x 1000: u = 500 + 500 x / depth,
// v = 500 - 500 y / depth, and the frustum is |x| <= depth, |y| <= depth.
inline Camera SquareCamera() {
  Camera camera;
  camera.window_width = camera.window_height = 2;
  camera.width_px = camera.height_px = 1000;
  camera.near_m = 0.5;
  camera.poses.resize(1);
  camera.poses[0].focal_mm = 1;
  return camera;
}

// Window 10 x 10 m, picture 1000 x 1000: u = 500 + 100 x, v = 500 - 100 y.
inline Camera SquareOrthographic() {
  Camera camera = SquareCamera();
  camera.projection = Projection::kOrthographic;
  camera.window_width = camera.window_height = 10;
  return camera;
}

using Random = std::mt19937_64;

inline double Uniform(Random& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

// Sizes of things in one shot span decades; so do these.
inline double LogUniform(Random& random, double low, double high) {
  return std::exp(Uniform(random, std::log(low), std::log(high)));
}

// Rows are orthonormal, every orientation equally likely. Source: Shoemake, Uniform Random Rotations, Graphics Gems
// III, 1992: a quaternion of four normals.
inline std::array<Vec3, 3> RandomRotation(Random& random) {
  std::normal_distribution<double> normal;
  double x = normal(random), y = normal(random), z = normal(random), w = normal(random);
  const double length = std::sqrt(x * x + y * y + z * z + w * w);
  x /= length, y /= length, z /= length, w /= length;
  return {Vec3{1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)},
          Vec3{2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)},
          Vec3{2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)}};
}

inline Box RandomlyTurned(Random& random, const Vec3& centre, const Vec3& half) {
  const std::array<Vec3, 3> axes = RandomRotation(random);
  return {centre, Times(half[0], axes[0]), Times(half[1], axes[1]), Times(half[2], axes[2])};
}

// A camera somewhere, looking somewhere; anamorphic picture with a shifted window.
inline Camera RandomCamera(Random& random, Projection projection) {
  Camera camera;
  camera.projection = projection;
  const bool perspective = projection == Projection::kPerspective;
  camera.window_width = perspective ? 36 : 40;
  camera.window_height = perspective ? 18 : 20;
  camera.offset_x = Uniform(random, -4, 4);
  camera.offset_y = Uniform(random, -3, 3);
  camera.width_px = 2048;
  camera.height_px = 858;
  camera.near_m = 0.25;
  camera.far_m = Uniform(random, 0, 1) < 0.5 ? 120 : std::numeric_limits<double>::infinity();
  camera.overscan_px = Uniform(random, 0, 1) < 0.5 ? 0 : 64;
  camera.poses.resize(1);
  CameraPose& pose = camera.poses[0];
  pose.focal_mm = Uniform(random, 18, 80);
  pose.position_m = {Uniform(random, -50, 50), Uniform(random, -50, 50), Uniform(random, -50, 50)};
  const std::array<Vec3, 3> axes = RandomRotation(random);
  for (size_t i = 0; i < 9; ++i) pose.world_to_camera[i] = axes[i / 3][i % 3];
  return camera;
}

// From (x, y, depth) before the camera to the world.
inline Vec3 ToWorld(const CameraPose& pose, double x, double y, double depth) {
  const auto& r = pose.world_to_camera;
  Vec3 p = pose.position_m;
  for (size_t j = 0; j < 3; ++j) p[j] += r[j] * x + r[3 + j] * y - r[6 + j] * depth;
  return p;
}

}  // namespace scantling::view_test

#endif  // SCANTLING_TESTS_VIEW_BOXES_H_
