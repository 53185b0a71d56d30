// A live session beside a service that follows a script, and what both saw.

#ifndef SCANTLING_TESTS_CLIENT_LIBRARY_LIVE_SESSION_FIXTURE_H_
#define SCANTLING_TESTS_CLIENT_LIBRARY_LIVE_SESSION_FIXTURE_H_

#include <gmock/gmock.h>

#include <algorithm>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "client/library/live_session.h"
#include "tests/client/library/fake_assembly.h"

namespace scantling::client {
using std::chrono::milliseconds;

inline constexpr milliseconds kPatience{5000};  // a hundred times what any step takes on a loaded machine

v1::Shot Header();                                            // frames 1 to 24
v1::SceneObject Object(const std::string& id, double x = 0);  // stands at x
v1::Shot ShotWith(const std::vector<std::string>& ids);
std::vector<std::string> IdsOf(const v1::ShotEdit& edit);  // of its rows

// What the fake saw, for the test to look at after the fact.
class Seen {
 public:
  template <typename Work>
  void With(const Work& work) {
    const std::lock_guard lock(mutex_);
    work();
  }
  std::vector<v1::ShotEdit> edits;
  std::vector<v1::AssembleShotRequest> firsts;

 private:
  std::mutex mutex_;
};

class LiveSessionTest : public testing::Test {
 protected:
  void Begin(Script script, LiveOptions options = {}) {
    fake_ = std::make_unique<FakeAssembly>(std::move(script));
    options.address = fake_->address();
    options.first_pause = milliseconds(20);
    options.longest_pause = milliseconds(100);
    LiveListener listener;
    listener.plan = [this](const LivePlanUpdate& news) { plans_.push_back(news); };
    listener.provisional = [this](const LiveProvisional& news) { looks_.push_back(news); };
    listener.refusal = [this](const LiveRefusal& refusal) { refusals_.push_back(refusal); };
    listener.progress = [this](const v1::AssemblyProgress& progress) { progress_.push_back(progress); };
    listener.connection = [this](const LiveConnectionChange& change) { connection_.push_back(change); };
    session_ = std::make_unique<LiveSession>(options, listener);
  }
  void TearDown() override {
    session_.reset();
    fake_.reset();
  }

  template <typename Done>
  bool PumpUntil(const Done& done, milliseconds patience = kPatience) {
    const auto give_up = std::chrono::steady_clock::now() + patience;
    while (std::chrono::steady_clock::now() < give_up) {
      session_->Pump();
      if (done()) return true;
      session_->Wait(milliseconds(5));
    }
    return done();
  }
  bool PumpUntilPlans(size_t count) {
    return PumpUntil([&] { return plans_.size() >= count; });
  }
  int Count(LiveConnection state) const {
    return static_cast<int>(std::count_if(connection_.begin(), connection_.end(),
                                          [state](const auto& change) { return change.state == state; }));
  }

  // Begins, takes one edit in, answers it finally; reads edits and answers each until the stream ends.
  static grpc::Status Obliging(Seen& seen, FakeCall& call, const std::string& session_id);

  std::unique_ptr<FakeAssembly> fake_;
  std::unique_ptr<LiveSession> session_;
  std::vector<LivePlanUpdate> plans_;
  std::vector<LiveProvisional> looks_;
  std::vector<LiveRefusal> refusals_;
  std::vector<v1::AssemblyProgress> progress_;
  std::vector<LiveConnectionChange> connection_;
};

}  // namespace scantling::client

#endif  // SCANTLING_TESTS_CLIENT_LIBRARY_LIVE_SESSION_FIXTURE_H_
