// Two chunks are open at any time, one for objects that stay and one for objects that move; a full one is left behind
// and a new one begun. Columns are allocated whole and zeroed, so unused lanes hold zeros, as the view kernel expects.

#include "server/scene/chunks.h"

namespace scantling {
namespace {

PoseChunk EmptyChunk(int32_t frames) {
  PoseChunk chunk;
  chunk.frames = frames;
  const size_t lanes = static_cast<size_t>(frames) * kChunkLanes;
  chunk.centre_x.resize(lanes);
  chunk.centre_y.resize(lanes);
  chunk.centre_z.resize(lanes);
  for (SharedColumn<float>& axis : chunk.axis) axis.resize(lanes);
  return chunk;
}

}  // namespace

ChunkPlace ChunkWriter::Open(uint32_t row, int32_t frames) {
  uint32_t& open = frames == 1 ? still_ : moving_;
  if (open == kNone || chunks_[open].count == kChunkLanes) {
    open = static_cast<uint32_t>(chunks_.size());
    chunks_.push_back(EmptyChunk(frames));
  }
  PoseChunk& chunk = chunks_[open];
  const auto lane = static_cast<uint16_t>(chunk.count++);
  chunk.object[lane] = row;
  return {open, lane};
}

void ChunkWriter::Put(ChunkPlace place, int32_t frame_index, const FoldedBox& box) {
  PoseChunk& chunk = chunks_[place.chunk];
  const size_t at = chunk.at(frame_index, place.lane);
  chunk.centre_x[at] = box.centre[0];
  chunk.centre_y[at] = box.centre[1];
  chunk.centre_z[at] = box.centre[2];
  for (size_t i = 0; i < 9; ++i) chunk.axis[i][at] = box.axis[i];
}

}  // namespace scantling
