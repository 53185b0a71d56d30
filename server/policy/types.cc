// The few look-ups that go with the plain structs of policy.
//
// Depth curves are short (a handful of points) and are evaluated once per object, frame and camera, so they are
// walked rather than tabulated. They run straight in log2(depth): depth in a picture is a ratio, and a studio that
// draws "twice as soft at twice the distance" means octaves, not metres. Beyond both ends a curve is level, so that an
// infinite depth (an orthographic sky, a missing focus distance) has a value.
//
// The class and style look-ups are linear: a catalogue has tens of classes, and the border resolves names once per
// class and not once per object.

#include "server/policy/types.h"

#include <algorithm>
#include <cmath>

namespace scantling {

double Evaluate(const DepthCurve& curve, double depth_m) {
  const std::vector<DepthCurve::Point>& points = curve.points;
  if (points.empty()) return 0;
  const auto above =
      std::upper_bound(points.begin(), points.end(), depth_m,
                       [](double depth, const DepthCurve::Point& point) { return depth < point.depth_m; });
  if (above == points.begin()) return points.front().picture_heights;
  if (above == points.end()) return points.back().picture_heights;
  const DepthCurve::Point& near = *(above - 1);
  const double share = std::log2(depth_m / near.depth_m) / std::log2(above->depth_m / near.depth_m);
  return near.picture_heights + share * (above->picture_heights - near.picture_heights);
}

std::optional<uint16_t> ClassCatalogue::Find(std::string_view name) const {
  const auto found = std::find_if(classes.begin(), classes.end(), [&](const ObjectClass& c) { return c.name == name; });
  if (found == classes.end()) return std::nullopt;
  return static_cast<uint16_t>(found - classes.begin());
}

HoldBounds HoldBoundsOf(const Style& style, const ObjectClass& object_class) {
  for (const auto& [name, bounds] : style.class_holds) {
    if (name == object_class.name) return bounds;
  }
  return object_class.hold;
}

const Style* Policy::FindStyle(std::string_view name) const {
  const auto found = std::find_if(styles.begin(), styles.end(), [&](const Style& s) { return s.name == name; });
  return found == styles.end() ? nullptr : &*found;
}

}  // namespace scantling
