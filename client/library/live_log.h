// Which edits a session was sent, which of them it has taken in, and what it is thereby expected to know.
//
//   noted by the caller ──Take──▶ in flight ──Acknowledge──▶ taken in
//                                     └──────Refuse────────▶ held, until something of it is noted again
//
// So that a session which is lost can be begun anew with what it had and had coming, and a refusal lets nothing
// diverge unsaid: what is held is known, and is no part of what the session is expected to know.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_LOG_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_LOG_H_

#include <chrono>
#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <vector>

#include "client/library/live_shot.h"

namespace scantling::client {

struct SentEdit {
  int64_t revision = 0;
  std::shared_ptr<const ShotChange> change;
  std::chrono::steady_clock::time_point noted_at;  // of the first note in it
};

// Not thread-safe.
class EditLog {
 public:
  using TimePoint = std::chrono::steady_clock::time_point;

  // The shot once everything in flight is taken in.
  const LiveShot& expected() const { return expected_; }

  // `change` as the next edit, without what is no news; nothing where nothing of it is. Where it touches what is held,
  // that goes with it. O(change log objects).
  std::optional<SentEdit> Take(ShotChange change, TimePoint noted_at);

  // The same with whatever makes `whole` of the shot; nothing is held any more. O(objects log objects).
  std::optional<SentEdit> Become(const LiveShot& whole, TimePoint noted_at);

  // Edits up to this revision, refused ones apart, were taken in.
  void Acknowledge(int64_t revision);

  // Nothing of this revision was taken in: it is held from now on. Null where it is not in flight. O(objects).
  std::shared_ptr<const ShotChange> Refuse(int64_t revision);

  // The session is resumed; it took in or refused everything up to `revision`, and tells again what it refused. Answers
  // the edits to send again, in order. Nothing where it is not the session these edits went to: begin anew.
  std::optional<std::vector<SentEdit>> Resume(int64_t revision) const;

  // A new session: the edits that bring it where it is expected to be, from revision 1 on. The first has the header, of
  // which BeginOf (live_parts.h) makes the session's first message. Empty where nothing was ever taken.
  std::vector<SentEdit> BeginAnew();

  // That first message was taken in.
  void Begun();

  // All that is in flight taken back as one change, as though it had never been noted; what was taken in, too. For a
  // session that could not even begin.
  ShotChange TakeBack();

  size_t in_flight() const { return in_flight_.size(); }
  int64_t acknowledged() const { return acknowledged_; }  // the last edit taken in; 0: none
  const ShotChange& held() const { return held_; }

  // When what a revision brought was first noted; for those not long acknowledged.
  std::optional<TimePoint> NotedAt(int64_t revision) const;

 private:
  std::optional<SentEdit> Send(ShotChange news, TimePoint noted_at);
  std::vector<SentEdit> Renumbered(int64_t first_revision);

  LiveShot taken_in_, expected_;
  std::deque<SentEdit> in_flight_;
  std::deque<std::pair<int64_t, TimePoint>> noted_at_;  // by revision, the last few
  ShotChange held_;
  int64_t last_revision_ = 0, acknowledged_ = 0;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_LOG_H_
