// What came from the daemon and was not told yet: bounded, however long nobody asks.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_INBOX_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_INBOX_H_

#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <utility>
#include <vector>

#include "client/library/live_events.h"

namespace scantling::client {

// Thread-safe; Pump by one thread at a time. `wake` is called, from the thread that puts, whenever there is something
// to tell; it must not call back.
class LiveInbox {
 public:
  using Took = std::optional<std::chrono::duration<double, std::milli>>;
  explicit LiveInbox(std::function<void()> wake) : wake_(std::move(wake)) {}

  // Takes in one message of an update. Updates of revision 0, of a session that was sent nothing yet, are taken in and
  // not told.
  void TakeUpdate(v1::Update part, Took took);
  void StreamBroke();
  void SessionBeginsAnew();

  void Put(LiveRefusal refusal);
  void Put(v1::AssemblyProgress progress);
  void Put(LiveConnectionChange change);
  void Answer(WhatIfCall call, absl::StatusOr<v1::WhatIfAnswer> answer);

  // Tells what there is; how many calls that were. Never waits for the network, nor for an update being taken in: that
  // is told the next time.
  int Pump(const LiveListener& listener);

  // Waits until there is something to tell; false where there is not before `patience` ends.
  bool Wait(std::chrono::milliseconds patience);

  // Of the plan. May wait for an update being taken in.
  v1::Plan plan() const;
  v1::Totals totals() const;
  int64_t update_number() const;
  // The revision of a final plan; none where the plan is not final.
  std::optional<int64_t> final_revision() const;

 private:
  // At most one of each, newer merged over older, but for what the caller's own requests bound.
  struct Mail {
    std::optional<LivePlanUpdate> plan;
    std::optional<LiveProvisional> provisional;
    std::optional<v1::AssemblyProgress> progress;
    std::vector<LiveRefusal> refusals;
    std::deque<LiveConnectionChange> connection;
    std::vector<std::pair<WhatIfCall, absl::StatusOr<v1::WhatIfAnswer>>> answers;
  };

  bool HasMail() const;
  void TellNews();
  int Deliver(const Mail& mail, const LiveListener& listener) const;

  const std::function<void()> wake_;
  mutable std::mutex plan_mutex_;  // before mutex_ where both are taken
  LivePlan plan_;
  mutable std::mutex mutex_;
  std::condition_variable has_mail_;
  Mail mail_;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_INBOX_H_
