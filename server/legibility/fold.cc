// The two faces of the fold: objects of a chunk, and objects the caller measured that have no geometry at all.
//
// Measured objects have no chunk to come in, so they are taken in runs of as many as a chunk holds: memory stays that
// of one chunk whatever their number.

#include <algorithm>

#include "server/legibility/lane_fold.h"

namespace scantling {

FoldScratch::FoldScratch() : data_(new Data) {}

FoldScratch::~FoldScratch() = default;

struct ChunkFold::State {
  LaneFold lanes;
};

ChunkFold::ChunkFold(const ShotOptics& optics, const PoseChunk& chunk)
    : state_(new State{LaneFold(optics, std::span(chunk.object).first(static_cast<size_t>(chunk.count)), &chunk)}) {}

ChunkFold::~ChunkFold() = default;

void ChunkFold::Add(int32_t frame_index, std::span<const ViewBlock> blocks, FoldScratch& scratch) {
  state_->lanes.Add(frame_index, blocks, scratch.data());
}

std::vector<LaneFindings> ChunkFold::Finish(Legibility& columns) { return state_->lanes.Finish(columns); }

std::vector<LaneFindings> FoldMeasured(const ShotOptics& optics, std::span<const uint32_t> objects,
                                       Legibility& columns) {
  std::vector<LaneFindings> findings;
  findings.reserve(objects.size());
  FoldScratch scratch;
  while (!objects.empty()) {
    const std::span<const uint32_t> run = objects.first(std::min<size_t>(objects.size(), kChunkLanes));
    objects = objects.subspan(run.size());
    LaneFold lanes(optics, run, nullptr);
    for (int32_t frame_index = 0; frame_index < optics.scene->frames.count(); ++frame_index) {
      lanes.Add(frame_index, {}, scratch.data());
    }
    for (LaneFindings& of_object : lanes.Finish(columns)) findings.push_back(std::move(of_object));
  }
  return findings;
}

}  // namespace scantling
