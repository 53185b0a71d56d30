// The part of merging two scenes that hangs on the frames of the shot: poses, measured figures, lists of frames.
//
// Private to scene/.

#ifndef SCANTLING_SERVER_SCENE_RETRACK_H_
#define SCANTLING_SERVER_SCENE_RETRACK_H_

#include <cstdint>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Rows of the merged scene.
struct MergePlaces {
  std::vector<uint32_t> of_base;   // per row of the base; kNone: removed
  std::vector<uint32_t> of_patch;  // per row of the patch
  std::vector<uint8_t> replaced;   // per row of the base: 1 where it was sent again
};

struct RetrackInput {
  const Scene& base;
  const Scene& patch;
  const MergePlaces& places;
  bool rows_moved = false;
  const SceneLimits& limits;
  Violations& violations;
};

// Fills chunks, measured figures and particulars of `scene` and the columns that point into them. Its header stands,
// and its other columns.
void Retrack(const RetrackInput& input, std::vector<PoseChunk> patch_chunks, Scene& scene);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_RETRACK_H_
