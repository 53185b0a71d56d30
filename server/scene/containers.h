// Containers: no object may hold itself, directly or through others.

#ifndef SCANTLING_SERVER_SCENE_CONTAINERS_H_
#define SCANTLING_SERVER_SCENE_CONTAINERS_H_

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "server/scene/scene.h"

namespace scantling {

// container[i]: row that holds row i, kNone for none. Returns every cycle as the rows on it, each held by the next and
// the last by the first, beginning with its lowest row; cycles in order of that row. Linear, no recursion.
std::vector<std::vector<uint32_t>> FindCycles(std::span<const uint32_t> container);

// A cycle's fault, its objects by their ids: "got a cycle of containers: ...".
std::string CycleFault(const std::vector<uint32_t>& cycle, const StringColumn& ids);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_CONTAINERS_H_
