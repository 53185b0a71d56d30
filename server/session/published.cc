// Ids of objects that left are kept until they are more than the objects there are, and some; then the older half is
// forgotten, and a reader who has not heard of those yet is told everything anew.

#include "server/session/published.h"

#include "server/scene/merge.h"

namespace scantling {
namespace {

constexpr size_t kMostGone = 1000;  // and as many as there are objects

}  // namespace

SharedBytes Published::Find(uint32_t row) const {
  const std::scoped_lock lock(mutex_);
  return row < told_.size() ? told_[row].bytes : nullptr;
}

int64_t Published::Put(PublishedPlan plan) {
  const std::scoped_lock lock(mutex_);
  ++number_;
  told_ = MovedColumn(plan.was, told_, Told());
  for (PublishedPlan::Change& change : plan.changes) told_[change.row] = {std::move(change.bytes), number_};
  for (std::string& id : plan.gone) gone_.emplace_back(number_, std::move(id));
  if (gone_.size() > kMostGone + told_.size()) {
    const size_t half = gone_.size() / 2;
    horizon_ = gone_[half - 1].first;
    gone_.erase(gone_.begin(), gone_.begin() + static_cast<std::ptrdiff_t>(half));
  }
  canonical_ = std::move(plan.canonical);
  closing_ = std::move(plan.closing);
  bytes_ = 0;
  for (const Told& told : told_) bytes_ += told.bytes == nullptr ? 0 : told.bytes->size() + 80;
  return number_;
}

int64_t Published::Close(SharedBytes closing) {
  const std::scoped_lock lock(mutex_);
  closing_ = std::move(closing);
  return ++number_;
}

int64_t Published::number() const {
  const std::scoped_lock lock(mutex_);
  return number_;
}

Snapshot Published::Since(int64_t number) const {
  const std::scoped_lock lock(mutex_);
  Snapshot snapshot;
  snapshot.number = number_;
  snapshot.closing = closing_;
  snapshot.anew = number <= 0 || number > number_ || number < horizon_;
  const int64_t since = snapshot.anew ? 0 : number;
  for (const auto& [left, id] : gone_) {
    if (left > since && !snapshot.anew) snapshot.gone.push_back(id);
  }
  for (const uint32_t row : canonical_) {
    if (told_[row].number > since) snapshot.decisions.push_back(told_[row].bytes);
  }
  return snapshot;
}

size_t Published::bytes() const {
  const std::scoped_lock lock(mutex_);
  return bytes_;
}

}  // namespace scantling
