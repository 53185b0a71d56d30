// Idea: two shots that share their objects, one as the session certainly has it, one as it will be; between them the
// edits in flight, in order. A refusal takes one edit out and makes the second shot anew from the first, which is rare
// and linear; everything else costs no more than the edit.

#include "client/library/live_log.h"

#include <algorithm>
#include <utility>

#include "client/library/live_parts.h"

namespace scantling::client {
namespace {

constexpr size_t kMostNotedAt = 256;

bool IsNothing(const LiveShot& shot) { return shot.objects.empty() && !shot.header.has_frames(); }

}  // namespace

std::optional<SentEdit> EditLog::Take(ShotChange change, TimePoint noted_at) {
  if (Touches(held_, change)) {
    Merge(std::move(change), held_);
    change = std::exchange(held_, {});
  }
  return Send(News(expected_, std::move(change)), noted_at);
}

std::optional<SentEdit> EditLog::Become(const LiveShot& whole, TimePoint noted_at) {
  held_ = {};
  return Send(Difference(expected_, whole), noted_at);
}

std::optional<SentEdit> EditLog::Send(ShotChange news, TimePoint noted_at) {
  if (news.empty()) return std::nullopt;
  Apply(news, expected_);
  in_flight_.push_back({++last_revision_, std::make_shared<const ShotChange>(std::move(news)), noted_at});
  noted_at_.emplace_back(last_revision_, noted_at);
  if (noted_at_.size() > kMostNotedAt) noted_at_.pop_front();
  return in_flight_.back();
}

void EditLog::Acknowledge(int64_t revision) {
  while (!in_flight_.empty() && in_flight_.front().revision <= revision) {
    Apply(*in_flight_.front().change, taken_in_);
    acknowledged_ = in_flight_.front().revision;
    in_flight_.pop_front();
  }
}

std::shared_ptr<const ShotChange> EditLog::Refuse(int64_t revision) {
  const auto refused = std::find_if(in_flight_.begin(), in_flight_.end(),
                                    [revision](const SentEdit& edit) { return edit.revision == revision; });
  if (refused == in_flight_.end()) return nullptr;
  std::shared_ptr<const ShotChange> change = refused->change;
  in_flight_.erase(refused);
  expected_ = taken_in_;
  for (const SentEdit& edit : in_flight_) Apply(*edit.change, expected_);
  Merge(*change, held_);
  held_ = News(expected_, std::move(held_));
  return change;
}

std::vector<SentEdit> EditLog::Renumbered(int64_t first_revision) {
  int64_t revision = first_revision;
  noted_at_.clear();
  for (SentEdit& edit : in_flight_) {
    edit.revision = revision++;
    noted_at_.emplace_back(edit.revision, edit.noted_at);
  }
  last_revision_ = revision - 1;
  return {in_flight_.begin(), in_flight_.end()};
}

std::optional<std::vector<SentEdit>> EditLog::Resume(int64_t revision) const {
  const int64_t first = in_flight_.empty() ? last_revision_ + 1 : in_flight_.front().revision;
  if (revision > last_revision_ || revision + 1 < first) return std::nullopt;
  std::vector<SentEdit> again;
  for (const SentEdit& edit : in_flight_) {
    if (edit.revision > revision) again.push_back(edit);
  }
  return again;
}

std::vector<SentEdit> EditLog::BeginAnew() {
  if (!IsNothing(taken_in_)) {
    auto all = std::make_shared<const ShotChange>(WholeOf(taken_in_));
    in_flight_.push_front({0, std::move(all), std::chrono::steady_clock::now()});
    taken_in_ = {};
  }
  acknowledged_ = 0;
  return Renumbered(1);
}

void EditLog::Begun() {
  if (in_flight_.empty()) return;
  const v1::Begin begin = BeginOf(*in_flight_.front().change);
  taken_in_.header = begin.header();
  taken_in_.options = begin.options();
  if (begin.has_current_frame()) taken_in_.current_frame = begin.current_frame();
}

ShotChange EditLog::TakeBack() {
  ShotChange all = IsNothing(taken_in_) ? ShotChange() : WholeOf(taken_in_);
  for (const SentEdit& edit : in_flight_) Merge(*edit.change, all);
  std::erase_if(all.objects, [](const auto& object) { return object.second == nullptr; });
  taken_in_ = {};
  expected_ = {};
  in_flight_.clear();
  last_revision_ = 0;
  acknowledged_ = 0;
  return all;
}

std::optional<EditLog::TimePoint> EditLog::NotedAt(int64_t revision) const {
  for (auto at = noted_at_.rbegin(); at != noted_at_.rend(); ++at) {
    if (at->first == revision) return at->second;
  }
  return std::nullopt;
}

}  // namespace scantling::client
