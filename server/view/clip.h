// Convex polygons in camera space: cut by a half-space, measured in the picture.

#ifndef SCANTLING_SERVER_VIEW_CLIP_H_
#define SCANTLING_SERVER_VIEW_CLIP_H_

#include <array>

#include "server/view/frustum.h"

namespace scantling {

// Corners in order, closed from the last to the first. A cut by one half-space adds at most one corner to a convex
// polygon; a face (4) meets at most six frustum sides and four more of the delivered window: 14.
struct ConvexPolygon {
  static constexpr int kCapacity = 24;
  std::array<Vec3, kCapacity> corner;
  int size = 0;

  void Add(const Vec3& point) {
    // Rounding may make a polygon thinner than its own error wriggle through a plane; what does not fit is such a
    // wriggle, and leaving it out changes nothing that can be measured.
    if (size < kCapacity) corner[size++] = point;
  }
};

// Keeps what lies inside; points on the plane are inside. Polygons shrunk to a segment or a point are cut like any.
void Cut(const HalfSpace& inside, ConvexPolygon& polygon);

// Area in the picture, in units of (x / depth) * (y / depth) for a perspective camera and of x * y for an orthographic
// one: multiply by scale_u * scale_v for px^2. A perspective camera wants depth > 0 at every corner.
double PictureArea(Projection projection, const ConvexPolygon& polygon);

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_CLIP_H_
