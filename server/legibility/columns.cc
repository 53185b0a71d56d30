// The columns of Legibility: their size, and what has more than one figure an object.
//
// Sections, spans and jumps are kept as flat lists with an offset per object (compressed rows), since most objects have
// one of them or none and a vector each would cost more than what it holds. Spans are runs of sections that touch.

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

}  // namespace

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
  columns.span_begin.assign(1, 0);
  columns.section_begin.assign(1, 0);
  for (std::vector<uint32_t>* begins : {&columns.span_begin, &columns.section_begin, &columns.motion.first_jump}) {
    begins->reserve(by_object.size() + 1);
  }
  for (LaneFindings& found : by_object) {
    AppendSections(found.sections, columns);
    AppendJumps(found.jumps, columns.motion);
    found = {};  // not both copies of everything at once
  }
}

}  // namespace scantling
