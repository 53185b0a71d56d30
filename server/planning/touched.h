// What a change of a scene touches: what must be measured again.
//
// Measured figures of an object hang on its own record and poses, on those of what it stands in (its path is measured
// against them), on cameras, frames, style, backdrop, drawings and beats of the shot, on points of interest, on the
// crowds it is in, and on what hides it. Directives, budgets, spent hours and rates change nothing that is measured.

#ifndef SCANTLING_SERVER_PLANNING_TOUCHED_H_
#define SCANTLING_SERVER_PLANNING_TOUCHED_H_

#include <cstdint>
#include <vector>

#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/scene/scene.h"

namespace scantling {

struct Touched {
  bool everything = false;
  bool hiding = false;        // something that hides others changed, came or went
  bool crowds = false;        // crowds or their members changed: what is known of their cover is void
  std::vector<uint8_t> rows;  // per row of the merged scene: 1 where it must be measured again whatever hides it
};

struct SceneAndStyle {
  const Scene& scene;
  const Style* style;
};

// O(objects + members of crowds).
Touched TouchedBy(const SceneAndStyle& before, const MergedScene& merged, const Style* style);

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_TOUCHED_H_
