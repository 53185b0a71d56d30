// Cutting convex polygons by half-spaces, one after another.
//
// Each edge that crosses the plane gives one new corner, always computed from the inside end to the outside end: two
// faces that share an edge then get bitwise the same corner, and leave neither gap nor overlap between them.
// Source: Sutherland & Hodgman, Reentrant Polygon Clipping, CACM 17(1), 1974.
//
// Areas are taken about the first corner of the polygon, so that a small polygon far from the centre of the picture
// does not lose its digits (the shoelace formula about the origin would).

#include "server/view/clip.h"

#include <cmath>

namespace scantling {
namespace {

double SignedDistance(const HalfSpace& half_space, const Vec3& p) {
  return half_space.normal[0] * p[0] + half_space.normal[1] * p[1] + half_space.normal[2] * p[2] + half_space.offset;
}

// Where the edge from an inside point (distance >= 0) to an outside one (distance < 0) meets the plane.
Vec3 Crossing(const Vec3& inside, double inside_distance, const Vec3& outside, double outside_distance) {
  const double t = inside_distance / (inside_distance - outside_distance);
  return {inside[0] + t * (outside[0] - inside[0]), inside[1] + t * (outside[1] - inside[1]),
          inside[2] + t * (outside[2] - inside[2])};
}

std::array<double, 2> InPicture(Projection projection, const Vec3& p) {
  if (projection == Projection::kOrthographic) return {p[0], p[1]};
  return {p[0] / p[2], p[1] / p[2]};
}

}  // namespace

void Cut(const HalfSpace& inside, ConvexPolygon& polygon) {
  if (polygon.size == 0) return;
  ConvexPolygon kept;
  Vec3 from = polygon.corner[polygon.size - 1];
  double from_distance = SignedDistance(inside, from);
  for (int i = 0; i < polygon.size; ++i) {
    const Vec3& to = polygon.corner[i];
    const double to_distance = SignedDistance(inside, to);
    if (from_distance >= 0 && to_distance < 0) kept.Add(Crossing(from, from_distance, to, to_distance));
    if (from_distance < 0 && to_distance >= 0) kept.Add(Crossing(to, to_distance, from, from_distance));
    if (to_distance >= 0) kept.Add(to);
    from = to;
    from_distance = to_distance;
  }
  // Only the corners in use: copying the whole array cost more than the cut.
  for (int i = 0; i < kept.size; ++i) polygon.corner[i] = kept.corner[i];
  polygon.size = kept.size;
}

double PictureArea(Projection projection, const ConvexPolygon& polygon) {
  if (polygon.size < 3) return 0;
  const std::array<double, 2> first = InPicture(projection, polygon.corner[0]);
  std::array<double, 2> before = {0, 0};
  double twice = 0;
  for (int i = 1; i < polygon.size; ++i) {
    const std::array<double, 2> p = InPicture(projection, polygon.corner[i]);
    const std::array<double, 2> now = {p[0] - first[0], p[1] - first[1]};
    twice += before[0] * now[1] - before[1] * now[0];
    before = now;
  }
  return std::abs(twice) / 2;
}

}  // namespace scantling
