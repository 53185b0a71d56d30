// The two faces of the fold: objects of a chunk, and objects the caller measured that have no geometry at all.
//
// Measured objects have no chunk to come in, so they are taken in runs of as many as a chunk holds: memory stays that
// of one chunk whatever their number.

#include <algorithm>

#include "server/legibility/lane_fold.h"

namespace scantling {

struct ChunkFold::State {
  LaneFold lanes;
};

ChunkFold::ChunkFold(const ShotOptics& optics, const PoseChunk& chunk)
    : state_(new State{LaneFold(optics, std::span(chunk.object).first(static_cast<size_t>(chunk.count)), &chunk)}) {}

ChunkFold::~ChunkFold() = default;

void ChunkFold::Add(int32_t frame_index, std::span<const ViewBlock> blocks) { state_->lanes.Add(frame_index, blocks); }

std::vector<FrameSpans> ChunkFold::Finish(Legibility& columns) { return state_->lanes.Finish(columns); }

std::vector<FrameSpans> FoldMeasured(const ShotOptics& optics, std::span<const uint32_t> objects, Legibility& columns) {
  std::vector<FrameSpans> spans;
  spans.reserve(objects.size());
  while (!objects.empty()) {
    const std::span<const uint32_t> run = objects.first(std::min<size_t>(objects.size(), kChunkLanes));
    objects = objects.subspan(run.size());
    LaneFold lanes(optics, run, nullptr);
    for (int32_t frame_index = 0; frame_index < optics.scene->frames.count(); ++frame_index) {
      lanes.Add(frame_index, {});
    }
    for (FrameSpans& of_object : lanes.Finish(columns)) spans.push_back(std::move(of_object));
  }
  return spans;
}

}  // namespace scantling
