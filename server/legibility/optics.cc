// What is the same for every object: camera views, floor contexts and points of interest of every camera and frame.
//
// Built once per plan and then only read, so that no thread works out a camera twice. A point of interest that is an
// object follows that object's projected centre; one without geometry, or behind the eye, is nowhere in the picture and
// draws no look.

#include <algorithm>
#include <cmath>
#include <tuple>

#include "server/legibility/legibility.h"

namespace scantling {
namespace {

// NaN where the object has no geometry.
std::array<double, 2> CentreOf(const Scene& scene, uint32_t object, int32_t frame_index, const CameraView& view) {
  const uint32_t chunk = scene.objects.chunk[object];
  if (chunk == kNone) return {std::nan(""), std::nan("")};
  return ProjectCentre(scene.chunks[chunk], scene.objects.lane[object], frame_index, view);
}

std::vector<CrowdPlace> CrowdPlaces(const Scene& scene) {
  std::vector<CrowdPlace> places;
  for (uint32_t crowd = 0; crowd < scene.crowds.size(); ++crowd) {
    const std::vector<uint32_t>& members = scene.crowds[crowd].members;
    for (uint32_t member = 0; member < members.size(); ++member) places.push_back({members[member], crowd, member});
  }
  std::sort(places.begin(), places.end(), [](const CrowdPlace& a, const CrowdPlace& b) {
    return std::tie(a.row, a.crowd) < std::tie(b.row, b.crowd);
  });
  return places;
}

}  // namespace

std::vector<InterestPoint> InterestPoints(const Scene& scene, size_t camera, int32_t frame_index,
                                          const CameraView& view) {
  std::vector<InterestPoint> points;
  const Camera& delivered = scene.cameras[camera];
  for (const PointOfInterest& point : scene.interest) {
    if (!point.frames.contains(scene.frames.first + frame_index)) continue;
    if (point.object == kNone) {
      points.push_back({point.x * delivered.width_px, point.y * delivered.height_px});
      continue;
    }
    const std::array<double, 2> centre = CentreOf(scene, point.object, frame_index, view);
    if (!std::isnan(centre[0]) && !std::isnan(centre[1])) points.push_back({centre[0], centre[1]});
  }
  return points;
}

ShotOptics OpticsOf(const Scene& scene, const ClassCatalogue& catalogue, const Style& style) {
  ShotOptics optics;
  optics.scene = &scene;
  optics.catalogue = &catalogue;
  optics.style = &style;
  optics.occluders = OccludersOf(scene);
  optics.hiding.smallest_px = style.smallest_covered_px;
  const size_t count = scene.cameras.size() * static_cast<size_t>(scene.frames.count());
  optics.views.reserve(count);
  optics.floors.reserve(count);
  optics.interest.reserve(count);
  for (size_t camera = 0; camera < scene.cameras.size(); ++camera) {
    for (int32_t frame_index = 0; frame_index < scene.frames.count(); ++frame_index) {
      const CameraView view = ViewOf(scene.cameras[camera], frame_index);
      optics.floors.push_back(FloorContextOf(style, scene.cameras[camera], frame_index));
      optics.interest.push_back(InterestPoints(scene, camera, frame_index, view));
      optics.views.push_back(view);
    }
  }
  optics.crowd_places = CrowdPlaces(scene);
  return optics;
}

}  // namespace scantling
