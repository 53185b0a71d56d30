// What a live session tells its caller.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_EVENTS_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_EVENTS_H_

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "client/library/live_shot.h"
#include "client/library/live_state.h"
#include "google/rpc/status.pb.h"

namespace scantling::client {

// A settled or final plan, or why there is none.
struct LivePlanUpdate {
  v1::Update update;                // the last of those merged here, without decisions
  std::vector<LiveChange> changes;  // since the plan update told before, by object id
  absl::Status problem;             // not OK: there is no plan of this revision, the one before stands
  // From the first note of what the update answers to its arrival; none for what was noted long ago.
  std::optional<std::chrono::duration<double, std::milli>> took;
};

// A first look, overtaken by the next plan.
struct LiveProvisional {
  v1::Update update;  // with quick decisions, those of first looks not told yet among them
  std::optional<std::chrono::duration<double, std::milli>> took;
};

struct LiveRefusal {
  enum class What { kEdit, kBaseline };
  What what = What::kEdit;
  int64_t revision = 0;
  absl::Status status;                       // with its faults (faults.h)
  std::shared_ptr<const ShotChange> change;  // of an edit: what is now held back
};

enum class LiveConnection {
  kConnecting,
  kLive,     // the session is begun or resumed
  kLost,     // will be tried again after `pause`
  kStopped,  // will not be tried again before Retry(), or, where what was noted was refused, the next note
  kClosed,
};

struct LiveConnectionChange {
  LiveConnection state = LiveConnection::kConnecting;
  absl::Status why;      // lost, stopped
  bool resumed = false;  // live: the session of before; else a new one, which was sent everything
  std::chrono::milliseconds pause{0};

  explicit LiveConnectionChange(LiveConnection now, absl::Status why_so = absl::OkStatus(), bool of_before = false,
                                std::chrono::milliseconds until_next = std::chrono::milliseconds(0))
      : state(now), why(std::move(why_so)), resumed(of_before), pause(until_next) {}
};

// Called by LiveSession::Pump, on its caller's thread; any may be empty.
struct LiveListener {
  std::function<void(const LivePlanUpdate&)> plan;
  std::function<void(const LiveProvisional&)> provisional;
  std::function<void(const LiveRefusal&)> refusal;
  std::function<void(const v1::AssemblyProgress&)> progress;
  std::function<void(const LiveConnectionChange&)> connection;
};

using WhatIfCall = std::function<void(const absl::StatusOr<v1::WhatIfAnswer>&)>;

// A status of a message as an absl one, its details as payloads (faults.h reads them). Pure.
absl::Status StatusFromRpc(const google::rpc::Status& status);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_EVENTS_H_
