// The fold itself, over up to kChunkLanes objects that share a chunk, or that have none and were measured by the
// caller.
//
// Private to legibility/; ChunkFold and FoldMeasured are its two faces. Per camera and frame one branch-free pass picks
// the lanes that are seen; only those are read. Figures are summed at once. Set elements must wait, since the frame
// their painting is made for is known only when all frames are: what is needed of a frame (32 bytes) is kept, and the
// turn is worked out in Finish.

#ifndef SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_
#define SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_

#include <array>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/legibility/reading.h"

namespace scantling {

class LaneFold {
 public:
  // Lane i is object rows[i]; at most kChunkLanes. `chunk` is null for objects without geometry.
  LaneFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk);

  LaneFold(const LaneFold&) = delete;
  LaneFold& operator=(const LaneFold&) = delete;

  // Once per frame, in order; one block per camera, or none where there is no chunk.
  void Add(int32_t frame_index, std::span<const ViewBlock> blocks);

  // Once. Spans lane by lane.
  std::vector<FrameSpans> Finish(Legibility& columns);

 private:
  // What every seen frame touches of a lane.
  struct Hot {
    double peak = -1;  // largest height over floor; below any, so that the first seen frame is taken
    double rendered_px = 0;
    double near_m = std::numeric_limits<double>::infinity();
    int32_t seen_camera_frames = 0;
    int32_t last_seen = -2;  // frame index
  };
  // Where height over floor was largest.
  struct Peak {
    double log2_height_over_floor = 0, height_px = 0, floor_px = 0;
    FloorTerm term = FloorTerm::kAcuity;
    int32_t frame_index = 0;
    size_t camera = 0;
  };
  // One frame of one set element through one camera.
  struct Kept {
    double log2_height_over_floor = 0, weight = 0, floor_px = 0;
    float height_px = 0;
    uint32_t seen = 0;
  };
  // The eyes of a stereo pair, waiting for each other within a frame.
  struct Eyes {
    std::array<Grid, kChunkLanes> loss;
    std::array<uint8_t, kChunkLanes> seen;
  };
  struct LongRun;  // what Finish gathers of a set element

  const ViewBlock& Measured(size_t camera, int32_t frame_index, std::span<const ViewBlock> blocks);
  void AddCamera(size_t camera, int32_t frame_index, const ViewBlock& block);
  size_t PickSeen(const ViewBlock& block);
  void FillBatch(const ViewBlock& block);
  void FillPlaces(size_t camera, int32_t frame_index, const ViewBlock& block);
  void NoteExtremes(size_t camera, int32_t frame_index, const ViewBlock& block);
  void AddLosses(size_t camera, int32_t frame_index);
  void AddFigureLoss(size_t lane, size_t picture, size_t place);
  void CloseFrame(int32_t frame_index);
  void CloseRun(size_t lane);

  bool IsSeenEver(size_t lane) const { return hot_[lane].seen_camera_frames > 0; }
  std::span<Kept> KeptFrames(size_t lane, size_t camera);
  void FinishSetElement(size_t lane, LongRun& run);
  void GaugeTurns(size_t lane, size_t camera, LongRun& run);
  void WriteLane(size_t lane, Legibility& columns) const;
  void WritePeak(size_t lane, Legibility& columns) const;
  void WriteLosses(size_t lane, Legibility& columns) const;

  const ShotOptics& optics_;
  const PoseChunk* chunk_;
  std::vector<uint32_t> rows_;
  std::vector<ClassTraits> classes_;
  std::vector<ObjectTraits> traits_;
  std::vector<uint32_t> measured_lanes_;
  std::vector<uint32_t> set_element_;  // [lane], place in kept_; kNone: a figure
  alignas(64) std::array<double, kChunkLanes> solidity_ = {};

  std::array<uint8_t, kChunkLanes> in_frame_ = {};  // ever
  std::array<uint8_t, kChunkLanes> seen_now_ = {};  // in the frame being added, through any camera
  std::array<uint16_t, kChunkLanes> picked_ = {};   // lanes seen through the camera being added
  std::vector<Hot> hot_;                            // [lane]
  std::vector<Peak> peaks_;                         // [lane]
  std::vector<int32_t> run_first_;                  // [lane], frame index where the span being grown begins
  std::vector<FrameSpans> spans_;                   // [lane], those that ended
  Batch batch_;

  std::vector<int32_t> cameras_in_picture_;  // [picture]
  std::vector<LossSum> sums_;                // [picture * lanes + lane]
  std::vector<Eyes> eyes_;                   // [picture], empty where every picture has one camera
  std::vector<Kept> kept_;                   // [(set element * cameras + camera) * frames + frame_index]
  std::vector<std::array<float, kChunkLanes>> last_u_px_, last_v_px_;  // [camera], only with motion blur
  ViewBlock overlaid_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_LANE_FOLD_H_
