// Indirect sight: an object whose shadow, reflection or light is in the picture while it is not.
//
// Only frame lists are needed here: the caller says in which frames the object is seen indirectly, and a drawing that
// stands for it stands for its shadow too.

#include "server/legibility/legibility.h"

namespace scantling {

FrameSpans IndirectFrames(const Scene& scene, uint32_t object) {
  const uint32_t particulars = scene.objects.particulars[object];
  if (particulars == kNone) return {};
  std::vector<FrameRange> cast;
  for (const IndirectSight& sight : scene.particulars[particulars].indirect) {
    cast.insert(cast.end(), sight.frames.begin(), sight.frames.end());
  }
  return SubtractSpans(NormalSpans(std::move(cast)), scene.replaced_of(object));
}

bool IsSeenOnlyIndirectlySomewhere(const Scene& scene, const Legibility& legibility, uint32_t object) {
  const std::span<const FrameRange> spans = legibility.spans_of(object);
  return !SubtractSpans(IndirectFrames(scene, object), {spans.begin(), spans.end()}).empty();
}

}  // namespace scantling
