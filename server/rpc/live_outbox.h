// What is on its way to the reader of a session.
//
// Four kinds wait here, each with room for a little: answers to single messages (refusals, what-ifs; whoever does not
// read them is not listened to), the latest first look, the latest progress, and plans, of which only a number is
// known: what the reader missed is looked up when the way is free. So a slow reader gets later plans as one, and memory
// stays that of one snapshot.
//
// Order: revisions of updates never go back. A first look that a plan has overtaken is dropped.

#ifndef SCANTLING_SERVER_RPC_LIVE_OUTBOX_H_
#define SCANTLING_SERVER_RPC_LIVE_OUTBOX_H_

#include <chrono>
#include <cstdint>
#include <deque>
#include <mutex>
#include <optional>
#include <string>

#include "scantling/v1/assembly.pb.h"
#include "server/session/published.h"

namespace scantling {

// Thread-safe.
class LiveOutbox {
 public:
  // Refusals that are told again to a reader who comes back.
  static constexpr size_t kRefusalsKept = 16;
  // Answers that may wait before the outbox is crowded.
  static constexpr size_t kAnswersWaiting = 64;

  // A reader begins who knows plan `known` (0: nothing): only `started` and what he missed are on their way.
  void Start(const void* reader, v1::Started started, int64_t known);

  void Refuse(v1::Refusal refusal);
  void Answer(v1::WhatIfAnswer answer);
  void Look(v1::Update provisional);
  void Report(v1::AssemblyProgress progress);
  void Planned(int64_t revision);  // a plan of the revision was published

  // The next message, if there is one; nothing for a reader who is not the last that began.
  bool Next(const void* reader, const Published& published, v1::AssembleShotResponse& out);

  bool empty(const Published& published) const;

  // So many answers wait that no more messages should be taken in until some are read.
  bool crowded() const;

 private:
  void FillPart(v1::Update& update);

  mutable std::mutex mutex_;
  const void* reader_ = nullptr;
  std::deque<v1::AssembleShotResponse> answers_;
  std::deque<v1::Refusal> refusals_;
  std::optional<v1::Update> look_;
  std::optional<v1::AssemblyProgress> progress_;
  int64_t known_ = 0;  // number of the plan the reader has, or will have when `sending_` is through
  std::optional<Snapshot> sending_;
  size_t gone_sent_ = 0, decisions_sent_ = 0;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LIVE_OUTBOX_H_
