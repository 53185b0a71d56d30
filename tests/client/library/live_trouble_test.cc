// What a live session does when streams break, daemons die, and edits or sessions are refused.

#include <gmock/gmock.h>

#include <atomic>
#include <thread>

#include "absl/strings/str_cat.h"
#include "client/library/live_parts.h"
#include "tests/client/library/live_session_fixture.h"

namespace scantling::client {
namespace {

using testing::ElementsAre;

TEST_F(LiveSessionTest, StreamDroppedInMidUpdateIsResumedAndThePartialUpdateForgotten) {
  v1::AssembleShotRequest resume;
  Begin([&resume](int number, FakeCall& call) {
    const v1::AssembleShotRequest first = call.Read();
    if (number == 0) {
      call.Start("s");
      call.ReadEdit();
      call.Plan(1, 1, v1::SETTLED, {"a", "b"}, true);
      call.ReadEdit();
      v1::Update part;
      part.set_number(2);
      part.set_revision(2);
      part.set_state(v1::SETTLED);
      part.set_continues(true);
      part.add_gone_ids("a");
      call.Send(part);
      return grpc::Status(grpc::StatusCode::UNAVAILABLE, "pulled");
    }
    resume = first;
    call.Start("s", 2, true);
    call.Plan(2, 2, v1::FINAL, {"c"});
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  EXPECT_FALSE(session_->publishable());
  session_->Put(Object("c"));
  ASSERT_TRUE(PumpUntilPlans(2));
  EXPECT_EQ(resume.resume().session_id(), "s");
  EXPECT_EQ(resume.resume().update(), 1);
  const v1::Plan plan = session_->Plan();
  ASSERT_EQ(plan.decisions_size(), 3);  // "a" went only in the update that never came whole
  EXPECT_EQ(plan.decisions(0).object_id(), "a");
  EXPECT_TRUE(session_->publishable());
  EXPECT_EQ(Count(LiveConnection::kLost), 1);
  EXPECT_TRUE(connection_.back().resumed);
}

TEST_F(LiveSessionTest, EditsTheDaemonHasNotTakenInAreSentAgainAndNoOthers) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) {
    call.Read();
    if (number == 0) {
      call.Start("s");
      call.ReadEdit();
      call.Plan(1, 1, v1::FINAL, {"a"}, true);
      call.ReadEdit();  // taken in
      call.ReadEdit();  // lost
      return grpc::Status(grpc::StatusCode::UNAVAILABLE, "pulled");
    }
    call.Start("s", 2, true);
    const v1::ShotEdit again = call.ReadEdit();
    seen.With([&] { seen.edits.push_back(again); });
    call.Plan(3, 3, v1::FINAL, {"b", "c"});
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->Put(Object("b"));
  std::this_thread::sleep_for(milliseconds(100));  // for it to be an edit of its own
  session_->Put(Object("c"));
  ASSERT_TRUE(PumpUntilPlans(2));
  seen.With([&] {
    ASSERT_EQ(seen.edits.size(), 1u);
    EXPECT_EQ(seen.edits[0].revision(), 3);
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("c"));
  });
  EXPECT_TRUE(session_->publishable());
}

TEST_F(LiveSessionTest, UnknownSessionIsBegunAnewWithEverythingTheKitKnows) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) {
    if (number == 1) {
      call.Read();
      return grpc::Status(grpc::StatusCode::NOT_FOUND, "no such session");
    }
    if (number > 1) return Obliging(seen, call, "second");
    call.Read();
    call.Start("first");
    call.ReadEdit();
    call.Plan(7, 1, v1::FINAL, {"a", "b"}, true);
    call.ReadEdit();
    return grpc::Status(grpc::StatusCode::UNAVAILABLE, "killed");
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->Remove("b");
  ASSERT_TRUE(PumpUntil([this] { return session_->publishable(); }));
  seen.With([&] {
    EXPECT_TRUE(seen.firsts[0].has_begin());
    ASSERT_EQ(seen.edits.size(), 2u);  // what it had, then what was under way
    EXPECT_EQ(seen.edits[0].revision(), 1);
    EXPECT_TRUE(seen.edits[0].has_header());
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a", "b"));
    EXPECT_EQ(seen.edits[1].revision(), 2);
    EXPECT_THAT(seen.edits[1].removed_ids(), ElementsAre("b"));
  });
  // Decisions that are as they were before the session was lost are no change.
  for (size_t i = 1; i < plans_.size(); ++i) EXPECT_TRUE(plans_[i].changes.empty());
}

TEST_F(LiveSessionTest, DaemonKilledAndStartedAgainIsFoundAgain) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) { return Obliging(seen, call, absl::StrCat("s", number)); });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  fake_->Kill();
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kLost) >= 3; }));  // goes on trying
  session_->Put(Object("b"));
  fake_->Restart();
  ASSERT_TRUE(PumpUntil([this] { return session_->publishable(); }));
  // The new daemon took the resumption for a session of its own: started without `resumed`, so everything was sent.
  seen.With([&] {
    std::vector<std::string> ids;
    for (size_t i = 1; i < seen.edits.size(); ++i) {
      for (const std::string& id : IdsOf(seen.edits[i])) ids.push_back(id);
    }
    EXPECT_THAT(ids, testing::IsSupersetOf({"b"}));
  });
}

TEST_F(LiveSessionTest, RefusedEditIsToldHeldBackAndGoesAgainWithItsCorrection) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    for (int64_t number = 1;; ++number) {
      const v1::ShotEdit edit = call.ReadEdit();
      if (edit.revision() == 0) return grpc::Status::OK;
      seen.With([&] { seen.edits.push_back(edit); });
      if (edit.revision() == 2) {
        call.Refuse(2, "objects[0].transform");
      } else {
        call.Plan(number, edit.revision(), v1::FINAL, IdsOf(edit), number == 1);
      }
    }
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->Put(Object("faulty", -1));
  session_->Put(Object("good"));
  ASSERT_TRUE(PumpUntil([this] { return !refusals_.empty(); }));
  EXPECT_EQ(refusals_[0].revision, 2);
  EXPECT_EQ(refusals_[0].status.message(), "objects[0].transform");
  EXPECT_EQ(refusals_[0].change->objects.size(), 2u);
  EXPECT_EQ(session_->held().objects.size(), 2u);
  EXPECT_FALSE(session_->publishable());
  EXPECT_EQ(session_->ShotAsSent().objects_size(), 1);
  session_->Put(Object("other"));  // nothing to do with it: goes alone
  ASSERT_TRUE(PumpUntilPlans(2));
  EXPECT_FALSE(session_->publishable());
  session_->Put(Object("faulty", +1));
  ASSERT_TRUE(PumpUntilPlans(3));
  seen.With([&] {
    EXPECT_THAT(IdsOf(seen.edits[2]), ElementsAre("other"));
    EXPECT_THAT(IdsOf(seen.edits[3]), ElementsAre("faulty", "good"));
    EXPECT_EQ(seen.edits[3].revision(), 4);
  });
  EXPECT_TRUE(session_->held().empty());
  EXPECT_TRUE(session_->publishable());
}

TEST_F(LiveSessionTest, HeaderRefusedAtTheBeginningStopsUntilTheNextNote) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) {
    if (number > 0) return Obliging(seen, call, "s");
    call.Read();
    return grpc::Status(grpc::StatusCode::INVALID_ARGUMENT, "frames");
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kStopped) == 1; }));
  EXPECT_EQ(connection_.back().why.message(), "frames");
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 1; }, milliseconds(150)));
  EXPECT_FALSE(session_->publishable());
  v1::Shot mended = Header();
  mended.set_shot_id("mended");
  session_->SetHeader(mended);
  ASSERT_TRUE(PumpUntilPlans(1));
  seen.With([&] {
    EXPECT_EQ(seen.firsts[0].begin().header().shot_id(), "mended");
    ASSERT_EQ(seen.edits.size(), 1u);  // the object of before goes with it
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a"));
  });
}

TEST_F(LiveSessionTest, SessionTakenOverIsReportedAndLeftAloneUntilRetry) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) {
    if (number > 0) return Obliging(seen, call, "mine");
    call.Read();
    call.Start("s");
    call.ReadEdit();
    call.Plan(1, 1, v1::FINAL, {"a"}, true);
    return grpc::Status(grpc::StatusCode::ABORTED, "taken over");
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kStopped) == 1; }));
  session_->Put(Object("b"));  // a note does not bring it back: the other client would only be driven out
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 1; }, milliseconds(150)));
  session_->Retry();
  ASSERT_TRUE(PumpUntil([this] { return session_->publishable(); }));
  seen.With([&] { EXPECT_TRUE(seen.firsts[0].has_begin()); });
}

TEST_F(LiveSessionTest, LimitsAreReportedAndNotTriedAgainAtOnce) {
  Begin([](int, FakeCall& call) {
    call.Read();
    return grpc::Status(grpc::StatusCode::RESOURCE_EXHAUSTED, "64 sessions");
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kLost) == 1; }));
  EXPECT_EQ(connection_.back().why.code(), absl::StatusCode::kResourceExhausted);
  EXPECT_EQ(connection_.back().pause, milliseconds(30'000));
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 1; }, milliseconds(200)));
}

TEST_F(LiveSessionTest, WhatIfIsAskedOnTopOfWhatWasNotedAndAnsweredOnce) {
  Begin([](int number, FakeCall& call) {
    call.Read();
    call.Start("s", number == 0 ? 0 : 2, number > 0);
    if (number == 0) {
      call.ReadEdit();
      call.ReadEdit();
      const v1::AssembleShotRequest asked = call.Read();
      EXPECT_TRUE(asked.has_what_if());
      return grpc::Status(grpc::StatusCode::UNAVAILABLE, "pulled");  // before it is answered
    }
    const v1::AssembleShotRequest asked = call.Read();
    v1::AssembleShotResponse answer;
    answer.mutable_what_if()->set_what_if_id(asked.what_if().what_if_id());
    answer.mutable_what_if()->set_changed(asked.what_if().edit().removed_ids_size());
    call.Write(answer);
    call.Write(answer);
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  std::this_thread::sleep_for(milliseconds(100));
  session_->Put(Object("b"));
  ShotChange without;
  without.objects["a"] = nullptr;
  std::vector<int64_t> changed;
  ASSERT_TRUE(session_
                  ->WhatIf(without,
                           [&changed](const absl::StatusOr<v1::WhatIfAnswer>& answer) {
                             changed.push_back(answer.ok() ? answer->changed() : -1);
                           })
                  .ok());
  ASSERT_TRUE(PumpUntil([&] { return !changed.empty(); }));
  PumpUntil([] { return false; }, milliseconds(50));
  EXPECT_THAT(changed, ElementsAre(1));
  EXPECT_EQ(session_->ShotAsSent().objects_size(), 2);  // the session is untouched
}

TEST_F(LiveSessionTest, BaselineIsSetAgainWhereTheSessionWasBegunAnew) {
  std::mutex mutex;
  std::vector<v1::Baseline> set;
  Begin([&](int number, FakeCall& call) {
    call.Read();
    if (number == 1) return grpc::Status(grpc::StatusCode::NOT_FOUND, "gone");
    call.Start(absl::StrCat("s", number));
    call.ReadEdit();
    call.Plan(42, 1, v1::FINAL, {"a"}, true);  // totals of 42 objects
    const v1::AssembleShotRequest request = call.Read();
    {
      const std::lock_guard lock(mutex);
      if (request.has_baseline()) set.push_back(request.baseline());
    }
    if (number == 0) return grpc::Status(grpc::StatusCode::UNAVAILABLE, "pulled");
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->SetBaselineToPresent("before lunch");
  ASSERT_TRUE(PumpUntil([&] {
    const std::lock_guard lock(mutex);
    return set.size() == 2;
  }));
  EXPECT_TRUE(set[0].present());
  EXPECT_EQ(set[1].label(), "before lunch");
  EXPECT_EQ(set[1].totals().objects(), 42);  // what "present" meant then
}

TEST_F(LiveSessionTest, DaemonThatReadsNothingNeverKeepsTheCallerWaiting) {
  std::atomic<bool> released = false;
  Begin([&released](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    while (!released && !call.IsCancelled()) std::this_thread::sleep_for(milliseconds(5));
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kLive) == 1; }));
  v1::SceneObject large = Object("large");
  large.set_class_name(std::string(1 << 20, 'x'));
  double longest_ms = 0;
  for (int i = 0; i < 40; ++i) {
    large.set_importance(i + 1);
    const auto begin = std::chrono::steady_clock::now();
    session_->Put(large);
    session_->Pump();
    const std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - begin;
    longest_ms = std::max(longest_ms, took.count());
    std::this_thread::sleep_for(milliseconds(5));
  }
  // Copying a megabyte takes a fraction of a millisecond; the wait that must not be would last for ever.
  EXPECT_LT(longest_ms, 250);
  const auto begin = std::chrono::steady_clock::now();
  session_->Close();
  EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(4));  // two patiences of one second, twice
  released = true;
}

TEST_F(LiveSessionTest, NobodyAtTheAddressIsTriedAgainWithGrowingPauses) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  fake_->Kill();
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kLost) >= 4; }));
  std::vector<milliseconds> pauses;
  for (const auto& change : connection_) {
    if (change.state == LiveConnection::kLost) pauses.push_back(change.pause);
  }
  // Between half of and all of 20, 40, 80, 100 ms.
  EXPECT_LE(pauses[0], milliseconds(20));
  EXPECT_GE(pauses[2], milliseconds(40));
  EXPECT_GE(pauses[3], milliseconds(50));
  fake_->Restart();
  EXPECT_TRUE(PumpUntilPlans(1));
}

}  // namespace
}  // namespace scantling::client
