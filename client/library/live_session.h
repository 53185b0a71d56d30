// A shot assembled live: a caller notes what changes, and is told what that does to the plan.
//
//   LiveSession session({.address = address}, listener);
//   session.SetShot(shot, options);        // or SetHeader, Put, Put ...
//   session.Put(moved);                    // comes back at once, always
//   while (session.Wait(200ms)) session.Pump();   // or Pump() from the host's own idle loop
//
// Notes are merged and sent as edits by a thread of the session's own. It keeps the whole shot, reconnects by itself,
// resumes the session or begins it anew, and tells of both. Nothing is lost in silence: an edit the daemon refuses is
// told with its faults and held back; it goes again together with the next note on anything in it.
//
// All functions are thread-safe. But for Pump none calls the caller. One Pump at a time.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_SESSION_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_SESSION_H_

#include <chrono>
#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "client/library/live_events.h"
#include "client/library/live_inbox.h"
#include "client/library/live_worker.h"
#include "scantling/v1/assembly.pb.h"

namespace scantling::client {

class LiveSession {
 public:
  LiveSession(LiveOptions options, LiveListener listener);
  ~LiveSession();  // closes
  LiveSession(const LiveSession&) = delete;
  LiveSession& operator=(const LiveSession&) = delete;

  // ---- Notes. The session begins with the first header.

  // The whole shot: what differs from what the session knows is sent. INVALID_ARGUMENT with its faults, and nothing is
  // noted, where it cannot be kept (LiveShotOf). Linear in the shot, on the caller's thread.
  absl::Status SetShot(v1::Shot shot, v1::PlanOptions options);
  void SetShot(LiveShot shot);

  // Everything but objects; objects and blocks in it are passed over. Where its frames reach beyond those of before,
  // whatever moves or was measured must be put again.
  void SetHeader(v1::Shot header);
  void Put(const v1::SceneObject& object);  // new, or in place of the one with its id
  // Many at once. INVALID_ARGUMENT where the columns do not fit together for `frames` frames.
  absl::Status PutBlock(const v1::ObjectBlock& block, int64_t frames);
  void Remove(const std::string& object_id);  // one that is not there: no note
  void SetCamera(const v1::ShotCamera& camera);
  void SetDirectives(std::vector<v1::Directive> directives);  // in place of all
  void SetOptions(v1::PlanOptions options);
  void SetCurrentFrame(int32_t frame);

  // ---- Questions.

  // What would `change` do, on top of all that was noted? Pump calls back with the answer, or with why there is none;
  // CANCELLED where the session was closed before. RESOURCE_EXHAUSTED at once where it does not fit into a message.
  absl::Status WhatIf(const ShotChange& change, WhatIfCall call);

  // Totals are told against the present plan, or a saved one's totals, from now on, also after the session had to be
  // begun anew.
  void SetBaselineToPresent(const std::string& label);
  void SetBaseline(const std::string& label, const v1::Totals& totals);
  void ClearBaseline();

  // ---- Answers.

  // Calls the listener with what there is to tell; how many calls that were. Never waits.
  int Pump();
  // Waits until there is something to tell; false where there is not before `patience` ends.
  bool Wait(std::chrono::milliseconds patience);

  // The plan as last told by the daemon, with all decisions. Linear.
  v1::Plan Plan() const;
  // Whether that is a final plan of all that was noted, with nothing held back. Only then may it be published.
  bool publishable() const;
  // What was refused and is no part of the session.
  ShotChange held() const;
  // The shot as the session has it, once all that was sent is taken in.
  v1::Shot ShotAsSent() const;

  // Tries again now, whatever the reason not to.
  void Retry();
  // Ends the session for good. Waits some seconds at most. What was not told yet can still be pumped.
  void Close();

 private:
  void Note(ShotChange change) { worker_.Note(std::move(change)); }

  const LiveListener listener_;
  LiveInbox inbox_;
  LiveWorker worker_;  // after the inbox, into which it puts
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_SESSION_H_
