// Which objects are on one hold together.
//
// Private to legibility/. A unit is one object, or all objects that are linked by a hold group or, where asked, by the
// container they are directly in; links chain. Every object is in exactly one unit.

#ifndef SCANTLING_SERVER_LEGIBILITY_HOLD_SHARING_H_
#define SCANTLING_SERVER_LEGIBILITY_HOLD_SHARING_H_

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "server/scene/scene.h"

namespace scantling {

struct HoldUnits {
  std::vector<uint32_t> begin;    // size units + 1, into `members`
  std::vector<uint32_t> members;  // rows, in canonical order within a unit

  size_t size() const { return begin.size() - 1; }
  std::span<const uint32_t> members_of(size_t unit) const {
    return std::span(members).subspan(begin[unit], begin[unit + 1] - begin[unit]);
  }
};

// Units in canonical order of their first members. O(objects), nearly.
HoldUnits ShareHolds(const Scene& scene, bool in_containers);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_HOLD_SHARING_H_
