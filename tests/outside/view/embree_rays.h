// What rays see of the boxes of a scene, by Embree: the yardstick of hiding.
//
// One frame of them. Occluders (inner boxes and meshes, openings left as they are) are triangles of an Embree scene;
// rays leave the eye through random places of the picture inside the rectangle of an object and count where they meet
// its box within the picture. Source of the library: Wald et al., Embree: a kernel framework for efficient CPU ray
// tracing, 2014.

#ifndef SCANTLING_TESTS_OUTSIDE_VIEW_EMBREE_RAYS_H_
#define SCANTLING_TESTS_OUTSIDE_VIEW_EMBREE_RAYS_H_

#include <embree3/rtcore.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "server/scene/scene.h"
#include "server/view/view.h"

namespace scantling::view_test {

class EmbreeRays {
 public:
  explicit EmbreeRays(const Scene& scene, int32_t frame_index = 0)
      : scene_(scene), frame_index_(frame_index), view_(ViewOf(scene.cameras[0], frame_index)) {
    device_ = rtcNewDevice(nullptr);
    embree_ = rtcNewScene(device_);
    rtcSetSceneFlags(embree_, RTC_SCENE_FLAG_ROBUST);
    for (uint32_t row = 0; row < scene.objects.class_index.size(); ++row) AddSolid(row);
    rtcCommitScene(embree_);
  }
  ~EmbreeRays() {
    rtcReleaseScene(embree_);
    rtcReleaseDevice(device_);
  }
  EmbreeRays(const EmbreeRays&) = delete;
  EmbreeRays& operator=(const EmbreeRays&) = delete;

  struct Count {
    int met = 0, reached = 0;  // rays that meet the box at all; those that nothing stops before
  };

  // `tries` rays through random places of the picture within the object's rectangle. `random` is advanced.
  Count Look(uint32_t row, int tries, std::mt19937_64& random) const;

  RTCScene embree() const { return embree_; }

 private:
  struct Ray {
    Vec3 from, along;
  };

  Vec3 At(uint32_t row, const std::array<double, 3>& place) const {
    const PoseChunk& chunk = scene_.chunks[scene_.objects.chunk[row]];
    const size_t lane = chunk.at(frame_index_, scene_.objects.lane[row]);
    Vec3 point = {chunk.centre_x[lane], chunk.centre_y[lane], chunk.centre_z[lane]};
    for (size_t axis = 0; axis < 3; ++axis) {
      for (size_t k = 0; k < 3; ++k) point[k] += place[axis] * chunk.axis[3 * axis + k][lane];
    }
    return point;
  }

  void AddSolid(uint32_t row);
  Ray Through(double u_px, double v_px) const;
  double EntryOf(uint32_t row, const Ray& ray) const;
  bool IsFree(const Ray& ray, double distance) const;

  const Scene& scene_;
  const int32_t frame_index_;
  const CameraView view_;
  RTCDevice device_;
  RTCScene embree_;
};

}  // namespace scantling::view_test

#endif  // SCANTLING_TESTS_OUTSIDE_VIEW_EMBREE_RAYS_H_
