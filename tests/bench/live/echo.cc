// Bytes go as they are: nothing is parsed or serialised on either side, so that the figure is the transport's and the
// ratio to it says what everything else takes, messages included.

#include "tests/bench/live/echo.h"

#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstring>
#include <vector>

#include "grpcpp/generic/async_generic_service.h"
#include "grpcpp/generic/generic_stub.h"
#include "grpcpp/grpcpp.h"
#include "tests/bench/live/session.h"

namespace scantling::bench {
namespace {

grpc::ByteBuffer BufferOf(const std::string& bytes) {
  const grpc::Slice slice(bytes);
  return grpc::ByteBuffer(&slice, 1);
}

class EchoStream : public grpc::ServerGenericBidiReactor {
 public:
  EchoStream() { StartRead(&message_); }

  void OnReadDone(bool ok) override {
    if (!ok) {
      Finish(grpc::Status::OK);
      return;
    }
    grpc::Slice slice;
    uint64_t wanted = 0;
    // Small messages are one slice; of large ones the copy costs what a reader that wants to look at them pays.
    if (message_.DumpToSingleSlice(&slice).ok() && slice.size() >= sizeof wanted) {
      std::memcpy(&wanted, slice.begin(), sizeof wanted);
    }
    answer_ = BufferOf(std::string(wanted, 'a'));
    StartWrite(&answer_);
  }

  void OnWriteDone(bool ok) override {
    if (ok) {
      StartRead(&message_);
    } else {
      Finish(grpc::Status::CANCELLED);
    }
  }

  void OnDone() override { delete this; }

 private:
  grpc::ByteBuffer message_, answer_;
};

class EchoService : public grpc::CallbackGenericService {
 public:
  grpc::ServerGenericBidiReactor* CreateReactor(grpc::GenericCallbackServerContext*) override { return new EchoStream; }
};

grpc::ChannelArguments AnySize() {
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  arguments.SetMaxReceiveMessageSize(-1);
  arguments.SetMaxSendMessageSize(-1);
  return arguments;
}

[[noreturn]] void BecomeEcho(const std::string& address) {
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  execl("/proc/self/exe", "bench_live", "echo", address.c_str(), nullptr);
  _exit(127);
}

}  // namespace

int ServeEcho(const std::string& address) {
  EchoService service;
  grpc::ServerBuilder builder;
  builder.AddListeningPort(address, grpc::InsecureServerCredentials());
  builder.SetMaxReceiveMessageSize(-1);
  builder.RegisterCallbackGenericService(&service);
  const std::unique_ptr<grpc::Server> server = builder.BuildAndStart();
  if (server == nullptr) return 1;
  server->Wait();
  return 0;
}

struct Echo::Stream {
  grpc::CompletionQueue queue;
  grpc::ClientContext context;
  std::unique_ptr<grpc::GenericStub> stub;
  std::unique_ptr<grpc::GenericClientAsyncReaderWriter> call;

  void Await() {
    void* tag = nullptr;
    bool ok = false;
    if (!queue.Next(&tag, &ok) || !ok) End("the echo stream broke");
  }
};

Echo::Echo(const std::string& address) : stream_(std::make_unique<Stream>()) {
  pid_ = fork();
  if (pid_ == 0) BecomeEcho(address);
  const auto channel = grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), AnySize());
  stream_->stub = std::make_unique<grpc::GenericStub>(channel);
  stream_->context.set_wait_for_ready(true);
  stream_->context.set_deadline(std::chrono::system_clock::now() + std::chrono::hours(12));
  stream_->call = stream_->stub->PrepareCall(&stream_->context, "/scantling.bench.Echo/Exchange", &stream_->queue);
  stream_->call->StartCall(nullptr);
  stream_->Await();
}

Echo::~Echo() {
  kill(pid_, SIGKILL);
  waitpid(pid_, nullptr, 0);
  stream_->queue.Shutdown();
  void* tag = nullptr;
  bool ok = false;
  while (stream_->queue.Next(&tag, &ok)) {
  }
}

double Echo::RoundTrip(int64_t bytes_out, int64_t bytes_back) {
  const auto back = static_cast<uint64_t>(bytes_back);
  std::string bytes(std::max<size_t>(static_cast<size_t>(bytes_out), sizeof back), 'a');
  std::memcpy(bytes.data(), &back, sizeof back);
  const grpc::ByteBuffer message = BufferOf(bytes);
  grpc::ByteBuffer answer;
  const auto start = Clock::now();
  stream_->call->Read(&answer, nullptr);
  stream_->call->Write(message, nullptr);
  stream_->Await();
  stream_->Await();
  const double took_ms = MilliBetween(start, Clock::now());
  if (answer.Length() != back) End("the echo answered with another number of bytes than it was asked for");
  return took_ms;
}

}  // namespace scantling::bench
