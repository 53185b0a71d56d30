// Where in doubt, everything: an object measured without need costs time, one not measured would be wrong.

#include "server/planning/touched.h"

#include <algorithm>

#include "server/view/hiding.h"

namespace scantling {
namespace {

// Row of the scene before; kNone: there was none.
uint32_t Was(const MergedScene& merged, uint32_t row) { return row == kNone ? kNone : merged.was[row]; }

bool SameInterest(const Scene& before, const MergedScene& merged) {
  const std::vector<PointOfInterest>& now = merged.scene.interest;
  return std::equal(now.begin(), now.end(), before.interest.begin(), before.interest.end(),
                    [&](const PointOfInterest& a, const PointOfInterest& b) {
                      const bool same_object = a.object == kNone
                                                   ? b.object == kNone
                                                   : Was(merged, a.object) == b.object && merged.changed[a.object] == 0;
                      return same_object && a.x == b.x && a.y == b.y && a.frames == b.frames;
                    });
}

bool SameShot(const Scene& a, const Scene& b) {
  return a.frames == b.frames && a.rate == b.rate && a.cameras == b.cameras && a.pictures == b.pictures &&
         a.backdrop_colour == b.backdrop_colour && a.replaced == b.replaced && a.beats == b.beats;
}

bool SameCrowds(const Scene& before, const MergedScene& merged) {
  const auto same_crowd = [&](const Crowd& now, const Crowd& was) {
    return now.columns == was.columns && now.rows == was.rows &&
           std::equal(now.members.begin(), now.members.end(), was.members.begin(), was.members.end(),
                      [&](uint32_t row, uint32_t row_before) { return Was(merged, row) == row_before; });
  };
  const std::vector<Crowd>& now = merged.scene.crowds;
  return std::equal(now.begin(), now.end(), before.crowds.begin(), before.crowds.end(), same_crowd);
}

// Members of crowds that are there now or were before.
void TouchMembers(const Scene& before, const MergedScene& merged, std::vector<uint8_t>& rows) {
  std::vector<uint8_t> was_member(before.objects.size(), 0);
  for (const Crowd& crowd : before.crowds) {
    for (const uint32_t row : crowd.members) was_member[row] = 1;
  }
  for (uint32_t row = 0; row < rows.size(); ++row) {
    if (merged.was[row] != kNone) rows[row] |= was_member[merged.was[row]];
  }
  for (const Crowd& crowd : merged.scene.crowds) {
    for (const uint32_t row : crowd.members) rows[row] = 1;
  }
}

// What stands, however deep, in something that changed.
void TouchContents(const Objects& objects, const std::vector<uint8_t>& changed, std::vector<uint8_t>& rows) {
  const auto in_changed = [&](uint32_t row) {
    return objects.container[row] != kNone && changed[objects.container[row]];
  };
  bool any = false;
  for (uint32_t row = 0; row < rows.size() && !any; ++row) any = in_changed(row);
  if (!any) return;
  for (uint32_t row = 0; row < rows.size(); ++row) {
    for (uint32_t at = objects.container[row]; at != kNone && rows[row] == 0; at = objects.container[at]) {
      rows[row] = changed[at];
    }
  }
}

bool HidingChanged(const Scene& before, const MergedScene& merged) {
  std::vector<uint8_t> stayed(before.objects.size(), 0);
  for (uint32_t row = 0; row < merged.was.size(); ++row) {
    if (merged.was[row] != kNone) stayed[merged.was[row]] = merged.changed[row] == 0;
    if (merged.changed[row] != 0 && HidesOthers(merged.scene, row)) return true;
  }
  for (uint32_t row = 0; row < stayed.size(); ++row) {
    if (stayed[row] == 0 && HidesOthers(before, row)) return true;
  }
  return false;
}

}  // namespace

Touched TouchedBy(const SceneAndStyle& before, const MergedScene& merged, const Style* style) {
  Touched touched;
  touched.rows = merged.changed;
  touched.everything =
      before.style != style || !SameShot(before.scene, merged.scene) || !SameInterest(before.scene, merged);
  if (touched.everything) return touched;
  touched.hiding = HidingChanged(before.scene, merged);
  TouchContents(merged.scene.objects, merged.changed, touched.rows);
  touched.crowds = !SameCrowds(before.scene, merged);
  if (touched.crowds) TouchMembers(before.scene, merged, touched.rows);
  return touched;
}

}  // namespace scantling
