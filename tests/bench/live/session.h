// A client of one session: edits go out, and what comes back is noted with the time it came.

#ifndef SCANTLING_TESTS_BENCH_LIVE_SESSION_H_
#define SCANTLING_TESTS_BENCH_LIVE_SESSION_H_

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "grpcpp/channel.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::bench {

using Clock = std::chrono::steady_clock;

inline double MilliBetween(Clock::time_point from, Clock::time_point to) {
  return std::chrono::duration<double, std::milli>(to - from).count();
}

// Prints why and ends the program with 1: a figure of a failed session would mean nothing.
[[noreturn]] void End(const std::string& why);

// An update, whole.
struct Answer {
  Clock::time_point at;  // its last message was read and parsed
  int64_t revision = 0;
  v1::UpdateState state = v1::UPDATE_STATE_UNSPECIFIED;
  int64_t bytes = 0;      // of all its messages
  int64_t decisions = 0;  // quick ones included
  double gap = 0;         // of the summary; 0 without
  std::vector<v1::StageTime> stages;
};

struct Sent {
  Clock::time_point at;  // before its first message was given to the transport
  int64_t revision = 0;
  int64_t bytes = 0;
  size_t seen = 0;  // answers that had come by then
};

// Ends the program where the stream ends, an edit is refused, an update has a problem, or nothing comes for two
// minutes. One thread sends and waits; another, its own, reads.
class LiveSession {
 public:
  LiveSession(const std::shared_ptr<grpc::Channel>& channel, const v1::Begin& begin);
  // Closes the session.
  ~LiveSession();
  LiveSession(const LiveSession&) = delete;
  LiveSession& operator=(const LiveSession&) = delete;

  // The parts of one edit; revision and `continues` are set here.
  Sent Send(std::vector<v1::ShotEdit> parts);

  // The first update since that answers it, in any state; that is settled or final; that is final.
  Answer AwaitFirst(const Sent& sent);
  Answer AwaitSettled(const Sent& sent);
  Answer AwaitFinal(const Sent& sent);

  // All updates since.
  std::vector<Answer> AnswersSince(const Sent& sent);
  // Of the last summary that came.
  v1::Totals Totals();
  double began_ms() const { return began_ms_; }  // from Begin to Started

 private:
  void Read();
  void TakeIn(const v1::AssembleShotResponse& message, Clock::time_point at);
  Answer Await(const Sent& sent, const std::function<bool(const Answer&)>& wanted);

  std::unique_ptr<v1::ShotPlanner::Stub> planner_;
  grpc::ClientContext context_;
  std::unique_ptr<grpc::ClientReaderWriter<v1::AssembleShotRequest, v1::AssembleShotResponse>> stream_;
  int64_t revision_ = 0;
  double began_ms_ = 0;

  std::mutex mutex_;
  std::condition_variable came_;
  bool started_ = false, closing_ = false;
  Answer partial_;
  std::vector<Answer> answers_;
  v1::Totals totals_;
  std::thread reader_;
};

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_LIVE_SESSION_H_
