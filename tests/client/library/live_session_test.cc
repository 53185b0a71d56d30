// The life of a live session against a service that follows a script.

#include "client/library/live_session.h"

#include <gmock/gmock.h>

#include <atomic>
#include <thread>

#include "absl/strings/str_cat.h"
#include "client/library/live_parts.h"
#include "tests/client/library/fake_assembly.h"

namespace scantling::client {
namespace {

using std::chrono::milliseconds;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

constexpr milliseconds kPatience{5000};  // a hundred times what any step takes on a loaded machine

v1::Shot Header() {
  v1::Shot header;
  header.set_shot_id("qy_0100");
  header.mutable_frames()->set_first(1);
  header.mutable_frames()->set_last(24);
  return header;
}

v1::SceneObject Object(const std::string& id, double x = 0) {
  v1::SceneObject object;
  object.set_id(id);
  for (int i = 0; i < 16; ++i) object.mutable_transform()->add_matrices(i == 12 ? x : i % 5 == 0);
  return object;
}

v1::Shot ShotWith(const std::vector<std::string>& ids) {
  v1::Shot shot = Header();
  for (const std::string& id : ids) *shot.add_objects() = Object(id);
  return shot;
}

std::vector<std::string> IdsOf(const v1::ShotEdit& edit) {
  std::vector<std::string> ids;
  for (const auto& object : edit.objects()) ids.push_back(object.id());
  return ids;
}

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
  static grpc::Status Obliging(Seen& seen, FakeCall& call, const std::string& session_id) {
    const v1::AssembleShotRequest first = call.Read();
    seen.With([&] { seen.firsts.push_back(first); });
    call.Start(session_id);
    for (int64_t number = 1;; ++number) {
      const v1::ShotEdit edit = call.ReadEdit();
      if (edit.revision() == 0) break;
      seen.With([&] { seen.edits.push_back(edit); });
      call.Plan(number, edit.revision(), v1::FINAL, IdsOf(edit), number == 1);
    }
    return grpc::Status::OK;
  }

  std::unique_ptr<FakeAssembly> fake_;
  std::unique_ptr<LiveSession> session_;
  std::vector<LivePlanUpdate> plans_;
  std::vector<LiveProvisional> looks_;
  std::vector<LiveRefusal> refusals_;
  std::vector<v1::AssemblyProgress> progress_;
  std::vector<LiveConnectionChange> connection_;
};

TEST_F(LiveSessionTest, BeginsWithTheHeaderAndSendsObjectsAsTheFirstRevision) {
  Seen seen;
  Begin([&seen](int, FakeCall& call) { return Obliging(seen, call, "s"); });
  ASSERT_TRUE(session_->SetShot(ShotWith({"a", "b"}), {}).ok());
  ASSERT_TRUE(PumpUntilPlans(1));
  seen.With([&] {
    ASSERT_THAT(seen.firsts, SizeIs(1));
    EXPECT_EQ(seen.firsts[0].begin().header().shot_id(), "qy_0100");
    EXPECT_THAT(seen.firsts[0].begin().header().objects(), IsEmpty());
    ASSERT_THAT(seen.edits, SizeIs(1));
    EXPECT_EQ(seen.edits[0].revision(), 1);
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a", "b"));
  });
  EXPECT_THAT(plans_[0].changes, SizeIs(2));
  EXPECT_EQ(plans_[0].changes[0].before, nullptr);
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
    ASSERT_THAT(seen.edits, SizeIs(2));
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
    ASSERT_THAT(seen.edits, SizeIs(1));
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
    ASSERT_THAT(seen.edits, SizeIs(2));  // what it had, then what was under way
    EXPECT_EQ(seen.edits[0].revision(), 1);
    EXPECT_TRUE(seen.edits[0].has_header());
    EXPECT_THAT(IdsOf(seen.edits[0]), ElementsAre("a", "b"));
    EXPECT_EQ(seen.edits[1].revision(), 2);
    EXPECT_THAT(seen.edits[1].removed_ids(), ElementsAre("b"));
  });
  // Decisions that are as they were before the session was lost are no change.
  for (size_t i = 1; i < plans_.size(); ++i) EXPECT_THAT(plans_[i].changes, IsEmpty());
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
  EXPECT_THAT(refusals_[0].change->objects, SizeIs(2));
  EXPECT_THAT(session_->held().objects, SizeIs(2));
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
    ASSERT_THAT(seen.edits, SizeIs(1));  // the object of before goes with it
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

TEST_F(LiveSessionTest, WhatIfIsAskedOnTopOfWhatWasNotedAndAnsweredOnce) {
  Seen seen;
  Begin([&seen](int number, FakeCall& call) {
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
  ASSERT_THAT(plans_, SizeIs(2));
  EXPECT_THAT(plans_[1].changes, SizeIs(3));
}

TEST_F(LiveSessionTest, ShotThatCannotBeKeptIsRefusedWithoutANote) {
  Begin([](int, FakeCall&) { return grpc::Status::OK; });
  const absl::Status status = session_->SetShot(ShotWith({"a", "a"}), {});
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_FALSE(PumpUntil([this] { return fake_->calls() > 0; }, milliseconds(60)));
}

}  // namespace
}  // namespace scantling::client
