// A service that assembles shots by a script: what each stream hears and answers is said by the test.

#ifndef SCANTLING_TESTS_CLIENT_LIBRARY_FAKE_ASSEMBLY_H_
#define SCANTLING_TESTS_CLIENT_LIBRARY_FAKE_ASSEMBLY_H_

#include <atomic>
#include <chrono>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "grpcpp/server.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::client {

// One stream, as the script sees it.
class FakeCall {
 public:
  using Stream = grpc::ServerReaderWriter<v1::AssembleShotResponse, v1::AssembleShotRequest>;
  FakeCall(grpc::ServerContext& context, Stream& stream) : context_(context), stream_(stream) {}

  // The next message; unset where the stream has ended.
  v1::AssembleShotRequest Read();
  // Reads the parts of one edit, joined; revision 0 where something else came, or nothing.
  v1::ShotEdit ReadEdit();

  void Start(const std::string& session_id, int64_t revision = 0, bool resumed = false);
  // A whole plan update in one message, every object by id with its tier.
  void Plan(int64_t number, int64_t revision, v1::UpdateState state, const std::vector<std::string>& full_rig,
            bool anew = false);
  void Send(const v1::Update& update);
  void Refuse(int64_t revision, const std::string& field);
  void Write(const v1::AssembleShotResponse& response) { stream_.Write(response); }

  // Until the client ends the stream, or cancels it.
  void ReadToEnd();
  bool IsCancelled() const { return context_.IsCancelled(); }
  bool saw_close() const { return saw_close_; }

 private:
  grpc::ServerContext& context_;
  Stream& stream_;
  bool saw_close_ = false;
};

// Streams are numbered from 0; every one runs the script on a thread of its own.
using Script = std::function<grpc::Status(int number, FakeCall& call)>;

class FakeAssembly : public v1::ShotPlanner::Service {
 public:
  explicit FakeAssembly(Script script);
  ~FakeAssembly() override;

  std::string address() const;
  int calls() const { return calls_; }

  // Ends the server with all its streams, as a killed daemon does; Restart listens at the same place again.
  void Kill();
  void Restart();

  grpc::Status AssembleShot(grpc::ServerContext* context, FakeCall::Stream* stream) override;

 private:
  Script script_;
  std::atomic<int> calls_{0};
  std::string folder_;
  std::unique_ptr<grpc::Server> server_;
};

}  // namespace scantling::client

#endif  // SCANTLING_TESTS_CLIENT_LIBRARY_FAKE_ASSEMBLY_H_
