// A deadline belongs to the caller's clock on the wall, the stop to the monotonic clock: the time left is carried over.
//
// gRPC ends a call at its deadline by cancelling it, so OnCancel alone cannot tell the two apart; a deadline in the
// past can.

#include "server/rpc/call.h"

#include <algorithm>
#include <array>
#include <exception>
#include <new>

namespace scantling {
namespace {

using std::chrono::duration;
using std::chrono::milliseconds;
using std::chrono::steady_clock;
using std::chrono::system_clock;

// What is held back from the caller's time for putting the answer together and carrying it home: a tenth, at most half
// a second. Starting value: 100,000 decisions were answered in well under half a second on loopback.
constexpr double kHeldBackShare = 0.1;
constexpr milliseconds kHeldBackMost{500};

steady_clock::time_point StopAt(system_clock::time_point deadline) {
  if (deadline == system_clock::time_point::max()) return steady_clock::time_point::max();
  const system_clock::duration left = std::max(deadline - system_clock::now(), system_clock::duration::zero());
  // A deadline of centuries would overflow the sum.
  if (left > std::chrono::hours(24 * 365)) return steady_clock::time_point::max();
  const auto held_back = std::min<duration<double>>(left * kHeldBackShare, kHeldBackMost);
  return steady_clock::now() + std::chrono::duration_cast<steady_clock::duration>(left - held_back);
}

constexpr std::array<std::string_view, 17> kCodeNames = {
    "OK",        "CANCELLED",       "UNKNOWN",           "INVALID_ARGUMENT",   "DEADLINE_EXCEEDED",
    "NOT_FOUND", "ALREADY_EXISTS",  "PERMISSION_DENIED", "RESOURCE_EXHAUSTED", "FAILED_PRECONDITION",
    "ABORTED",   "OUT_OF_RANGE",    "UNIMPLEMENTED",     "INTERNAL",           "UNAVAILABLE",
    "DATA_LOSS", "UNAUTHENTICATED",
};

}  // namespace

std::string_view CodeName(grpc::StatusCode code) {
  const auto index = static_cast<size_t>(code);
  return index < kCodeNames.size() ? kCodeNames[index] : "UNKNOWN";
}

void RunningCalls::CancelAll() {
  const std::scoped_lock lock(mutex_);
  const std::set<Call*> seen = calls_;
  for (Call* call : seen) {
    if (calls_.contains(call)) call->context_.TryCancel();
  }
}

size_t RunningCalls::count() const {
  const std::scoped_lock lock(mutex_);
  return calls_.size();
}

Call::Call(std::string_view method, grpc::CallbackServerContext& context, RunningCalls& running)
    : context_(context), running_(running), stop_(StopAt(context.deadline())) {
  record.method = method;
  record.peer = context.peer();
  const std::scoped_lock lock(running_.mutex_);
  running_.calls_.insert(this);
}

Call::~Call() {
  const std::scoped_lock lock(running_.mutex_);
  running_.calls_.erase(this);
}

double Call::MillisecondsSince() const { return duration<double, std::milli>(steady_clock::now() - arrived_).count(); }

void Call::Begun() { record.waited_ms = MillisecondsSince(); }

void Call::IsAbout(const Scene& scene) {
  record.shot_id = scene.shot_id;
  record.objects = static_cast<int64_t>(scene.objects.size());
  record.frames = scene.frames.count();
}

grpc::Status Call::Report(grpc::Status status) {
  // A stream cut short looks incomplete before its cancel is known, and is then refused for the wrong reason.
  if (stop_.Cancelled() && !status.ok()) {
    const bool late = context_.deadline() <= system_clock::now();
    status = late ? grpc::Status(grpc::StatusCode::DEADLINE_EXCEEDED, "the deadline passed before a plan was found")
                  : grpc::Status(grpc::StatusCode::CANCELLED, "the caller cancelled");
  }
  record.total_ms = MillisecondsSince();
  record.code = status.error_code();
  record.message = status.error_message();
  if (running_.sink_) running_.sink_(record);
  return status;
}

grpc::Status Guarded(const std::function<grpc::Status()>& work) {
  try {
    return work();
  } catch (const std::bad_alloc&) {
    return {grpc::StatusCode::RESOURCE_EXHAUSTED, "out of memory; want a smaller shot or a larger machine"};
  } catch (const std::exception& fault) {
    return {grpc::StatusCode::INTERNAL, fault.what()};
  }
}

}  // namespace scantling
