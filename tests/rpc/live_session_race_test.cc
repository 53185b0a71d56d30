// The strand of a session against streams that come and go, readers, edits and the clock, all on threads of their own,
// without any transport: what ThreadSanitizer is to look at.

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "server/rpc/live_session.h"
#include "tests/planning/demo_shot.h"
#include "tests/planning/random_edits.h"

namespace scantling {
namespace {

using testing::ShippedPolicy;

// A stream that takes in whatever its session has to say.
class Reader final : public StreamLine {
 public:
  explicit Reader(std::shared_ptr<LiveSession> session) : session_(std::move(session)) {}

  void Wake() override {
    const std::scoped_lock lock(mutex_);
    woken_ = true;
    changed_.notify_all();
  }
  void ReadOn() override { Wake(); }
  void EndWith(grpc::Status) override {
    const std::scoped_lock lock(mutex_);
    ended_ = true;
    changed_.notify_all();
  }

  // Reads until a final update of the revision came, or the stream ended. False: ended.
  bool ReadToFinal(int64_t revision) {
    v1::AssembleShotResponse message;
    for (;;) {
      while (session_->NextMessage(this, message)) {
        if (message.has_update() && message.update().number() > 0) {
          EXPECT_GE(message.update().revision(), last_);
          last_ = message.update().revision();
          const bool whole = !message.update().continues();
          if (whole && last_ >= revision && message.update().state() == v1::FINAL) return true;
        }
      }
      std::unique_lock lock(mutex_);
      if (ended_) return false;
      changed_.wait_for(lock, std::chrono::milliseconds(20), [&] { return woken_ || ended_; });
      woken_ = false;
    }
  }

 private:
  const std::shared_ptr<LiveSession> session_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool woken_ = false, ended_ = false;
  int64_t last_ = 0;
};

v1::Shot SmallShot(uint64_t seed) {
  v1::Shot shot = testing::Pool(40, 3, seed);
  shot.clear_crowds();
  return shot;
}

TEST(LiveSession, StreamsEditsAndTheClockMayCollide) {
  Lanes lanes(2);
  LiveSettings settings;
  settings.final_after = std::chrono::milliseconds(1);
  LiveSessions sessions(ShippedPolicy(), SceneLimits(), lanes, settings);
  std::vector<std::thread> threads;
  std::atomic<int> finals = 0;
  for (uint64_t number = 0; number < 3; ++number) {
    threads.emplace_back([&, number] {
      v1::Shot shot = SmallShot(number + 1);
      v1::Begin begin;
      *begin.mutable_header() = shot;
      begin.mutable_header()->clear_objects();
      if (number == 1) begin.mutable_options()->set_anim_hours(400);
      LiveHeader header;
      ASSERT_TRUE(EditReader(ShippedPolicy(), SceneLimits()).Begin(begin, header).ok());
      const std::string id = *sessions.parts().store.Reserve("local");
      const auto session = std::make_shared<LiveSession>(sessions.parts(), id, header);
      sessions.parts().store.Put(id, session);
      int64_t revision = 0;
      for (int round = 0; round < 4; ++round) {
        const auto line = std::make_shared<Reader>(session);
        session->Attach(line, 0, round > 0);
        std::thread thief([&] {  // whoever is not attached gets nothing, and harms nobody
          v1::AssembleShotResponse ignored;
          for (int i = 0; i < 20; ++i) session->NextMessage(nullptr, ignored);
          session->Tick(std::chrono::steady_clock::now() + std::chrono::hours(1));
          (void)session->idle();
        });
        for (int i = 0; i < 3; ++i) {
          auto message = std::make_unique<v1::AssembleShotRequest>();
          v1::ShotEdit& edit = *message->mutable_edit();
          edit.set_revision(++revision);
          if (revision == 1) {
            *edit.mutable_objects() = shot.objects();
          } else {
            v1::SceneObject& object = *shot.mutable_objects(static_cast<int>(revision) % shot.objects_size());
            object.set_importance(1 + static_cast<double>(revision % 3));
            *edit.add_objects() = object;
          }
          session->Deliver(std::move(message), line.get());
        }
        if (line->ReadToFinal(revision)) ++finals;
        thief.join();
        session->Detach(line.get());
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(finals, 12);
}

}  // namespace
}  // namespace scantling
