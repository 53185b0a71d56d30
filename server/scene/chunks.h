// Fills chunks with folded boxes: objects that stay together, objects that move in chunks of their own.

#ifndef SCANTLING_SERVER_SCENE_CHUNKS_H_
#define SCANTLING_SERVER_SCENE_CHUNKS_H_

#include <cstdint>
#include <vector>

#include "server/scene/pose.h"
#include "server/scene/scene.h"

namespace scantling {

struct ChunkPlace {
  uint32_t chunk = kNone;
  uint16_t lane = 0;
};

class ChunkWriter {
 public:
  // A place for object `row`, in a chunk of `frames` frames (1: it stays). Chunks fill up in the order of calls.
  ChunkPlace Open(uint32_t row, int32_t frames);

  void Put(ChunkPlace place, int32_t frame_index, const FoldedBox& box);

  std::vector<PoseChunk> Take() { return std::move(chunks_); }

 private:
  std::vector<PoseChunk> chunks_;
  uint32_t still_ = kNone, moving_ = kNone;  // chunks being filled
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_CHUNKS_H_
