// Linked objects by union-find: every link joins two objects, and what is joined at the end is one unit.
//
// Objects are taken in canonical order throughout, so that units and their members come in the same order whatever the
// order of sending. Source: Tarjan & van Leeuwen, Worst-case analysis of set union algorithms, 1984 (path halving).

#include "server/legibility/hold_sharing.h"

#include <numeric>

namespace scantling {
namespace {

class Links {
 public:
  explicit Links(size_t objects) : parent_(objects) { std::iota(parent_.begin(), parent_.end(), 0); }

  uint32_t Find(uint32_t object) {
    while (parent_[object] != object) object = parent_[object] = parent_[parent_[object]];
    return object;
  }
  void Join(uint32_t object, uint32_t other) { parent_[Find(object)] = Find(other); }

 private:
  std::vector<uint32_t> parent_;
};

// Joins the object to the first one of its group that came by.
void JoinFirst(uint32_t object, uint32_t& first, Links& links) {
  if (first == kNone) {
    first = object;
  } else {
    links.Join(object, first);
  }
}

Links LinksOf(const Scene& scene, bool in_containers) {
  const Objects& objects = scene.objects;
  Links links(objects.size());
  std::vector<uint32_t> first_of_group(scene.hold_groups.size(), kNone);
  std::vector<uint32_t> first_in_container(in_containers ? objects.size() : 0, kNone);
  for (const uint32_t object : objects.canonical) {
    const uint32_t particulars = objects.particulars[object];
    const uint32_t group = particulars == kNone ? kNone : scene.particulars[particulars].hold_group;
    if (group != kNone) JoinFirst(object, first_of_group[group], links);
    const uint32_t container = objects.container[object];
    if (in_containers && container != kNone) JoinFirst(object, first_in_container[container], links);
  }
  return links;
}

}  // namespace

HoldUnits ShareHolds(const Scene& scene, bool in_containers) {
  const std::vector<uint32_t>& canonical = scene.objects.canonical;
  Links links = LinksOf(scene, in_containers);
  std::vector<uint32_t> unit_of(canonical.size(), kNone);  // by root
  HoldUnits units;
  for (const uint32_t object : canonical) {
    uint32_t& unit = unit_of[links.Find(object)];
    if (unit == kNone) {
      unit = static_cast<uint32_t>(units.begin.size());
      units.begin.push_back(0);
    }
    ++units.begin[unit];
  }
  std::exclusive_scan(units.begin.begin(), units.begin.end(), units.begin.begin(), 0u);
  std::vector<uint32_t> next = units.begin;
  units.begin.push_back(static_cast<uint32_t>(canonical.size()));
  units.members.resize(canonical.size());
  for (const uint32_t object : canonical) units.members[next[unit_of[links.Find(object)]]++] = object;
  return units;
}

}  // namespace scantling
