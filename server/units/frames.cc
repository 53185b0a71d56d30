#include "server/units/frames.h"

#include <algorithm>

namespace scantling {

FrameSpans WidenSpans(const FrameSpans& spans, int32_t handle, int32_t settle, FrameRange within) {
  FrameSpans widened;
  for (const FrameRange& span : spans) {
    const FrameRange wide = {std::max(span.first - handle, within.first), std::min(span.last + handle, within.last)};
    if (wide.count() == 0) continue;
    // A gap of g frames lies between last and first when first - last - 1 == g.
    if (!widened.empty() && wide.first - widened.back().last - 1 <= settle) {
      widened.back().last = std::max(widened.back().last, wide.last);
    } else {
      widened.push_back(wide);
    }
  }
  return widened;
}

int64_t CountFrames(const FrameSpans& spans) {
  int64_t total = 0;
  for (const FrameRange& span : spans) total += span.count();
  return total;
}

}  // namespace scantling
