// Crowds: what can be said of them before the objects are known.

#ifndef SCANTLING_SERVER_SCENE_CROWDS_H_
#define SCANTLING_SERVER_SCENE_CROWDS_H_

#include <vector>

#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/units/violations.h"

namespace scantling {

inline constexpr int32_t kMostCells = 64;  // of a crowd

// Names, shares and cells. Faults go to `violations` with field paths ("crowds[0].keep_share").
void CheckCrowds(const std::vector<CrowdSpec>& crowds, const SceneLimits& limits, const ClassCatalogue& catalogue,
                 Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_CROWDS_H_
