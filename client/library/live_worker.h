// The threads of a live session: one that keeps the connection and writes, one for every stream that reads.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_WORKER_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_WORKER_H_

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "client/library/live_inbox.h"
#include "client/library/live_log.h"
#include "client/library/live_pause.h"
#include "grpcpp/client_context.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::client {

struct LiveOptions {
  using Milliseconds = std::chrono::milliseconds;
  std::string address;             // "unix:PATH" or "HOST:PORT"
  Milliseconds gather{5};          // from the first note to its edit, for what belongs to it
  Milliseconds least_between{30};  // from one edit to the next: what is noted meanwhile is one edit
  Milliseconds patience{5000};     // for a connection, and for the session's first answer
  Milliseconds first_pause{100};   // after a lost connection; doubles, with jitter, up to
  Milliseconds longest_pause{5000};
  Milliseconds limit_pause{30'000};  // after RESOURCE_EXHAUSTED
  std::function<void()> wake = {};   // called from another thread when Pump has something to tell; must not call back
};

// All calls are thread-safe and come back at once, but for Close.
class LiveWorker {
 public:
  // `inbox` must outlive it.
  LiveWorker(LiveOptions options, LiveInbox& inbox);
  ~LiveWorker();

  void Note(ShotChange change);
  void NoteWhole(LiveShot shot);
  void Ask(v1::ShotEdit edit, WhatIfCall call);
  void SetBaseline(v1::Baseline baseline);
  void Retry();
  void Close();

  // The last revision taken in, where it brought all that was noted and nothing is held; else none.
  std::optional<int64_t> AllTakenIn() const;
  ShotChange held() const;
  LiveShot expected() const;

 private:
  using TimePoint = std::chrono::steady_clock::time_point;
  using Stream = grpc::ClientReaderWriter<v1::AssembleShotRequest, v1::AssembleShotResponse>;
  enum class Stop { kNone, kUntilNote, kUntilRetry };
  enum class Task { kEnd, kEdit, kAsk, kBaseline };

  struct Question {
    std::string id;
    v1::ShotEdit edit;
    WhatIfCall call;
    bool sent = false;
  };

  // live_worker.cc: the life of the connection.
  void Run();
  bool AwaitTurn();
  absl::Status Converse();
  bool AwaitChannel(grpc::Channel& channel);
  bool AwaitStarted();
  void Judge(const absl::Status& ended);
  void StopFor(const absl::Status& why, Stop until);
  void EndStream(Stream& stream);

  // live_sending.cc: what is written.
  bool Open(Stream& stream, std::vector<SentEdit>& to_send);
  bool SendAgain(Stream& stream, const std::vector<SentEdit>& begun);
  void WriteAll(Stream& stream);
  Task NextTask();
  bool IsDue(TimePoint now, TimePoint& when) const;
  bool SendNoted(Stream& stream);
  bool SendQuestions(Stream& stream);
  bool SendBaseline(Stream& stream);
  std::optional<SentEdit> TakeNoted();
  void TakeBack();

  // live_receiving.cc: what is read.
  void ReadAll(Stream& stream);
  void Take(v1::AssembleShotResponse& response);
  void TakeUpdate(v1::Update update);
  void TakeRefusal(const v1::Refusal& refusal);
  void TakeAnswer(const std::string& what_if_id, absl::StatusOr<v1::WhatIfAnswer> answer);

  const LiveOptions options_;
  LiveInbox& inbox_;
  GrowingPause pauses_;

  mutable std::mutex log_mutex_;  // never taken while mutex_ is held
  EditLog log_;
  std::atomic<size_t> in_flight_{0};

  mutable std::mutex mutex_;
  std::condition_variable changed_;
  ShotChange noted_;  // on top of whole_, where that is set
  std::optional<LiveShot> whole_;
  std::optional<TimePoint> noted_since_;
  bool taking_ = false;  // what was noted is on its way into the log
  std::deque<Question> questions_;
  int64_t next_question_ = 1;
  std::optional<v1::Baseline> baseline_;  // in force
  v1::Totals baseline_totals_;            // of the plan that `present` meant
  bool baseline_due_ = false;
  bool has_header_ = false, closing_ = false, ended_ = false;
  bool heard_ = false;      // an update came over the present stream
  bool take_back_ = false;  // the session could not begin with what it was to be sent
  Stop stop_ = Stop::kNone;
  TimePoint not_before_{}, last_sent_{};
  std::string session_id_;  // empty: begin anew
  std::optional<v1::Started> started_;
  bool stream_ended_ = false;
  grpc::ClientContext* context_ = nullptr;
  std::thread thread_;  // last: it uses all of the above
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_WORKER_H_
