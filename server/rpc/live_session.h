// One shot being assembled live: takes edits in, keeps its shot up to date, and says what changed.
//
// All work on the shot is done by one strand: a task on the lane of live sessions, run when there is something to do,
// never twice at once. It takes in whatever has arrived, then does the next piece of work:
//
//   a first look  ->  measuring and a settled plan  ->  what-ifs  ->  (after a pause) the final plan
//
// A message that arrives stops the piece at hand (how soon: live_shot.h), and the strand takes it in. So edits that
// come quickly are worked on as one.
//
// A session knows its reader as a StreamLine, which comes and goes.

#ifndef SCANTLING_SERVER_RPC_LIVE_SESSION_H_
#define SCANTLING_SERVER_RPC_LIVE_SESSION_H_

#include <atomic>
#include <chrono>
#include <cstdint>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "grpcpp/support/status.h"
#include "scantling/v1/assembly.pb.h"
#include "server/planning/live_shot.h"
#include "server/rpc/edit_reader.h"
#include "server/rpc/live_outbox.h"
#include "server/rpc/live_parts.h"
#include "server/session/published.h"
#include "server/units/stop.h"

namespace scantling {

// A stream as its session sees it. Calls may come from any thread, and after the stream is gone (then they do nothing).
class StreamLine {
 public:
  virtual ~StreamLine() = default;
  virtual void Wake() = 0;                        // there may be something to send
  virtual void ReadOn() = 0;                      // there is room for messages again
  virtual void EndWith(grpc::Status status) = 0;  // after what is ready was sent
};

class LiveSession final : public std::enable_shared_from_this<LiveSession> {
 public:
  using Request = std::unique_ptr<v1::AssembleShotRequest>;

  // Messages that may wait; beyond them the stream is not read.
  static constexpr size_t kMostWaiting = 4;
  static constexpr size_t kMostWhatIfs = 4;

  // `header` was checked by EditReader::Begin.
  LiveSession(const LiveParts& parts, std::string id, LiveHeader header);

  const std::string& id() const { return id_; }

  // A stream that knows plan `known` takes the session over; the one before ends with ABORTED.
  void Attach(std::shared_ptr<StreamLine> line, int64_t known, bool resumed);
  // The stream is gone; another may have come.
  void Detach(const StreamLine* line);

  // A message of the attached stream. False: there is no room for a further one until ReadOn.
  bool Deliver(Request message, const StreamLine* line);

  // The next message for the attached stream, if there is one.
  bool NextMessage(const StreamLine* line, v1::AssembleShotResponse& out);

  // Everything taken in is planned finally and told.
  bool idle() const;

  // Looks whether a final plan is due.
  void Tick(std::chrono::steady_clock::time_point now);

  // Ends all work, for good, and the stream.
  void Shut();

 private:
  using Clock = std::chrono::steady_clock;

  void Schedule();  // wants mutex_
  void Run();
  std::optional<Request> TakeMessage();
  void ReadOnIfRoom();
  std::shared_ptr<StreamLine> line() const;
  void Wake() const;

  // On the strand.
  void TakeIn(v1::AssembleShotRequest& message);
  void TakeEdit(const v1::ShotEdit& part);
  void FinishEdit(int64_t revision);
  void TakeBaseline(const v1::Baseline& baseline);
  void QueueWhatIf(v1::WhatIf what_if);
  bool Step();
  void Look(const Stop& stop);
  void Settle(const Stop& stop);
  void Finish(const Stop& stop);
  void AnswerWhatIf(const Stop& stop);
  grpc::Status PlanWhatIf(const v1::WhatIf& what_if, const Stop& stop, v1::WhatIfAnswer& answer);
  void Publish(int threads);
  void PublishAgain();
  void PublishProblem(const grpc::Status& status);
  void MoveTold(const MergedScene& merged, const std::vector<std::string>& removed_ids);
  void TakeFrame(int64_t revision);
  void RefuseRevision(int64_t revision, const grpc::Status& status);
  SharedBytes ToldOf(uint32_t row) const;
  PlanRequest RequestOn(int threads) const;
  ProgressSink ProgressOf();
  void FillBaseline(const v1::Totals& totals, v1::BaselineChange& change) const;

  const LiveParts parts_;
  const std::string id_;

  Published published_;
  LiveOutbox outbox_;

  mutable std::mutex mutex_;  // guards what follows
  std::shared_ptr<StreamLine> line_;
  std::deque<Request> waiting_;
  bool fresh_line_ = false;  // a stream came: parts of an edit whose end was lost do not count
  bool running_ = false, shut_ = false, closed_ = false, reading_paused_ = false;
  bool at_rest_ = false;  // the strand found nothing to do
  std::shared_ptr<Stop> stop_;
  std::optional<Clock::time_point> final_due_;

  // Of the strand.
  EditReader reader_;
  LiveHeader header_;
  LiveShot live_;
  int64_t looked_ = 0, settled_ = 0;  // revisions
  bool final_ = true;                 // what was settled last is final
  std::vector<uint32_t> told_row_;    // per row: its row in the plan published last; kNone: it was not there
  std::vector<std::string> gone_;     // ids of objects that left since
  std::vector<uint64_t> signature_;   // per row of that plan, see Publish
  std::deque<v1::WhatIf> what_ifs_;
  std::optional<v1::Totals> baseline_, last_totals_;
  std::string baseline_label_;
  v1::Update closing_;  // what was said last of the plan as a whole
  Clock::time_point last_progress_;

  std::atomic<int64_t> revision_{0};  // last taken in or refused
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LIVE_SESSION_H_
