// Frames, frame ranges and frame rates.
//
// A frame is a signed number as the trade writes it on the exposure sheet (shots often start at 1001). A range is
// inclusive at both ends: {1001, 1240} holds 240 frames. A frame *index* counts from 0 at the first frame of a shot;
// names say which of the two a value is (`frame`, `frame_index`).

#ifndef SCANTLING_SERVER_UNITS_FRAMES_H_
#define SCANTLING_SERVER_UNITS_FRAMES_H_

#include <cstdint>
#include <vector>

namespace scantling {

struct FrameRange {
  int32_t first = 0;
  int32_t last = -1;  // last < first: no frames

  int32_t count() const { return last < first ? 0 : last - first + 1; }
  bool contains(int32_t frame) const { return first <= frame && frame <= last; }
  friend bool operator==(const FrameRange&, const FrameRange&) = default;
};

// Frames a second as a fraction, so that 24000/1001 is itself. Both parts > 0.
struct FrameRate {
  int32_t numerator = 24;
  int32_t denominator = 1;

  double frames_per_second() const { return static_cast<double>(numerator) / denominator; }
  friend bool operator==(const FrameRate&, const FrameRate&) = default;
};

// Ordered, disjoint, not touching.
using FrameSpans = std::vector<FrameRange>;

// Widens each span by `handle` frames on both sides, closes gaps of at most `settle` frames between the widened
// spans, and cuts the result to `within`. handle, settle >= 0. O(spans).
FrameSpans WidenSpans(const FrameSpans& spans, int32_t handle, int32_t settle, FrameRange within);

// Frames that are in either, and frames of `spans` that are not in `without`. O(spans of both).
FrameSpans UniteSpans(const FrameSpans& a, const FrameSpans& b);
FrameSpans SubtractSpans(const FrameSpans& spans, const FrameSpans& without);

// Any ranges, in any order, overlapping or not; empty ones are left out. O(n log n).
FrameSpans NormalSpans(std::vector<FrameRange> ranges);

// Whether a frame is in the spans. O(log spans).
bool Contains(const FrameSpans& spans, int32_t frame);

// Frames in all spans together.
int64_t CountFrames(const FrameSpans& spans);

}  // namespace scantling

#endif  // SCANTLING_SERVER_UNITS_FRAMES_H_
