// What adding a frame to a fold needs only while it runs.
//
// Private to legibility/. Folds of all chunks may wait for their next frames at once, so nothing that one frame fills
// and the same frame empties lives in them; it lives here, once per thread.

#ifndef SCANTLING_SERVER_LEGIBILITY_FOLD_SCRATCH_H_
#define SCANTLING_SERVER_LEGIBILITY_FOLD_SCRATCH_H_

#include <array>
#include <cstdint>
#include <vector>

#include "server/legibility/legibility.h"
#include "server/legibility/reading.h"
#include "server/view/view.h"

namespace scantling {

// What became of a lane, in a frame through all cameras or in the whole shot.
enum SightFlag : uint8_t {
  kSeenIt = 1,         // through some camera
  kHidIt = 2,          // through some camera it would have been seen, but for what hides it
  kWouldHaveSeen = 4,  // through some camera it would have been seen, but for the drawing that stands for it
  kHadInFrame = 8,
};

// What a lane came to, by all flags it ever had: seen goes before replaced, replaced before hidden.
constexpr Sight SightOf(uint8_t flags) {
  if ((flags & kSeenIt) != 0) return Sight::kSeen;
  if ((flags & kWouldHaveSeen) != 0) return Sight::kReplaced;
  if ((flags & kHidIt) != 0) return Sight::kHidden;
  return (flags & kHadInFrame) != 0 ? Sight::kTooSmall : Sight::kOffScreen;
}

// The eyes of a stereo pair, waiting for each other within a frame.
struct Eyes {
  std::array<Grid, kChunkLanes> loss;
  std::array<uint8_t, kChunkLanes> seen;
};

struct FoldScratch::Data {
  Batch batch;
  std::array<uint16_t, kChunkLanes> picked;           // lanes seen through the camera being added
  alignas(64) std::array<double, kChunkLanes> share;  // VisibleShare of every lane through that camera
  // Of the frame being added, by lane.
  std::array<uint8_t, kChunkLanes> sight;            // SightFlags
  std::array<uint8_t, kChunkLanes> replaced;         // 1: a drawing stands for it; read only where any_replaced
  std::array<uint8_t, kChunkLanes> beat;             // 1: its poses start anew
  std::array<float, kChunkLanes> height_over_floor;  // largest through any camera; only where kSeenIt
  bool any_replaced = false;
  std::vector<Eyes> eyes;  // [picture], empty where every picture has one camera
  ViewBlock overlaid;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_FOLD_SCRATCH_H_
