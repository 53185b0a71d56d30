// Keeping is a matter of time only: a map that found no room is made again when it is wanted.

#include "server/planning/depth_maps.h"

#include <utility>

namespace scantling {

void DepthMaps::Clear(size_t places) {
  const std::scoped_lock lock(mutex_);
  maps_.assign(places, nullptr);
  filled_ = bytes_ = 0;
}

std::shared_ptr<const DepthMap> DepthMaps::Find(size_t place) const {
  const std::scoped_lock lock(mutex_);
  return place < maps_.size() ? maps_[place] : nullptr;
}

void DepthMaps::Offer(size_t place, std::shared_ptr<const DepthMap> map) {
  const std::scoped_lock lock(mutex_);
  if (place >= maps_.size()) return;
  const size_t before = maps_[place] == nullptr ? 0 : maps_[place]->bytes();
  if (bytes_ - before + map->bytes() > most_bytes_) return;
  bytes_ += map->bytes() - before;
  filled_ += maps_[place] == nullptr;
  maps_[place] = std::move(map);
}

void DepthMaps::Replace(size_t place, std::shared_ptr<const DepthMap> map) {
  const std::scoped_lock lock(mutex_);
  bytes_ = bytes_ - maps_[place]->bytes() + map->bytes();
  maps_[place] = std::move(map);
}

bool DepthMaps::complete() const {
  const std::scoped_lock lock(mutex_);
  return filled_ == maps_.size();
}

size_t DepthMaps::places() const {
  const std::scoped_lock lock(mutex_);
  return maps_.size();
}

}  // namespace scantling
