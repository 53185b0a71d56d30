// The fold itself, over up to kChunkLanes objects that share a chunk, or that have none and were measured by the
// caller.
//
// Private to legibility/; ChunkFold and FoldMeasured are its two faces. Per camera and frame one branch-free pass picks
// the lanes that are seen; only those are read. Figures are summed at once. Set elements must wait, since the frame
// their painting is made for is known only when all frames are: what is needed of a seen frame (24 bytes) is kept, and
// the turn is worked out in Finish.
//
// Data layout: what every seen frame touches of a lane lies together (Hot), what only a new largest height touches
// apart from it (Peak), sums by picture. What a frame fills and empties again is in FoldScratch.

#ifndef SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_

#include <array>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "server/legibility/crowd_fold.h"
#include "server/legibility/fold_scratch.h"
#include "server/legibility/legibility.h"
#include "server/legibility/motion_fold.h"
#include "server/legibility/reading.h"

namespace scantling {

class LaneFold {
 public:
  // Lane i is object rows[i]; at most kChunkLanes. `chunk` is null for objects without geometry.
  LaneFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk);

  LaneFold(const LaneFold&) = delete;
  LaneFold& operator=(const LaneFold&) = delete;

  // Once per frame, in order; one block per camera, or none where there is no chunk.
  void Add(int32_t frame_index, std::span<const ViewBlock> blocks, FoldScratch::Data& scratch);

  // Once. Lane by lane.
  std::vector<LaneFindings> Finish(Legibility& columns);

 private:
  using Scratch = FoldScratch::Data;

  // What every seen frame touches of a lane.
  struct Hot {
    double peak = -1;  // largest height over floor; below any, so that the first seen frame is taken
    double rendered_px = 0;
    float near_m = std::numeric_limits<float>::infinity();
    float section_peak = 0;  // largest height over floor of the section being grown
    int32_t seen_camera_frames = 0;
    int32_t last_seen = -2;     // frame index
    int32_t section_first = 0;  // frame index where the section being grown begins
    int32_t hidden_frames = 0;
  };
  // Where height over floor was largest.
  struct Peak {
    double log2_height_over_floor = 0, height_px = 0, floor_px = 0;
    float depth_m = 0, visible = 0;
    float u_px = std::numeric_limits<float>::quiet_NaN(), v_px = std::numeric_limits<float>::quiet_NaN();
    int32_t frame_index = 0;
    uint32_t camera = 0;
    FloorTerm term = FloorTerm::kAcuity;
  };
  // One seen frame of one set element through one camera.
  struct Kept {
    double weight = 0, floor_px = 0;
    float height_px = 0;
    int32_t frame_index = 0;
  };
  struct LongRun;  // what Finish gathers of a set element

  void MarkBreaks(int32_t frame_index, Scratch& scratch) const;
  const ViewBlock& Measured(size_t camera, int32_t frame_index, std::span<const ViewBlock> blocks,
                            Scratch& scratch) const;
  void AddCamera(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch);
  size_t PickSeen(const ViewBlock& block, Scratch& scratch) const;
  void MarkHidden(const ViewBlock& block, Scratch& scratch) const;
  static size_t DropReplaced(size_t picked, Scratch& scratch);
  void FillBatch(const ViewBlock& block, Scratch& scratch) const;
  void FillPlaces(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch) const;
  void NoteExtremes(size_t camera, int32_t frame_index, const ViewBlock& block, Scratch& scratch);
  void AddLosses(size_t camera, int32_t frame_index, Scratch& scratch);
  void AddFigureLoss(size_t lane, size_t picture, size_t place, Scratch& scratch);
  void CloseFrame(int32_t frame_index, const Scratch& scratch);
  void GrowSection(size_t lane, int32_t frame_index, const Scratch& scratch);
  void CloseSection(size_t lane);

  bool IsSeenEver(size_t lane) const { return hot_[lane].seen_camera_frames > 0; }
  std::vector<Kept>& KeptFrames(size_t lane, size_t camera) {
    return kept_[set_element_[lane] * optics_.scene->cameras.size() + camera];
  }
  void FinishSetElement(size_t lane, LongRun& run);
  void GaugeTurns(size_t lane, size_t camera, LongRun& run);
  double AddSetElementFrame(size_t lane, int32_t frame_index, LongRun& run);
  void WriteLane(size_t lane, Legibility& columns) const;
  void WritePeak(size_t lane, Legibility& columns) const;
  void WriteDepth(size_t lane, Legibility& columns) const;
  void WriteLosses(size_t lane, Legibility& columns) const;

  const ShotOptics& optics_;
  const PoseChunk* chunk_;
  std::vector<uint32_t> rows_;
  std::vector<ClassTraits> classes_;
  std::vector<ObjectTraits> traits_;
  std::vector<uint32_t> measured_lanes_;
  std::vector<uint32_t> own_breaks_;   // lanes with replaced frames or beats other than the shot's
  std::vector<uint32_t> set_element_;  // [lane], place in kept_; kNone: a figure
  alignas(64) std::array<double, kChunkLanes> solidity_ = {};

  std::array<uint8_t, kChunkLanes> sight_ = {};  // SightFlags of all frames so far
  std::vector<Hot> hot_;                         // [lane]
  std::vector<Peak> peaks_;                      // [lane]
  std::vector<std::vector<Section>> sections_;   // [lane], those that ended
  MotionFold motion_;
  CrowdFold crowds_;

  std::vector<int32_t> cameras_in_picture_;  // [picture]
  std::vector<LossSum> sums_;                // [picture * lanes + lane]
  std::vector<std::vector<Kept>> kept_;      // [set element * cameras + camera], in frame order
  std::vector<std::array<float, kChunkLanes>> last_u_px_, last_v_px_;  // [camera], only with motion blur
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_
