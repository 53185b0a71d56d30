// A change taken into a scene: SceneBuilder::FinishOnto(base, removed ids).
//
// The builder is given the header as it is to be (the old one again where nothing of it changed) and the objects that
// are new or take the place of those with their ids. The merged scene then is what one builder would have made of all
// objects together: the same rows but for their order, the same faults. `base` is not touched, and shares its poses
// with the merged scene: merging costs the change and a pass over the columns, some 3 ms at 100,000 objects.
//
// Faults beside the builder's own:
//   removed_ids[i]   names nothing, twice, an object sent in the same change, or one that still holds others
//   frames           reach beyond the base's while something that moves or was measured was not sent again. Within them
//                    tracks, drawings, beats and sights are cut to the new frames
//   cameras[i].id    is new to an object with measured figures that was not sent again
// Where a fault was recorded the merged scene is not to be used; the base is as it was.
//
// Lanes that objects leave stay behind in their chunks (PoseChunk::object is kNone) until the chunk is empty, or
// enough such chunks have come together to be packed anew.

#ifndef SCANTLING_SERVER_SCENE_MERGE_H_
#define SCANTLING_SERVER_SCENE_MERGE_H_

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/scene.h"

namespace scantling {

// Row of an id. O(log n) comparisons.
std::optional<uint32_t> RowOfId(const Objects& objects, std::string_view id);

// A column with one entry an object, for rows that moved: was[row] is the row an object had, kNone: it is new, and gets
// `fresh`.
template <typename T>
std::vector<T> MovedColumn(std::span<const uint32_t> was, const std::vector<T>& column, const T& fresh) {
  std::vector<T> moved(was.size(), fresh);
  for (size_t row = 0; row < was.size(); ++row) {
    if (was[row] != kNone) moved[row] = column[was[row]];
  }
  return moved;
}

// Lanes in use of a chunk that no object has left.
int32_t LiveLanes(const PoseChunk& chunk);

// The lanes of some objects, copied into chunks of their own: measured there, they give what they give where they are.
// Objects without geometry are left out. O(objects * frames).
std::vector<PoseChunk> CopyLanes(const Scene& scene, const std::vector<uint32_t>& rows);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_MERGE_H_
