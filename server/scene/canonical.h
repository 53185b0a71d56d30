// The order by id, bytewise, that every answer goes by.

#ifndef SCANTLING_SERVER_SCENE_CANONICAL_H_
#define SCANTLING_SERVER_SCENE_CANONICAL_H_

#include <cstdint>
#include <vector>

#include "server/scene/scene.h"

namespace scantling {

// Rows by id, bytewise, shorter first where one is the beginning of the other; equal ids (only in a faulty scene) by
// row. Ids must hold no NUL. O(n log n) eight-byte comparisons for each eight bytes that runs of ids have in common.
std::vector<uint32_t> CanonicalOrder(const StringColumn& ids);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_CANONICAL_H_
