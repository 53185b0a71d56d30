// The columns of Legibility: their size, and what has more than one figure an object.
//
// Sections, spans and jumps are kept as flat lists with an offset per object (compressed rows), since most objects have
// one of them or none and a vector each would cost more than what it holds. Spans are runs of sections that touch.

#include <algorithm>

#include "server/legibility/legibility.h"

namespace scantling {
namespace {

void AppendSections(const std::vector<Section>& sections, Legibility& columns) {
  for (size_t i = 0; i < sections.size(); ++i) {
    const FrameRange& frames = sections[i].frames;
    columns.sections.push_back(sections[i]);
    if (i > 0 && sections[i - 1].frames.last + 1 == frames.first) {
      columns.spans.back().last = frames.last;
    } else {
      columns.spans.push_back(frames);
    }
  }
  columns.span_begin.push_back(static_cast<uint32_t>(columns.spans.size()));
  columns.section_begin.push_back(static_cast<uint32_t>(columns.sections.size()));
}

void AppendJumps(const std::vector<Jump>& jumps, Motion& motion) {
  motion.first_jump.push_back(jumps.empty() ? kNone : static_cast<uint32_t>(motion.jumps.size()));
  motion.jumps.insert(motion.jumps.end(), jumps.begin(), jumps.end());
}

void AppendCrowds(uint32_t row, CrowdFindings& found, Legibility& columns) {
  for (const CrowdFindings::Cover& one : found.cover) {
    if (columns.cell_cover.size() <= one.crowd) columns.cell_cover.resize(one.crowd + 1);
    columns.cell_cover[one.crowd].push_back(one.cover);
  }
  SeenThrough& through = columns.seen_through;
  if (found.through.empty()) return;
  through.objects.push_back(row);
  through.cameras = found.through.size();
  for (const FrameSpans& spans : found.through) {
    through.spans.insert(through.spans.end(), spans.begin(), spans.end());
    through.begin.push_back(static_cast<uint32_t>(through.spans.size()));
  }
}

}  // namespace

std::span<const FrameRange> Legibility::spans_through(uint32_t object, size_t camera) const {
  if (seen_through.cameras == 0) return spans_of(object);
  const auto found = std::lower_bound(seen_through.objects.begin(), seen_through.objects.end(), object);
  if (found == seen_through.objects.end() || *found != object) return {};
  const auto at = static_cast<size_t>(found - seen_through.objects.begin()) * seen_through.cameras + camera;
  const uint32_t begin = seen_through.begin[at];
  return std::span(seen_through.spans).subspan(begin, seen_through.begin[at + 1] - begin);
}

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
  largest_u_px.resize(objects);
  largest_v_px.resize(objects);
  visible_fraction.resize(objects);
  hidden_frames.resize(objects);
  band.resize(objects);
  motion.first_jump.assign(objects, kNone);
  motion.travel_px.resize(objects);
  motion.travel_over_floor.resize(objects);
  motion.feet_unseen.resize(objects);
  span_begin.assign(objects + 1, 0);
  section_begin.assign(objects + 1, 0);
}

void Assemble(std::vector<LaneFindings> by_object, Legibility& columns) {
  columns.spans.clear();
  columns.sections.clear();
  columns.motion.jumps.clear();
  columns.motion.first_jump.clear();
  for (std::vector<CellCover>& cover : columns.cell_cover) cover.clear();
  columns.seen_through = {};
  columns.seen_through.begin.assign(1, 0);
  columns.span_begin.assign(1, 0);
  columns.section_begin.assign(1, 0);
  for (std::vector<uint32_t>* begins : {&columns.span_begin, &columns.section_begin, &columns.motion.first_jump}) {
    begins->reserve(by_object.size() + 1);
  }
  for (size_t row = 0; row < by_object.size(); ++row) {
    LaneFindings& found = by_object[row];
    AppendSections(found.sections, columns);
    AppendJumps(found.jumps, columns.motion);
    if (found.crowds != nullptr) AppendCrowds(static_cast<uint32_t>(row), *found.crowds, columns);
    found = {};  // not both copies of everything at once
  }
}

}  // namespace scantling
