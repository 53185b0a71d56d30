// The columns of Legibility: their size and their spans.
//
// Spans are kept as one flat list with an offset per object (compressed rows), since most objects have one span or none
// and a vector each would cost more than what it holds.

#include "server/legibility/legibility.h"

namespace scantling {

void Legibility::Resize(size_t objects) {
  sight.resize(objects);
  loss.resize(objects);
  worst_octaves.resize(objects);
  seen_frames.resize(objects);
  seen_camera_frames.resize(objects);
  rendered_megapixels.resize(objects);
  largest_height_px.resize(objects);
  floor_px.resize(objects);
  floor_term.resize(objects);
  largest_frame.resize(objects);
  height_over_floor.resize(objects);
  turn_over_floor.resize(objects);
  near_m.resize(objects);
  apparent_m.resize(objects);
  span_begin.assign(objects + 1, 0);
}

void AssembleSpans(const std::vector<FrameSpans>& by_object, Legibility& columns) {
  columns.span_begin.assign(1, 0);
  columns.span_begin.reserve(by_object.size() + 1);
  columns.spans.clear();
  for (const FrameSpans& spans : by_object) {
    columns.spans.insert(columns.spans.end(), spans.begin(), spans.end());
    columns.span_begin.push_back(static_cast<uint32_t>(columns.spans.size()));
  }
}

}  // namespace scantling
