// The columns of Legibility: their size, and what has more than one figure an object.
//
// Sections, spans and jumps are kept as flat lists with an offset per object (compressed rows), since most objects have
// one of them or none and a vector each would cost more than what it holds. Spans are runs of sections that touch.

#include <algorithm>
#include <type_traits>
#include <utility>

#include "server/legibility/legibility.h"
#include "server/scene/merge.h"

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

void AppendCrowds(uint32_t row, const CrowdFindings& found, Legibility& columns) {
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

namespace {

// Calls visit(column) for every column with one entry an object.
template <typename Visit>
void ForEachColumn(Legibility& columns, const Visit& visit) {
  visit(columns.sight);
  visit(columns.loss);
  visit(columns.worst_octaves);
  visit(columns.seen_frames);
  visit(columns.seen_camera_frames);
  visit(columns.rendered_megapixels);
  visit(columns.largest_height_px);
  visit(columns.floor_px);
  visit(columns.floor_term);
  visit(columns.largest_frame);
  visit(columns.height_over_floor);
  visit(columns.turn_over_floor);
  visit(columns.near_m);
  visit(columns.apparent_m);
  visit(columns.largest_u_px);
  visit(columns.largest_v_px);
  visit(columns.visible_fraction);
  visit(columns.hidden_frames);
  visit(columns.band);
  visit(columns.motion.travel_px);
  visit(columns.motion.travel_over_floor);
  visit(columns.motion.feet_unseen);
}

// Lists of rows, one after another: row r's are items[begin[r], begin[r + 1]).
template <typename Item>
struct Lists {
  std::vector<uint32_t>& begin;
  std::vector<Item>& items;

  std::span<const Item> of(size_t row) const {
    return std::span(items).subspan(begin[row], begin[row + 1] - begin[row]);
  }
};

// The same lists for rows that moved.
template <typename Item>
void MoveLists(std::span<const uint32_t> was, Lists<Item> lists) {
  std::vector<uint32_t> begin = {0};
  std::vector<Item> items;
  begin.reserve(was.size() + 1);
  items.reserve(lists.items.size());
  for (const uint32_t row : was) {
    if (row != kNone) {
      const std::span<const Item> of = lists.of(row);
      items.insert(items.end(), of.begin(), of.end());
    }
    begin.push_back(static_cast<uint32_t>(items.size()));
  }
  lists.begin = std::move(begin);
  lists.items = std::move(items);
}

// place[row]: into `findings`, kNone where nothing new was found.
void PutSections(std::span<const uint32_t> place, const std::vector<LaneFindings>& findings, Legibility& columns) {
  Legibility next;
  next.span_begin.assign(1, 0);
  next.section_begin.assign(1, 0);
  next.span_begin.reserve(place.size() + 1);
  next.section_begin.reserve(place.size() + 1);
  next.spans.reserve(columns.spans.size());
  next.sections.reserve(columns.sections.size());
  for (size_t row = 0; row < place.size(); ++row) {
    if (place[row] != kNone) {
      AppendSections(findings[place[row]].sections, next);
      continue;
    }
    const std::span<const FrameRange> spans = columns.spans_of(row);
    const std::span<const Section> sections = columns.sections_of(row);
    next.spans.insert(next.spans.end(), spans.begin(), spans.end());
    next.sections.insert(next.sections.end(), sections.begin(), sections.end());
    next.span_begin.push_back(static_cast<uint32_t>(next.spans.size()));
    next.section_begin.push_back(static_cast<uint32_t>(next.sections.size()));
  }
  columns.span_begin = std::move(next.span_begin);
  columns.section_begin = std::move(next.section_begin);
  columns.spans = std::move(next.spans);
  columns.sections = std::move(next.sections);
}

// An object has all jumps or none, always as many: they are put over the old ones, or behind all. What nobody points to
// any more is thrown out when it is the half.
void PutJumps(std::span<const uint32_t> rows, const std::vector<LaneFindings>& findings, Motion& motion) {
  size_t count = 0;
  for (size_t i = 0; i < rows.size(); ++i) {
    const std::vector<Jump>& jumps = findings[i].jumps;
    uint32_t& first = motion.first_jump[rows[i]];
    if (jumps.empty()) {
      first = kNone;
    } else if (first != kNone) {
      std::copy(jumps.begin(), jumps.end(), motion.jumps.begin() + first);
    } else {
      first = static_cast<uint32_t>(motion.jumps.size());
      motion.jumps.insert(motion.jumps.end(), jumps.begin(), jumps.end());
    }
    count = std::max(count, jumps.size());
  }
  const auto pointing = static_cast<size_t>(
      std::count_if(motion.first_jump.begin(), motion.first_jump.end(), [](uint32_t first) { return first != kNone; }));
  if (pointing == 0) return motion.jumps.clear();
  if (count == 0 || motion.jumps.size() <= 2 * pointing * count) return;
  std::vector<Jump> packed;
  for (uint32_t& first : motion.first_jump) {
    if (first == kNone) continue;
    const auto begin = motion.jumps.begin() + first;
    first = static_cast<uint32_t>(packed.size());
    packed.insert(packed.end(), begin, begin + static_cast<std::ptrdiff_t>(count));
  }
  motion.jumps = std::move(packed);
}

// What members cover: that of rows with new findings anew, that of the others as it was.
void PutCover(std::span<const uint32_t> place, const std::vector<LaneFindings>& findings, std::span<const Crowd> crowds,
              std::vector<std::vector<CellCover>>& cell_cover) {
  for (size_t crowd = 0; crowd < crowds.size(); ++crowd) {
    std::erase_if(cell_cover[crowd],
                  [&](const CellCover& one) { return place[crowds[crowd].members[one.member]] != kNone; });
  }
  for (const LaneFindings& found : findings) {
    if (found.crowds == nullptr) continue;
    for (const CrowdFindings::Cover& one : found.crowds->cover) cell_cover[one.crowd].push_back(one.cover);
  }
  for (std::vector<CellCover>& cover : cell_cover) {
    std::sort(cover.begin(), cover.end(), [](const CellCover& a, const CellCover& b) {
      return a.member != b.member ? a.member < b.member : a.cell < b.cell;
    });
  }
}

void PutSeenThrough(std::span<const uint32_t> place, const std::vector<LaneFindings>& findings, Legibility& columns) {
  const SeenThrough& was = columns.seen_through;
  Legibility next;
  next.seen_through.begin.assign(1, 0);
  size_t known = 0;
  for (uint32_t row = 0; row < place.size(); ++row) {
    const bool was_seen = known < was.objects.size() && was.objects[known] == row;
    CrowdFindings through;
    if (place[row] != kNone) {
      if (findings[place[row]].crowds != nullptr) through.through = findings[place[row]].crowds->through;
    } else if (was_seen) {
      for (size_t camera = 0; camera < was.cameras; ++camera) {
        const std::span<const FrameRange> spans = columns.spans_through(row, camera);
        through.through.emplace_back(spans.begin(), spans.end());
      }
    }
    AppendCrowds(row, through, next);
    known += was_seen;
  }
  columns.seen_through = std::move(next.seen_through);
}

void MoveSeenThrough(std::span<const uint32_t> was, Legibility& columns) {
  std::vector<uint32_t> row_of(columns.sight.size(), kNone);
  for (uint32_t row = 0; row < was.size(); ++row) {
    if (was[row] != kNone) row_of[was[row]] = row;
  }
  Legibility next;
  next.seen_through.begin.assign(1, 0);
  for (const uint32_t row : columns.seen_through.objects) {
    if (row_of[row] == kNone) continue;
    CrowdFindings through;
    for (size_t camera = 0; camera < columns.seen_through.cameras; ++camera) {
      const std::span<const FrameRange> spans = columns.spans_through(row, camera);
      through.through.emplace_back(spans.begin(), spans.end());
    }
    AppendCrowds(row_of[row], through, next);
  }
  columns.seen_through = std::move(next.seen_through);
}

}  // namespace

void Legibility::Resize(size_t objects) {
  ForEachColumn(*this, [&](auto& column) { column.resize(objects); });
  motion.first_jump.assign(objects, kNone);
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

void MoveRows(std::span<const uint32_t> was, Legibility& columns) {
  if (!columns.seen_through.objects.empty()) MoveSeenThrough(was, columns);
  MoveLists(was, Lists<FrameRange>{columns.span_begin, columns.spans});
  MoveLists(was, Lists<Section>{columns.section_begin, columns.sections});
  ForEachColumn(columns, [&](auto& column) {
    column = MovedColumn(was, column, typename std::remove_reference_t<decltype(column)>::value_type());
  });
  columns.motion.first_jump = MovedColumn(was, columns.motion.first_jump, kNone);
}

void PutFindings(std::span<const uint32_t> rows, std::vector<LaneFindings> findings, std::span<const Crowd> crowds,
                 Legibility& columns) {
  std::vector<uint32_t> place(columns.sight.size(), kNone);
  for (uint32_t i = 0; i < rows.size(); ++i) place[rows[i]] = i;
  PutSections(place, findings, columns);
  PutJumps(rows, findings, columns.motion);
  if (!crowds.empty()) PutCover(place, findings, crowds, columns.cell_cover);
  const bool through = std::any_of(findings.begin(), findings.end(), [](const LaneFindings& found) {
    return found.crowds != nullptr && !found.crowds->through.empty();
  });
  if (through || !columns.seen_through.objects.empty()) PutSeenThrough(place, findings, columns);
}

}  // namespace scantling
