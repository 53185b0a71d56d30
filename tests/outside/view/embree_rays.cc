// Rays in double up to where they meet the object, in float inside Embree. What stops a ray within five millionths of
// its length before the object counts as the object's own surface: floats err by some tenths of a millionth, and hiding
// has a margin of two millionths.

#include "tests/outside/view/embree_rays.h"

#include <algorithm>
#include <limits>

#include "tests/view/hiding_shot.h"

namespace scantling::view_test {
namespace {

constexpr double kOwnSurface = 5e-6;

}  // namespace

void EmbreeRays::AddSolid(uint32_t row) {
  OccluderMesh mesh;
  const uint32_t particulars = scene_.objects.particulars[row];
  if (particulars != kNone) mesh = scene_.particulars[particulars].mesh;
  if (mesh.triangles.empty() && scene_.objects.inner_box[row] > 0) mesh = BoxMesh(scene_.objects.inner_box[row]);
  if (mesh.triangles.empty()) return;
  RTCGeometry geometry = rtcNewGeometry(device_, RTC_GEOMETRY_TYPE_TRIANGLE);
  auto* vertices = static_cast<float*>(rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3,
                                                               3 * sizeof(float), mesh.vertices.size()));
  for (size_t i = 0; i < mesh.vertices.size(); ++i) {
    const Vec3 point = At(row, {mesh.vertices[i][0], mesh.vertices[i][1], mesh.vertices[i][2]});
    for (size_t k = 0; k < 3; ++k) vertices[3 * i + k] = static_cast<float>(point[k]);
  }
  auto* triangles = static_cast<uint32_t*>(rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3,
                                                                   3 * sizeof(uint32_t), mesh.triangles.size()));
  for (size_t i = 0; i < mesh.triangles.size(); ++i) {
    std::copy(mesh.triangles[i].begin(), mesh.triangles[i].end(), triangles + 3 * i);
  }
  rtcCommitGeometry(geometry);
  rtcAttachGeometry(embree_, geometry);
  rtcReleaseGeometry(geometry);
}

// Perspective: from the eye, `along` of depth 1, so that lengths along it are depths. Orthographic: from the camera's
// plane.
EmbreeRays::Ray EmbreeRays::Through(double u_px, double v_px) const {
  const double x = (u_px - view_.centre_u) / view_.scale_u, y = (view_.centre_v - v_px) / view_.scale_v;
  const std::array<double, 9>& r = view_.world_to_camera;
  const auto world = [&](double cx, double cy, double cz) {
    return Vec3{cx * r[0] + cy * r[3] + cz * r[6], cx * r[1] + cy * r[4] + cz * r[7],
                cx * r[2] + cy * r[5] + cz * r[8]};
  };
  if (view_.projection == Projection::kPerspective) return {view_.position_m, world(x, y, -1)};
  const Vec3 across = world(x, y, 0);
  return {Plus(view_.position_m, across), world(0, 0, -1)};
}

// Depth at which the ray enters the box beyond the near plane; infinity where it misses. Slabs in box coordinates.
double EmbreeRays::EntryOf(uint32_t row, const Ray& ray) const {
  const PoseChunk& chunk = scene_.chunks[scene_.objects.chunk[row]];
  const Box box = Stored(chunk, chunk.at(frame_index_, scene_.objects.lane[row]));
  const Vec3 from = Minus(ray.from, box.centre);
  double entry = view_.near_m, exit = std::numeric_limits<double>::infinity();
  const std::array<Vec3, 3> axes = {box.a, box.b, box.c};
  for (size_t k = 0; k < 3; ++k) {
    const Vec3 normal = Cross(axes[(k + 1) % 3], axes[(k + 2) % 3]);
    const double half = std::abs(Dot(normal, axes[k])), start = Dot(normal, from), slope = Dot(normal, ray.along);
    if (slope == 0) {
      if (std::abs(start) > half) return std::numeric_limits<double>::infinity();
      continue;
    }
    const double one = (-half - start) / slope, other = (half - start) / slope;
    entry = std::max(entry, std::min(one, other));
    exit = std::min(exit, std::max(one, other));
  }
  return entry <= exit ? entry : std::numeric_limits<double>::infinity();
}

bool EmbreeRays::IsFree(const Ray& ray, double distance) const {
  RTCIntersectContext context;
  rtcInitIntersectContext(&context);
  RTCRay query = {};
  query.org_x = static_cast<float>(ray.from[0]);
  query.org_y = static_cast<float>(ray.from[1]);
  query.org_z = static_cast<float>(ray.from[2]);
  query.dir_x = static_cast<float>(ray.along[0]);
  query.dir_y = static_cast<float>(ray.along[1]);
  query.dir_z = static_cast<float>(ray.along[2]);
  query.tnear = static_cast<float>(view_.near_m);
  query.tfar = static_cast<float>(distance * (1 - kOwnSurface));
  query.mask = 0xffffffffu;
  if (query.tfar <= query.tnear) return true;
  rtcOccluded1(embree_, &context, &query);
  return query.tfar >= 0;
}

EmbreeRays::Count EmbreeRays::Look(uint32_t row, int tries, std::mt19937_64& random) const {
  double left = view_.width_px + view_.overscan_px, right = -view_.overscan_px;
  double top = view_.height_px + view_.overscan_px, bottom = -view_.overscan_px;
  const auto corners =
      ProjectCorners(scene_.chunks[scene_.objects.chunk[row]], scene_.objects.lane[row], frame_index_, view_);
  if (corners) {
    const double most_u = left, most_v = top, least = right;
    for (const auto& [u, v] : *corners) {
      left = std::clamp(u, least, left);
      right = std::clamp(u, right, most_u);
      top = std::clamp(v, least, top);
      bottom = std::clamp(v, bottom, most_v);
    }
  } else {
    std::swap(left, right);
    std::swap(top, bottom);
  }
  std::uniform_real_distribution<double> u(left, std::max(left, right)), v(top, std::max(top, bottom));
  Count count;
  for (int i = 0; i < tries; ++i) {
    const double at_u = u(random), at_v = v(random);
    const Ray ray = Through(at_u, at_v);
    const double entry = EntryOf(row, ray);
    if (!std::isfinite(entry) || entry > view_.far_m) continue;
    ++count.met;
    count.reached += IsFree(ray, entry);
  }
  return count;
}

}  // namespace scantling::view_test
