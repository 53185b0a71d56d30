// A scene of boxes for the tests of hiding: some hide others, some carry meshes or openings.

#ifndef SCANTLING_TESTS_VIEW_HIDING_SHOT_H_
#define SCANTLING_TESTS_VIEW_HIDING_SHOT_H_

#include <array>
#include <string>
#include <utility>
#include <vector>

#include "server/scene/scene.h"
#include "server/view/hiding.h"
#include "server/view/view.h"
#include "tests/view/boxes.h"

namespace scantling::view_test {

class HidingShot {
 public:
  explicit HidingShot(Camera camera = SquareCamera()) {
    scene_.frames = {1, 1};
    scene_.cameras = {std::move(camera)};
    scene_.pictures = 1;
  }

  // Rows in the order of calls; at most kChunkLanes a chunk.
  uint32_t Add(const Box& box, double inner_box = 0) {
    Objects& objects = scene_.objects;
    const auto row = static_cast<uint32_t>(objects.class_index.size());
    if (scene_.chunks.empty() || scene_.chunks.back().count == kChunkLanes) scene_.chunks.push_back(EmptyChunk());
    PoseChunk& chunk = scene_.chunks.back();
    chunk.object[static_cast<size_t>(chunk.count)] = row;
    const int32_t lane = view_test::Add(chunk, box);
    objects.id.Append(std::to_string(row));
    objects.class_index.push_back(0);
    objects.chunk.push_back(static_cast<uint32_t>(scene_.chunks.size() - 1));
    objects.lane.push_back(static_cast<uint16_t>(lane));
    objects.inner_box.push_back(static_cast<float>(inner_box));
    objects.particulars.push_back(kNone);
    objects.canonical.push_back(row);
    return row;
  }

  Particulars& particulars(uint32_t row) {
    if (scene_.objects.particulars[row] == kNone) {
      scene_.objects.particulars[row] = static_cast<uint32_t>(scene_.particulars.size());
      scene_.particulars.emplace_back();
      scene_.particulars.back().object = row;
    }
    return scene_.particulars[scene_.objects.particulars[row]];
  }

  Scene& scene() { return scene_; }
  DepthMap Map(const HidingOptions& options = {}) const { return {scene_, OccludersOf(scene_), 0, 0, options}; }

  // Visible fraction by row; -1 where not in frame.
  std::vector<double> Visible(const HidingOptions& options = {}) const {
    const DepthMap map = Map(options);
    const CameraView view = ViewOf(scene_.cameras[0], 0);
    std::vector<double> visible(scene_.objects.class_index.size());
    ViewBlock block;
    for (const PoseChunk& chunk : scene_.chunks) {
      MeasureChunk(chunk, 0, view, block);
      map.FindVisible(chunk, 0, view, block);
      for (size_t lane = 0; lane < static_cast<size_t>(chunk.count); ++lane) {
        visible[chunk.object[lane]] = (block.flags[lane] & kInFrame) != 0 ? double{block.visible[lane]} : -1;
      }
    }
    return visible;
  }

 private:
  Scene scene_;
};

// A mask over all frames, in shares of the picture.
inline Mask Cover(double left, double top, double right, double bottom) {
  Mask mask;
  mask.left = left;
  mask.top = top;
  mask.right = right;
  mask.bottom = bottom;
  return mask;
}

// The unit box as twelve triangles, in box coordinates, `share` as large.
inline OccluderMesh BoxMesh(float share) {
  OccluderMesh mesh;
  for (int k = 0; k < 8; ++k) {
    mesh.vertices.push_back(
        {(k & 1) != 0 ? share : -share, (k & 2) != 0 ? share : -share, (k & 4) != 0 ? share : -share});
  }
  for (const std::array<uint32_t, 4>& face : std::vector<std::array<uint32_t, 4>>{
           {0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}}) {
    mesh.triangles.push_back({face[0], face[1], face[2]});
    mesh.triangles.push_back({face[0], face[2], face[3]});
  }
  return mesh;
}

}  // namespace scantling::view_test

#endif  // SCANTLING_TESTS_VIEW_HIDING_SHOT_H_
