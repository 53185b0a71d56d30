// How far the view of a set element has turned since its reference frame, the middle one of those it is seen in.
//
// Private to legibility/. A patch is a painting made for the reference frame and slid and scaled after the object; it
// gives itself away by as much as the box's projected corners cannot be matched that way.

#ifndef SCANTLING_SERVER_LEGIBILITY_TURN_H_
#define SCANTLING_SERVER_LEGIBILITY_TURN_H_

#include <cstddef>
#include <cstdint>
#include <optional>

#include "server/legibility/legibility.h"
#include "server/scene/scene.h"
#include "server/view/view.h"

namespace scantling {

// Place among `seen` (> 0) seen frames of the one that is painted: the middle one, the earlier of two.
constexpr int32_t MiddleOf(int32_t seen) { return (seen - 1) / 2; }

// One object through one camera.
class TurnGauge {
 public:
  // `chunk` may be null (an object without geometry): nothing is then known of its view, and every turn is its height.
  TurnGauge(const ShotOptics& optics, const PoseChunk* chunk, size_t lane, size_t camera,
            int32_t reference_frame_index);

  // Turn in px, 0..height_px; height_px where a corner lies behind the near plane at this frame or the reference one.
  // O(1): eight corners projected and fitted; nothing where neither the object nor the camera moves.
  double At(int32_t frame_index, double height_px) const;

 private:
  const ShotOptics& optics_;
  const PoseChunk* chunk_;
  size_t lane_, camera_;
  bool still_ = false;
  std::optional<Corners> reference_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_TURN_H_
