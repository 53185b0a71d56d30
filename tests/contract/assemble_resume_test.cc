// Sessions and their streams: lost connections, taking over, limits, and daemons that end.

#include <arpa/inet.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <chrono>
#include <csignal>
#include <memory>
#include <string>
#include <thread>

#include "tests/contract/assemble_fixture.h"

namespace scantling::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

// ---- Lost connections

TEST_F(Assemble, WhoComesBackGetsExactlyWhatHeMissed) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  const std::string id = client_.session_id;
  const int64_t known = client_.update;
  LiveClient behind(daemon_.Channel());
  behind.decisions = client_.decisions;
  behind.update = known;
  client_.BreakOff();

  // Another stream makes two changes meanwhile: one object altered, one gone.
  LiveClient other(daemon_.Channel());
  ASSERT_TRUE(other.Resume(id, known));
  EXPECT_TRUE(other.started.resumed());
  other.revision = other.started.revision();
  EXPECT_EQ(other.revision, 1);
  other.decisions = behind.decisions;
  v1::SceneObject& altered = *shot.mutable_objects(0);
  altered.set_importance(altered.importance() + 5);
  altered.mutable_box()->mutable_max_m()->set_y(altered.box().max_m().y() + 0.5);
  v1::ShotEdit edit;
  *edit.add_objects() = altered;
  ASSERT_TRUE(other.ReadToFinal(other.Edit(edit)));
  v1::ShotEdit remove;
  const std::string gone = shot.objects(shot.objects_size() - 1).id();
  remove.add_removed_ids(gone);
  ASSERT_TRUE(other.ReadToFinal(other.Edit(remove)));
  shot.mutable_objects()->RemoveLast();
  other.BreakOff();

  ASSERT_TRUE(behind.Resume(id, known));
  EXPECT_EQ(behind.started.revision(), 3);
  ASSERT_TRUE(behind.ReadToFinal(3));
  EXPECT_THAT(behind.told, ElementsAre(altered.id()));
  EXPECT_FALSE(behind.last_anew);
  EXPECT_FALSE(behind.decisions.contains(gone));
  EXPECT_EQ(Bytes(behind.Plan()), Bytes(Fresh(shot)));
  EXPECT_EQ(behind.whole_updates, 1);  // both changes as one
}

TEST_F(Assemble, ASecondStreamTakesTheSessionOver) {
  ASSERT_TRUE(client_.Begin(HeaderOf(TinyShot())));
  LiveClient second(daemon_.Channel());
  ASSERT_TRUE(second.Resume(client_.session_id, 0));
  const Refused refused = RefusalOf(client_.End());
  EXPECT_EQ(refused.code, grpc::StatusCode::ABORTED);
  EXPECT_EQ(refused.reason, "SESSION_TAKEN_OVER");
  second.Edit(ObjectsOf(TinyShot()));
  EXPECT_TRUE(second.ReadToFinal(1));
}

TEST_F(Assemble, RefusalsAreToldAgainToWhoComesBack) {
  ASSERT_TRUE(client_.Begin(HeaderOf(TinyShot())));
  v1::ShotEdit faulty;
  faulty.add_removed_ids("nobody");
  client_.Edit(faulty);
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
  client_.BreakOff();
  client_.refusals.clear();
  ASSERT_TRUE(client_.Resume());
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
  EXPECT_EQ(client_.refusals[0].revision(), 1);
}

TEST_F(Assemble, AnUnknownSessionIsNotFound) {
  EXPECT_FALSE(client_.Resume("0123456789abcdef0123456789abcdef", 0));
  const Refused refused = RefusalOf(client_.End());
  EXPECT_EQ(refused.code, grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(refused.reason, "SESSION_UNKNOWN");
  EXPECT_THAT(refused.message, HasSubstr("begin anew"));
}

TEST_F(Assemble, AClosedSessionIsGone) {
  ASSERT_TRUE(client_.Begin(HeaderOf(TinyShot())));
  v1::AssembleShotRequest close;
  close.mutable_close();
  ASSERT_TRUE(client_.Send(close));
  EXPECT_TRUE(client_.End().ok());
  EXPECT_FALSE(client_.Resume());
  EXPECT_EQ(client_.End().error_code(), grpc::StatusCode::NOT_FOUND);
}

TEST_F(Assemble, HalfClosingWaitsForTheFinalPlanAndLeavesTheSession) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  client_.HalfClose();
  EXPECT_TRUE(client_.End().ok());
  EXPECT_EQ(client_.state, v1::FINAL);
  EXPECT_EQ(client_.decisions.size(), static_cast<size_t>(shot.objects_size()));
  ASSERT_TRUE(client_.Resume());
  EXPECT_EQ(client_.started.update(), client_.update);
}

TEST(AssembleLimits, ASessionIsKeptForItsTimeOnly) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--live-keep-s", "2"});
  LiveClient client(daemon.Channel());
  ASSERT_TRUE(client.Begin(HeaderOf(TinyShot())));
  EXPECT_EQ(client.started.keep_s(), 2);
  client.Edit(ObjectsOf(TinyShot()));
  ASSERT_TRUE(client.ReadToFinal(1));
  client.BreakOff();
  ASSERT_TRUE(client.Resume());  // at once: it is still there
  client.BreakOff();
  std::this_thread::sleep_for(std::chrono::milliseconds(3500));
  EXPECT_FALSE(client.Resume());
  EXPECT_EQ(client.End().error_code(), grpc::StatusCode::NOT_FOUND);
}

TEST(AssembleLimits, SessionsOfOneIdentity) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--live-sessions", "2"});
  LiveClient first(daemon.Channel()), second(daemon.Channel()), third(daemon.Channel());
  ASSERT_TRUE(first.Begin(HeaderOf(TinyShot())));
  ASSERT_TRUE(second.Begin(HeaderOf(TinyShot())));
  EXPECT_FALSE(third.Begin(HeaderOf(TinyShot())));
  const Refused refused = RefusalOf(third.End());
  EXPECT_EQ(refused.code, grpc::StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_EQ(refused.reason, "LIMIT_EXCEEDED");
  EXPECT_THAT(refused.message, HasSubstr("than the 2 that one identity may have (live_sessions)"));
  v1::AssembleShotRequest close;
  close.mutable_close();
  ASSERT_TRUE(first.Send(close));
  EXPECT_TRUE(first.End().ok());
  EXPECT_TRUE(third.Begin(HeaderOf(TinyShot())));
}

TEST(AssembleLimits, ObjectsAndMemoryOfOneIdentity) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--live-objects", "150", "--live-memory-mb", "12"});
  LiveClient first(daemon.Channel()), second(daemon.Channel());
  const v1::Shot crowd = Crowd(100, 1);
  ASSERT_TRUE(first.Begin(HeaderOf(crowd)));
  first.Edit(ObjectsOf(crowd));
  ASSERT_TRUE(first.ReadToFinal(1));
  ASSERT_TRUE(second.Begin(HeaderOf(crowd)));
  second.Edit(ObjectsOf(crowd));
  ASSERT_TRUE(second.ReadUntil([&] { return !second.refusals.empty(); }));
  EXPECT_EQ(second.refusals[0].status().code(), grpc::StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_THAT(second.refusals[0].status().message(), HasSubstr("got 200 objects in all sessions of one identity, want "
                                                               "at most 150 (live_objects)"));
  // 1,000 frames of a chunk of 256 moving lanes are 15 MB.
  const v1::Shot walkers = Crowd(4, 1000);
  LiveClient third(daemon.Channel());
  ASSERT_TRUE(third.Begin(HeaderOf(walkers)));
  third.Edit(ObjectsOf(walkers));
  ASSERT_TRUE(third.ReadUntil([&] { return !third.refusals.empty(); }));
  EXPECT_EQ(third.refusals[0].status().code(), grpc::StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_THAT(third.refusals[0].status().message(), HasSubstr("want at most 12 (live_memory_mb)"));
}

TEST_F(Assemble, MessagesOutOfOrderEndTheStreamOnly) {
  v1::AssembleShotRequest edit;
  edit.mutable_edit()->set_revision(1);
  auto stub = daemon_.Planner();
  grpc::ClientContext context;
  auto stream = stub->AssembleShot(&context);
  ASSERT_TRUE(stream->Write(edit));
  v1::AssembleShotResponse ignored;
  while (stream->Read(&ignored)) {
  }
  EXPECT_EQ(RefusalOf(stream->Finish()).reason, "STREAM_ORDER");
  ASSERT_TRUE(client_.Begin(HeaderOf(TinyShot())));
  v1::AssembleShotRequest begin;
  begin.mutable_begin();
  ASSERT_TRUE(client_.Send(begin));
  EXPECT_EQ(RefusalOf(client_.End()).reason, "STREAM_ORDER");
}

TEST_F(Assemble, AFaultyHeaderIsRefusedAtTheBeginning) {
  v1::Shot header = HeaderOf(TinyShot());
  header.mutable_cameras(0)->set_image_width_px(0);
  header.set_style("no such");
  EXPECT_FALSE(client_.Begin(header));
  const Refused refused = RefusalOf(client_.End());
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.faults.size(), 2u);
}

// ---- Daemons that end

TEST(AssembleFaults, AKilledDaemonIsFoundOutAndTheSessionIsGone) {
  auto daemon = std::make_unique<DaemonProcess>(std::vector<std::string>{"--listen", "127.0.0.1:0"});
  const v1::Shot shot = TinyShot();
  LiveClient client(daemon->Channel());
  ASSERT_TRUE(client.Begin(HeaderOf(shot)));
  client.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client.ReadToFinal(1));
  daemon->Signal(SIGKILL);
  EXPECT_EQ(client.End().error_code(), grpc::StatusCode::UNAVAILABLE);
  daemon = std::make_unique<DaemonProcess>(std::vector<std::string>{"--listen", "127.0.0.1:0"});
  LiveClient again(daemon->Channel());
  EXPECT_FALSE(again.Resume(client.session_id, client.update));
  EXPECT_EQ(again.End().error_code(), grpc::StatusCode::NOT_FOUND);
}

TEST(AssembleFaults, ADrainEndsStreams) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--drain-deadline-ms", "500"});
  LiveClient client(daemon.Channel());
  ASSERT_TRUE(client.Begin(HeaderOf(TinyShot())));
  daemon.Signal(SIGTERM);
  EXPECT_FALSE(client.End().ok());
  EXPECT_EQ(daemon.WaitForEnd(), 0);
}

// A client that is there no more and never said so: its kernel still takes what comes, nobody answers. (HTTP/2's
// preface and an empty SETTINGS frame; source: RFC 9113, 3.4 and 6.5.)
TEST(AssembleFaults, AClientThatVanishedIsGivenUp) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--ping-after-s", "1"});
  const std::string& address = daemon.Address();
  const int client = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in to = {};
  to.sin_family = AF_INET;
  to.sin_port = htons(static_cast<uint16_t>(std::stoi(address.substr(address.rfind(':') + 1))));
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  ASSERT_EQ(connect(client, reinterpret_cast<const sockaddr*>(&to), sizeof(to)), 0);
  std::string preface = "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
  preface.append({0, 0, 0, 4, 0, 0, 0, 0, 0});
  ASSERT_EQ(send(client, preface.data(), preface.size(), 0), static_cast<ssize_t>(preface.size()));
  // Read to the end that the daemon must make: a test that waits for ever fails by its time limit.
  std::array<char, 4096> bytes;
  const auto begin = std::chrono::steady_clock::now();
  while (recv(client, bytes.data(), bytes.size(), 0) > 0) {
  }
  close(client);
  EXPECT_GE(std::chrono::steady_clock::now() - begin, std::chrono::seconds(1));
}

// Whoever asks and does not read is not listened to: his answers do not pile up in the daemon.
TEST_F(Assemble, WhoReadsNoRefusalsIsNotListenedTo) {
  constexpr int kEdits = 20'000;  // of some 4 KB: more than transport and kernel hold between them
  LiveClient client(daemon_.NarrowChannel());
  ASSERT_TRUE(client.Begin(HeaderOf(TinyShot())));
  v1::ShotEdit faulty;
  faulty.add_removed_ids(std::string(4000, 'x'));
  std::atomic<int> sent = 0;
  std::thread writer([&] {
    for (; sent < kEdits; ++sent) client.Edit(faulty);
  });
  // Until writing stands still.
  for (int before = -1; before != sent || before <= 0;) {
    before = sent;
    std::this_thread::sleep_for(std::chrono::milliseconds(500));
  }
  EXPECT_LT(sent, kEdits);
  EXPECT_TRUE(client.ReadUntil([&] { return client.refusals.size() == kEdits; }));
  writer.join();
  for (int i = 0; i < kEdits; ++i) ASSERT_EQ(client.refusals[static_cast<size_t>(i)].revision(), i + 1);
}

TEST_F(Assemble, StreamsThatBeginAndEndAtOnceLeaveTheDaemonWell) {
  const v1::Shot header = HeaderOf(TinyShot());
  for (int i = 0; i < 300; ++i) {
    LiveClient client(daemon_.Channel());
    if (i % 3 == 0) {
      ASSERT_TRUE(client.Begin(header));
      v1::AssembleShotRequest close;
      close.mutable_close();
      client.Send(close);
      ASSERT_TRUE(client.End().ok());
    } else {
      // Broken off before or while it begins.
      grpc::ClientContext context;
      auto stream = daemon_.Planner()->AssembleShot(&context);
      v1::AssembleShotRequest first;
      *first.mutable_begin()->mutable_header() = header;
      stream->Write(first);
      if (i % 3 == 1) stream->WritesDone();
      context.TryCancel();
      stream->Finish();
    }
  }
  LiveClient last(daemon_.Channel());
  EXPECT_TRUE(last.Begin(header));
}

}  // namespace
}  // namespace scantling::testing
