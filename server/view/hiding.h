// What is hidden: a small hierarchical depth map per camera and frame, conservative both ways.
//
// An occluder fills only cells it covers fully, at its farthest depth there; an object counts as hidden only where
// every cell it touches is nearer-covered. So no object is ever called hidden that a ray reaches. What is lost is some
// hiding at outlines, less of it the finer the map.
//
// Occluders are the inner boxes (a share of the outer one, about the same centre) or the meshes that objects carry. A
// container with openings hides what lies behind its faces except where an opening touches a cell: tenants are seen
// through their windows only. An object never hides itself: its nearest depth is not behind its own inner box.
//
// The map covers the image plus overscan and any masked region of the picture (a title, a matte: filled at depth 0).
//
// Source: Greene, Kass & Miller, Hierarchical Z-buffer visibility, SIGGRAPH 1993.

#ifndef SCANTLING_SERVER_VIEW_HIDING_H_
#define SCANTLING_SERVER_VIEW_HIDING_H_

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "server/scene/scene.h"
#include "server/view/view.h"

namespace scantling {

struct HidingOptions {
  int32_t most_occluders = 200;  // per camera and frame, those of largest projected area first; ties by id order
  double smallest_px = 1;       // smallest covered area that matters, px^2: sets the resolution together with the image
  int32_t most_columns = 1024;  // of the map; rows follow the aspect
};

// Objects that can hide others, found once per shot. Empty: nothing hides.
struct Occluders {
  std::vector<uint32_t> object;  // rows with an inner box or a mesh, in canonical order
};
Occluders OccludersOf(const Scene& scene);

// Inverse depths (1 / metres; orthographic: minus depth) per cell, larger is nearer; level 0 is the finest, each next
// level holds the least of 2 x 2. A cell never covered holds the least value.
class DepthMap {
 public:
  DepthMap() = default;
  DepthMap(const Scene& scene, const Occluders& occluders, size_t camera, int32_t frame_index,
           const HidingOptions& options);

  bool empty() const { return levels_.empty(); }  // no occluder and no mask in frame: everything is visible
  int32_t columns() const { return columns_; }
  int32_t rows() const { return rows_; }
  size_t bytes() const;

  // Share of an object's projected outline that is not hidden, 0..1, for every lane of the chunk that `measured` has in
  // frame; 1 where the box crosses the near plane. 0 only where certainly hidden. Thread-safe.
  void VisibleFractions(const PoseChunk& chunk, int32_t frame_index, const CameraView& view, const ViewBlock& measured,
                        std::span<float, kChunkLanes> visible) const;

 private:
  int32_t columns_ = 0, rows_ = 0;
  double cell_px_ = 1;               // a cell's side
  double left_px_ = 0, top_px_ = 0;  // of the map in picture coordinates
  std::vector<std::vector<float>> levels_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_HIDING_H_
