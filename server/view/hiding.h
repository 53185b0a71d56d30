// What is hidden: a small hierarchical depth map per camera and frame, conservative both ways.
//
// An occluder fills only cells it covers fully, at its farthest depth there; an object counts as hidden only where
// every cell it touches is nearer-covered. So no object is ever called hidden that a ray reaches. What is lost is some
// hiding at outlines, less of it the finer the map.
//
// Occluders are the inner boxes (a share of the outer one, about the same centre) or the meshes that objects carry.
// Openings are holes in them: cells an opening touches are not filled by its own object. So a house hides its tenants
// but where a window stands before them. An object never hides itself: its nearest depth is not behind its own solid.
//
// The map covers the image plus overscan. A mask (a title, a matte) hides whatever lies wholly under it, however near.
//
// Source: Greene, Kass & Miller, Hierarchical Z-buffer visibility, SIGGRAPH 1993.

#ifndef SCANTLING_SERVER_VIEW_HIDING_H_
#define SCANTLING_SERVER_VIEW_HIDING_H_

#include <cstddef>
#include <cstdint>
#include <vector>

#include "server/scene/scene.h"
#include "server/view/hiding_kernel.h"
#include "server/view/outline.h"
#include "server/view/solid.h"
#include "server/view/view.h"

namespace scantling {

struct HidingOptions {
  int32_t most_occluders = 200;  // per camera and frame, those of largest projected area first; ties in canonical order
  double smallest_px = 1;        // covered area that matters, px^2: cells have twice its side
  int32_t most_columns = 512;  // of the finest level, but cells are never finer than asked for; rows follow the picture
};

// Whether an object can hide others: it has geometry, and an inner box above 0 or a mesh.
bool HidesOthers(const Scene& scene, uint32_t row);

// Objects that can hide others, found once per shot; whether there is anything to do at all.
struct Occluders {
  std::vector<uint32_t> object;  // rows with an inner box above 0 or a mesh, in canonical order
  bool masks = false;            // some camera has masks
  bool empty() const { return object.empty() && !masks; }
};
Occluders OccludersOf(const Scene& scene);

// Inverse depths (perspective: 1 / metres; orthographic: minus depth) per cell, larger is nearer; level 0 is the
// finest, each next level holds the least of 2 x 2. A cell never covered holds the least value.
class DepthMap {
 public:
  DepthMap() = default;
  DepthMap(const Scene& scene, const Occluders& occluders, size_t camera, int32_t frame_index,
           const HidingOptions& options);

  // Whether the two hide the same of everything, cell by cell.
  bool SameAs(const DepthMap& other) const;

  bool empty() const;  // no occluder and no mask in this frame: everything is visible
  size_t bytes() const;

  // Bytes a map of this camera takes at most: for deciding how many are kept at once.
  static size_t MostBytes(const Camera& camera, const HidingOptions& options);

  // Sets `visible` of every lane of the block that is in frame: the share of the object's outline in the picture that
  // is not hidden, 0 only where certainly hidden. A box that crosses the near plane is weighed by its rectangle, and
  // only masks hide all of it. `view` is the camera and frame of the map, `block` what MeasureChunk gave for them.
  // Thread-safe.
  void FindVisible(const PoseChunk& chunk, int32_t frame_index, const CameraView& view, ViewBlock& block) const;

 private:
  void LayOccluders(const Scene& scene, const Occluders& occluders, int32_t frame_index, const CameraView& view,
                    const HidingOptions& options);
  void LayMasks(const Camera& camera, int32_t frame);

  CellGrid grid_;
  CellPyramid pyramid_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_VIEW_HIDING_H_
