#include "server/units/frames.h"

#include <algorithm>
#include <iterator>
#include <utility>

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

FrameSpans NormalSpans(std::vector<FrameRange> ranges) {
  std::erase_if(ranges, [](const FrameRange& range) { return range.count() == 0; });
  std::sort(ranges.begin(), ranges.end(), [](const FrameRange& a, const FrameRange& b) { return a.first < b.first; });
  FrameSpans spans;
  for (const FrameRange& range : ranges) {
    // In 64 bits: last + 1 of the last frame there is would overflow.
    if (!spans.empty() && range.first <= static_cast<int64_t>(spans.back().last) + 1) {
      spans.back().last = std::max(spans.back().last, range.last);
    } else {
      spans.push_back(range);
    }
  }
  return spans;
}

FrameSpans UniteSpans(const FrameSpans& a, const FrameSpans& b) {
  std::vector<FrameRange> both(a);
  both.insert(both.end(), b.begin(), b.end());
  return NormalSpans(std::move(both));
}

FrameSpans SubtractSpans(const FrameSpans& spans, const FrameSpans& without) {
  FrameSpans left;
  auto cut = without.begin();
  for (FrameRange rest : spans) {
    while (cut != without.end() && cut->last < rest.first) ++cut;
    for (auto next = cut; next != without.end() && next->first <= rest.last && rest.count() > 0; ++next) {
      if (next->first > rest.first) left.push_back({rest.first, next->first - 1});
      if (next->last >= rest.last)
        rest.last = rest.first - 1;  // nothing is left of it
      else
        rest.first = next->last + 1;
    }
    if (rest.count() > 0) left.push_back(rest);
  }
  return left;
}

bool Contains(const FrameSpans& spans, int32_t frame) {
  const auto after = std::upper_bound(spans.begin(), spans.end(), frame,
                                      [](int32_t value, const FrameRange& span) { return value < span.first; });
  return after != spans.begin() && std::prev(after)->contains(frame);
}

int64_t CountFrames(const FrameSpans& spans) {
  int64_t total = 0;
  for (const FrameRange& span : spans) total += span.count();
  return total;
}

}  // namespace scantling
