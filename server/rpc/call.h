// What every call needs whatever it does: a stop that its caller's cancel and deadline reach, a record for the log, and
// a place in the list of running calls so that a draining daemon can end them.

#ifndef SCANTLING_SERVER_RPC_CALL_H_
#define SCANTLING_SERVER_RPC_CALL_H_

#include <chrono>
#include <cstdint>
#include <functional>
#include <mutex>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "grpcpp/server_context.h"
#include "grpcpp/support/status.h"
#include "server/planning/plan_shot.h"
#include "server/units/stop.h"

namespace scantling {

// One finished call, for the log.
struct CallRecord {
  std::string_view method;
  std::string peer;
  std::string shot_id;
  int64_t objects = 0;
  int32_t frames = 0;
  double waited_ms = 0;  // in the queue, before any work
  double total_ms = 0;   // from arrival to the moment the answer is handed to the transport
  grpc::StatusCode code = grpc::StatusCode::OK;
  std::string message;  // of the status; empty where OK
  std::vector<StageClock> stages;
};

// "OK", "INVALID_ARGUMENT", ... as gRPC spells them.
std::string_view CodeName(grpc::StatusCode code);

// At most twenty messages of progress a second from one call: more than a person can see change.
inline constexpr std::chrono::milliseconds kProgressEvery{50};

using CallSink = std::function<void(const CallRecord&)>;

class Call;

// The calls that run now. Thread-safe.
class RunningCalls {
 public:
  // `sink` hears of every finished call, from any thread, also of several at once; may be empty.
  explicit RunningCalls(CallSink sink) : sink_(std::move(sink)) {}

  // Cancels every running call, streams that wait for their caller included. May be called again.
  void CancelAll();
  size_t count() const;

 private:
  friend class Call;
  // Recursive: cancelling a call may run its last callback, which removes it, on this very thread.
  mutable std::recursive_mutex mutex_;
  std::set<Call*> calls_;
  CallSink sink_;
};

// Lives as long as the reactor that owns it. Stop() and Cancel() may be used from any thread; the rest from one at a
// time.
class Call {
 public:
  Call(std::string_view method, grpc::CallbackServerContext& context, RunningCalls& running);
  ~Call();
  Call(const Call&) = delete;
  Call& operator=(const Call&) = delete;

  // Asked to stop when the caller cancels and shortly before its deadline, so that the best plan found by then still
  // reaches it in time.
  const Stop& stop() const { return stop_; }
  void Cancel() { stop_.Cancel(); }

  // Work on the call begins now; what went before was waiting.
  void Begun();

  // Notes for the log which shot it is about, and how large that is.
  void IsAbout(const Scene& scene);

  // Tells the log, once. Answers `status`, or CANCELLED or DEADLINE_EXCEEDED where the caller's end is the real cause.
  grpc::Status Report(grpc::Status status);

  CallRecord record;

 private:
  friend class RunningCalls;
  double MillisecondsSince() const;

  grpc::CallbackServerContext& context_;
  RunningCalls& running_;
  const std::chrono::steady_clock::time_point arrived_ = std::chrono::steady_clock::now();
  Stop stop_;
};

// Runs `work`; what it throws becomes a status: RESOURCE_EXHAUSTED where memory ran out, else INTERNAL. One shot too
// large must not end the daemon.
grpc::Status Guarded(const std::function<grpc::Status()>& work);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_CALL_H_
