// Start and end: what is refused at start, sockets left behind, drain, parents that go.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <future>
#include <thread>

#include "proto/health.grpc.pb.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"
#include "tests/contract/wait_until.h"

namespace scantling::testing {
namespace {

using grpc::health::v1::Health;
using grpc::health::v1::HealthCheckRequest;
using grpc::health::v1::HealthCheckResponse;
using std::chrono::milliseconds;
using std::chrono::seconds;
using std::chrono::steady_clock;
using ::testing::AnyOf;
using ::testing::HasSubstr;

void ExpectRefusedAtStart(const std::vector<std::string>& arguments, int code, const std::string& words) {
  DaemonProcess daemon(arguments);
  EXPECT_EQ(daemon.WaitForEnd(), code) << daemon.Log();
  EXPECT_THAT(daemon.Log(), HasSubstr(words));
}

TEST(Start, AnythingButLoopbackIsRefused) {
  for (const char* address : {"0.0.0.0:0", "[::]:0", "192.0.2.1:0"}) {
    ExpectRefusedAtStart({"--listen", address}, 2, "needs TLS");
  }
}

TEST(Start, AddressesThatAreNoneAreRefused) {
  ExpectRefusedAtStart({"--listen", "nonsense"}, 2, "want unix:PATH, HOST:PORT or [IPv6]:PORT");
  ExpectRefusedAtStart({"--listen", "127.0.0.1:70000"}, 2, "want unix:PATH, HOST:PORT or [IPv6]:PORT");
  ExpectRefusedAtStart({"--listen", "unix:/" + std::string(200, 'x')}, 2, "want 1 to 107");
}

TEST(Start, FlagsOutOfRangeAreRefused) {
  ExpectRefusedAtStart({"--threads", "-1"}, 2, "--threads");
  ExpectRefusedAtStart({"--no-such-flag"}, 2, "--no-such-flag");
  ExpectRefusedAtStart({"--log-format", "xml"}, 2, "--log-format: xml not in {human,json}");
}

TEST(Start, ConfigurationFaultsNameFileLineAndColumn) {
  const TemporaryFolder folder;
  const std::string file = folder.path() + "/scantlingd.yaml";
  std::ofstream(file) << "threads: 2\nmax_objects: -5\nlog_format: xml\n";
  DaemonProcess daemon({"--config", file});
  EXPECT_EQ(daemon.WaitForEnd(), 2);
  EXPECT_THAT(daemon.Log(), HasSubstr(file + ":2:"));
  EXPECT_THAT(daemon.Log(), HasSubstr(file + ":3:"));
}

TEST(Start, UnknownDefaultStyleIsRefused) { ExpectRefusedAtStart({"--default-style", "woodcut"}, 2, "woodcut"); }

TEST(Start, FlagsWinOverTheFile) {
  const TemporaryFolder folder;
  const std::string file = folder.path() + "/scantlingd.yaml";
  std::ofstream(file) << "listen: unix:" << folder.path() << "/from_file.sock\n";
  const std::string wanted = "unix:" + folder.path() + "/from_flag.sock";
  DaemonProcess by_file({"--config", file});
  EXPECT_EQ(by_file.Address(), "unix:" + folder.path() + "/from_file.sock");
  DaemonProcess by_flag({"--config", file, "--listen", wanted});
  EXPECT_EQ(by_flag.Address(), wanted);
}

TEST(Start, TakenPortIsRefused) {
  DaemonProcess first({"--listen", "127.0.0.1:0"});
  ExpectRefusedAtStart({"--listen", first.Address()}, 1, "cannot listen on 127.0.0.1:");
}

// A socket file that nobody listens on, as a killed daemon leaves it.
void LeaveSocket(const std::string& path) {
  sockaddr_un address = {};
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, path.data(), path.size());
  const int descriptor = socket(AF_UNIX, SOCK_STREAM, 0);
  ASSERT_EQ(bind(descriptor, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
  close(descriptor);
  ASSERT_TRUE(std::filesystem::exists(path));
}

TEST(Start, StaleSocketIsReplaced) {
  const TemporaryFolder folder;
  const std::string path = folder.path() + "/scantlingd.sock";
  LeaveSocket(path);
  DaemonProcess daemon({"--listen", "unix:" + path});
  EXPECT_EQ(daemon.Address(), "unix:" + path) << daemon.Log();
}

TEST(Start, LivingSocketIsLeftAlone) {
  const TemporaryFolder folder;
  const std::string address = "unix:" + folder.path() + "/scantlingd.sock";
  DaemonProcess first({"--listen", address});
  ASSERT_EQ(first.Address(), address);
  ExpectRefusedAtStart({"--listen", address}, 1, "another daemon answers on");
  grpc::ClientContext context;
  v1::CheckShotRequest request;
  v1::CheckShotResponse response;
  EXPECT_TRUE(first.Planner()->CheckShot(&context, request, &response).ok());
}

TEST(Start, FileThatIsNoSocketIsLeftAlone) {
  const TemporaryFolder folder;
  const std::string path = folder.path() + "/notes.txt";
  std::ofstream(path) << "precious";
  ExpectRefusedAtStart({"--listen", "unix:" + path}, 2, "is no socket");
  std::string text;
  std::ifstream(path) >> text;
  EXPECT_EQ(text, "precious");
}

TEST(Start, HelpStatesTheDefaultSocketAndTheExitCodes) {
  DaemonProcess daemon({"--help"});
  EXPECT_EQ(daemon.WaitForEnd(), 0);
  for (const char* words : {"$XDG_RUNTIME_DIR/scantlingd.sock", "/tmp/scantling-UID/scantlingd.sock", "0 drained",
                            "1 cannot serve", "2 flags"}) {
    EXPECT_THAT(daemon.Output(), HasSubstr(words));
  }
}

TEST(End, SocketFileIsGone) {
  const TemporaryFolder folder;
  const std::string path = folder.path() + "/scantlingd.sock";
  DaemonProcess daemon({"--listen", "unix:" + path});
  ASSERT_FALSE(daemon.Address().empty());
  daemon.Signal(SIGINT);
  EXPECT_EQ(daemon.WaitForEnd(), 0);
  EXPECT_FALSE(std::filesystem::exists(path));
}

// Statuses that a watcher of health sees until its stream ends.
std::vector<HealthCheckResponse::ServingStatus> WatchHealth(const std::shared_ptr<grpc::Channel>& channel) {
  const auto stub = Health::NewStub(channel);
  grpc::ClientContext context;
  HealthCheckRequest request;
  request.set_service("scantling.v1.ShotPlanner");
  const auto stream = stub->Watch(&context, request);
  std::vector<HealthCheckResponse::ServingStatus> seen;
  HealthCheckResponse response;
  while (stream->Read(&response)) seen.push_back(response.status());
  stream->Finish();
  return seen;
}

TEST(End, DrainShowsNotServingAndStillAnswersInThePause) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--drain-pause-ms", "2000", "--drain-deadline-ms", "1000"});
  const auto channel = daemon.Channel();
  auto watched = std::async(std::launch::async, [&] { return WatchHealth(channel); });
  const auto planner = v1::ShotPlanner::NewStub(channel);
  const auto plan = [&] {
    grpc::ClientContext context;
    v1::PlanShotRequest request;
    *request.mutable_shot() = TinyShot();
    v1::PlanShotResponse response;
    return planner->PlanShot(&context, request, &response);
  };
  ASSERT_TRUE(plan().ok());
  daemon.Signal(SIGTERM);
  ASSERT_TRUE(WaitUntil(seconds(10), [&] { return daemon.Log().find("draining") != std::string::npos; }));
  EXPECT_TRUE(plan().ok()) << "calls are taken in the pause";
  EXPECT_EQ(daemon.WaitForEnd(), 0);
  EXPECT_THAT(watched.get(), ::testing::ElementsAre(HealthCheckResponse::SERVING, HealthCheckResponse::NOT_SERVING));
}

TEST(End, RunningCallIsFinishedNotCut) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0"});
  const auto planner = daemon.Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  const std::vector<v1::PlanLargeShotRequest> parts = PartsOf(BlocksOf(Crowd(500, 4), 100), {});
  ASSERT_TRUE(stream->Write(parts[0]));
  v1::PlanLargeShotResponse answer;
  ASSERT_TRUE(stream->Read(&answer));  // the daemon has the call
  daemon.Signal(SIGTERM);
  ASSERT_TRUE(WaitUntil(seconds(10), [&] { return daemon.Log().find("draining") != std::string::npos; }));
  for (size_t i = 1; i < parts.size(); ++i) EXPECT_TRUE(stream->Write(parts[i]));
  stream->WritesDone();
  bool complete = false;
  while (stream->Read(&answer)) complete = complete || answer.has_summary();
  EXPECT_TRUE(stream->Finish().ok());
  EXPECT_TRUE(complete);
  EXPECT_EQ(daemon.WaitForEnd(), 0);
}

TEST(End, SecondSignalHastens) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--drain-pause-ms", "600000", "--drain-deadline-ms", "3600000"});
  const auto planner = daemon.Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);  // and then says nothing more
  ASSERT_TRUE(stream->Write(PartsOf({EmptyStage(), {}}, {})[0]));
  v1::PlanLargeShotResponse answer;
  ASSERT_TRUE(stream->Read(&answer));
  daemon.Signal(SIGTERM);
  ASSERT_TRUE(WaitUntil(seconds(10), [&] { return daemon.Log().find("draining") != std::string::npos; }));
  EXPECT_EQ(daemon.WaitForEnd(milliseconds(300)), std::nullopt);
  daemon.Signal(SIGTERM);  // ends the pause
  EXPECT_EQ(daemon.WaitForEnd(milliseconds(300)), std::nullopt) << "the stream still runs";
  daemon.Signal(SIGTERM);  // cancels what runs
  while (stream->Read(&answer)) continue;
  // The status and the closing of the connection race inside gRPC: a client may see either.
  EXPECT_THAT(stream->Finish().error_code(), AnyOf(grpc::StatusCode::CANCELLED, grpc::StatusCode::UNAVAILABLE));
  EXPECT_EQ(daemon.WaitForEnd(), 0);
}

TEST(End, DrainDeadlineCutsWhatRunsOn) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--drain-deadline-ms", "200"});
  const auto planner = daemon.Planner();
  grpc::ClientContext context;
  const auto stream = planner->PlanLargeShot(&context);
  ASSERT_TRUE(stream->Write(PartsOf({EmptyStage(), {}}, {})[0]));
  v1::PlanLargeShotResponse answer;
  ASSERT_TRUE(stream->Read(&answer));
  daemon.Signal(SIGTERM);
  EXPECT_EQ(daemon.WaitForEnd(), 0);
}

TEST(End, DaemonGoesWithTheProcessThatStartedIt) {
  const TemporaryFolder folder;
  const std::string socket_path = folder.path() + "/scantlingd.sock";
  const std::string program = SCANTLINGD_PROGRAM;
  const std::string config = SCANTLING_SOURCE_DIR "/config";
  // A shell starts the daemon, waits for its socket, and goes.
  const std::string script = program + " --config-dir " + config + " --exit-with-parent --listen unix:" + socket_path +
                             " >" + folder.path() + "/out 2>&1 & echo $! >" + folder.path() + "/pid; while ! [ -S " +
                             socket_path + " ]; do sleep 0.05; done";
  ASSERT_EQ(std::system(script.c_str()), 0);
  pid_t pid = 0;
  std::ifstream(folder.path() + "/pid") >> pid;
  ASSERT_GT(pid, 1);
  EXPECT_TRUE(WaitUntil(seconds(10), [&] { return !std::filesystem::exists(socket_path); }));
  std::ifstream log(folder.path() + "/out");
  const std::string said((std::istreambuf_iterator<char>(log)), std::istreambuf_iterator<char>());
  EXPECT_THAT(said, HasSubstr("parent ended"));
}

}  // namespace
}  // namespace scantling::testing
