// A client of AssembleShot for tests: one stream at a time, everything accumulated as the protocol says.

#ifndef SCANTLING_TESTS_CONTRACT_LIVE_CLIENT_H_
#define SCANTLING_TESTS_CONTRACT_LIVE_CLIENT_H_

#include <chrono>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "grpcpp/channel.h"
#include "grpcpp/client_context.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::testing {

class LiveClient {
 public:
  explicit LiveClient(const std::shared_ptr<grpc::Channel>& channel);
  ~LiveClient();

  // Opens a stream. False where the daemon ends it before Started; status() says why.
  bool Begin(const v1::Shot& header, const v1::PlanOptions& options = {});
  bool Resume();
  bool Resume(const std::string& session_id, int64_t update);

  bool Send(v1::AssembleShotRequest message);
  // An edit under the next revision, which is answered.
  int64_t Edit(v1::ShotEdit edit);

  // Reads until `done` or the stream ends. True: done.
  bool ReadUntil(const std::function<bool()>& done);
  // Reads until a final (or settled) update answers `revision` or a later one.
  bool ReadToFinal(int64_t revision);
  bool ReadToSettled(int64_t revision);
  // Reads one message, takes it in; false at the end.
  bool ReadOne();

  void HalfClose();
  // Breaks the stream off as a lost connection would.
  void BreakOff();
  grpc::Status End();  // waits for the stream's end

  v1::Plan Plan() const;  // decisions and the last summary

  std::string session_id;
  v1::Started started;
  int64_t update = 0;    // number of the last taken in whole
  int64_t revision = 0;  // last sent
  int64_t answered = 0;  // revision of the last whole settled or final update
  v1::UpdateState state = v1::UPDATE_STATE_UNSPECIFIED;
  v1::Update last;  // the last whole one: its closing part
  std::map<std::string, v1::Decision> decisions;
  std::vector<v1::Update> looks;  // provisional ones
  std::vector<v1::Refusal> refusals;
  std::vector<v1::WhatIfAnswer> what_ifs;
  std::vector<v1::AssemblyProgress> progress;
  std::vector<std::string> told;  // ids of the last whole update's decisions
  bool last_anew = false;
  int order_faults = 0;  // revisions or numbers that went back
  int whole_updates = 0;

 private:
  bool Open(const v1::AssembleShotRequest& first);
  void TakeUpdate(const v1::Update& part);

  std::unique_ptr<v1::ShotPlanner::Stub> stub_;
  std::unique_ptr<grpc::ClientContext> context_;
  std::unique_ptr<grpc::ClientReaderWriter<v1::AssembleShotRequest, v1::AssembleShotResponse>> stream_;
  std::vector<v1::Update> parts_;
  int64_t last_revision_ = 0;
};

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_LIVE_CLIENT_H_
