// What a live session sends and tells while all goes well.

#include <gmock/gmock.h>

#include <atomic>
#include <thread>

#include "absl/strings/str_cat.h"
#include "client/library/live_parts.h"
#include "tests/client/library/live_session_fixture.h"

namespace scantling::client {
namespace {

using testing::ElementsAre;

TEST_F(LiveSessionTest, BeginsWithTheHeaderAndSendsObjectsAsTheFirstRevision) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  seen.With([&] {
    ASSERT_EQ(seen.firsts.size(), 1u);
    EXPECT_EQ(seen.firsts[0].begin().header().shot_id(), "qy_0100");
    EXPECT_EQ(seen.firsts[0].begin().header().objects_size(), 0);
    ASSERT_EQ(seen.edits.size(), 1u);
    EXPECT_EQ(seen.edits[0].revision(), 1);
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a", "b"));
  });
  EXPECT_EQ(plans_[0].changes.size(), 2u);
  EXPECT_TRUE(plans_[0].changes[0].before == nullptr);
  EXPECT_TRUE(plans_[0].took.has_value());
  EXPECT_TRUE(session_->publishable());
}

TEST_F(LiveSessionTest, NotesBeforeAHeaderWaitForIt) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  session_->Put(Object("a"));
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 0; }, milliseconds(100)));
  session_->SetHeader(Header());
  ASSERT_TRUE(PumpUntilPlans(1));
  seen.With([&] { EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a")); });
}

TEST_F(LiveSessionTest, RapidNotesBecomeOneEditWithTheLatestOfEachObject) {
  Seen seen;
  LiveOptions options;
  options.gather = milliseconds(100);
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); }, options);
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  for (int x = 1; x <= 50; ++x) session_->Put(Object("a", x));
  session_->Remove("b");
  EXPECT_FALSE(session_->publishable());
  ASSERT_TRUE(PumpUntilPlans(2));
  seen.With([&] {
    ASSERT_EQ(seen.edits.size(), 2u);
    EXPECT_EQ(seen.edits[1].revision(), 2);
    ASSERT_THAT(IdsOf(seen.edits[1]), ElementsAre("a"));
    EXPECT_EQ(seen.edits[1].objects(0).transform().matrices(12), 50);
    EXPECT_THAT(seen.edits[1].removed_ids(), ElementsAre("b"));
  });
}

TEST_F(LiveSessionTest, EditsAreAtLeastSoFarApart) {
  Seen seen;
  LiveOptions options;
  options.least_between = milliseconds(150);
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); }, options);
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  const auto begin = std::chrono::steady_clock::now();
  for (int x = 1; std::chrono::steady_clock::now() - begin < milliseconds(500); ++x) {
    session_->Put(Object("a", x));
    session_->Pump();
    session_->Wait(milliseconds(5));
  }
  // 500 ms hold the beginnings of at most 500 / 150 + 1 = 4 spans of 150 ms.
  seen.With([&] { EXPECT_LE(seen.edits.size(), 1u + 4u); });
}

TEST_F(LiveSessionTest, WhatIsNoNewsIsNotSent) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->Put(Object("a"));
  session_->Remove("never there");
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  EXPECT_FALSE(PumpUntil([this] { return plans_.size() > 1; }, milliseconds(150)));
  EXPECT_TRUE(session_->publishable());
  session_->Put(Object("c"));
  ASSERT_TRUE(PumpUntilPlans(2));
  seen.With([&] { EXPECT_EQ(seen.edits[1].revision(), 2); });
}

TEST_F(LiveSessionTest, LargeShotGoesInPartsOfOneRevision) {
  std::atomic<int> parts = 0;
  std::atomic<int64_t> largest = 0, objects = 0;
  Begin([&](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    bool more = true;
    while (more) {
      const v1::AssembleShotRequest request = call.Read();
      ++parts;
      EXPECT_EQ(request.edit().revision(), 1);
      largest = std::max<int64_t>(largest, static_cast<int64_t>(request.ByteSizeLong()));
      objects += request.edit().objects_size();
      more = request.edit().continues();
    }
    call.Plan(1, 1, v1::FINAL, {"o0"}, true);
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  v1::Shot shot = Header();
  for (int i = 0; i < 1000; ++i) {  // 24 x 16 x 8 bytes = 3 KiB each, 3 MiB in all
    v1::SceneObject& object = *shot.add_objects();
    object.set_id(absl::StrCat("o", i));
    for (int j = 0; j < 24 * 16; ++j) object.mutable_transform()->add_matrices(j + 0.5);
  }
  ASSERT_TRUE(session_->SetShot(std::move(shot), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  EXPECT_EQ(objects, 1000);
  EXPECT_GE(parts, 3);
  EXPECT_LT(largest, kEditPartBytes + 8192);  // and the object that filled it
}

TEST_F(LiveSessionTest, ProvisionalAndProgressAreToldAndThePlanStandsMeanwhile) {
  Begin([](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    call.ReadEdit();
    call.Plan(1, 1, v1::FINAL, {"a"}, true);
    call.ReadEdit();
    v1::Update look;
    look.set_revision(2);
    look.set_state(v1::PROVISIONAL);
    look.add_quick()->set_object_id("b");
    call.Send(look);
    v1::AssembleShotResponse progress;
    progress.mutable_progress()->set_stage("measuring");
    call.Write(progress);
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  session_->Put(Object("b"));
  ASSERT_TRUE(PumpUntil([this] { return !looks_.empty() && !progress_.empty(); }));
  EXPECT_EQ(looks_[0].update.quick(0).object_id(), "b");
  EXPECT_EQ(progress_[0].stage(), "measuring");
  EXPECT_EQ(session_->Plan().decisions_size(), 1);
  EXPECT_FALSE(session_->publishable());  // the plan is of the revision before
}

TEST_F(LiveSessionTest, RevisionWithoutAPlanTellsWhyAndKeepsThePlanBefore) {
  Begin([](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    call.ReadEdit();
    call.Plan(1, 1, v1::FINAL, {"a"}, true);
    call.ReadEdit();
    v1::Update none;
    none.set_number(2);
    none.set_revision(2);
    none.set_state(v1::SETTLED);
    none.mutable_problem()->set_code(static_cast<int>(grpc::StatusCode::FAILED_PRECONDITION));
    none.mutable_problem()->set_message("no plan fits");
    call.Send(none);
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  v1::PlanOptions options;
  options.set_anim_hours(1);
  session_->SetOptions(options);
  ASSERT_TRUE(PumpUntilPlans(2));
  EXPECT_EQ(plans_[1].problem.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(session_->Plan().decisions_size(), 1);
  EXPECT_FALSE(session_->publishable());
}

TEST_F(LiveSessionTest, WhatIfThatIsNeverAnsweredEndsWithTheSession) {
  Begin([](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    call.ReadToEnd();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  absl::Status said;
  ASSERT_TRUE(session_->WhatIf({}, [&said](const auto& answer) { said = answer.status(); }).ok());
  session_->Close();
  session_->Pump();
  EXPECT_EQ(said.code(), absl::StatusCode::kCancelled);
}

TEST_F(LiveSessionTest, ClosingEndsTheSessionForGood) {
  std::atomic<bool> closed = false;
  Begin([&closed](int, FakeCall& call) {
    call.Read();
    call.Start("s");
    call.ReadToEnd();
    closed = call.saw_close();
    return grpc::Status::OK;
  });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntil([this] { return Count(LiveConnection::kLive) == 1; }));
  session_->Close();
  session_->Pump();
  EXPECT_TRUE(closed);
  EXPECT_EQ(connection_.back().state, LiveConnection::kClosed);
}

TEST_F(LiveSessionTest, SlowReaderGetsSeveralPlansAsOne) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  for (const char* id : {"b", "c", "d"}) {
    session_->Put(Object(id));
    std::this_thread::sleep_for(milliseconds(60));
  }
  for (int i = 0; i < 500 && session_->Plan().decisions_size() < 4; ++i) std::this_thread::sleep_for(milliseconds(10));
  session_->Pump();
  ASSERT_EQ(plans_.size(), 2u);
  EXPECT_EQ(plans_[1].changes.size(), 3u);
}

TEST_F(LiveSessionTest, ShotThatCannotBeKeptIsRefusedWithoutANote) {
  Begin([](int, FakeCall&) { return grpc::Status::OK; });
  const absl::Status status = session_->SetShot(ShotWith({"a", "a"}), {});
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 0; }, milliseconds(60)));
}

}  // namespace
}  // namespace scantling::client
