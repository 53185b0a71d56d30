// Depth maps of a shot, kept from one measuring to the next.

#ifndef SCANTLING_SERVER_PLANNING_DEPTH_MAPS_H_
#define SCANTLING_SERVER_PLANNING_DEPTH_MAPS_H_

#include <cstddef>
#include <memory>
#include <mutex>
#include <vector>

#include "server/view/hiding.h"

namespace scantling {

// One place a camera and frame, filled as long as there is room. A map once kept stays until Clear. Thread-safe.
class DepthMaps {
 public:
  // Keeps nothing where most_bytes is 0.
  explicit DepthMaps(size_t most_bytes) : most_bytes_(most_bytes) {}

  // Forgets all and makes as many places.
  void Clear(size_t places);

  std::shared_ptr<const DepthMap> Find(size_t place) const;  // nullptr: not kept

  // Keeps the map where there is room, in place of what was there.
  void Offer(size_t place, std::shared_ptr<const DepthMap> map);

  // Puts the map in place of a kept one, whatever the room.
  void Replace(size_t place, std::shared_ptr<const DepthMap> map);

  bool complete() const;  // every place is filled
  size_t most_bytes() const { return most_bytes_; }
  size_t places() const;

 private:
  const size_t most_bytes_;
  mutable std::mutex mutex_;
  std::vector<std::shared_ptr<const DepthMap>> maps_;
  size_t filled_ = 0, bytes_ = 0;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_DEPTH_MAPS_H_
