// AssembleShot with the real daemon: edits in, changes out, and everything that may go wrong on the way.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <csignal>
#include <random>
#include <thread>

#include "client/sample/sample.h"
#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/live_client.h"
#include "tests/contract/shots.h"
#include "tests/planning/random_edits.h"

namespace scantling::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::UnorderedElementsAre;

v1::Shot HeaderOf(v1::Shot shot) {
  shot.clear_objects();
  return shot;
}

v1::ShotEdit ObjectsOf(const v1::Shot& shot) {
  v1::ShotEdit edit;
  *edit.mutable_objects() = shot.objects();
  return edit;
}

v1::Shot Pool(int objects, int frames, uint64_t seed) {
  SampleOptions options;
  options.objects = objects;
  options.frames = frames;
  options.seed = seed;
  options.width_px = 640;
  options.height_px = 268;
  return MakeSample(options);
}

std::string Bytes(const v1::Plan& plan) { return plan.SerializeAsString(); }

google::rpc::BadRequest FaultsOf(const google::rpc::Status& status) {
  google::rpc::BadRequest faults;
  for (const google::protobuf::Any& detail : status.details()) {
    if (detail.Is<google::rpc::BadRequest>()) detail.UnpackTo(&faults);
  }
  return faults;
}

class Assemble : public ::testing::Test {
 protected:
  Assemble() : daemon_({"--listen", "127.0.0.1:0"}), client_(daemon_.Channel()) {}

  // The shot planned in one call.
  v1::Plan Fresh(const v1::Shot& shot, const v1::PlanOptions& options = {}) {
    const Answer answer = PlanOver(daemon_, shot, options);
    EXPECT_TRUE(answer.status.ok()) << answer.status.error_message();
    return answer.plan();
  }

  DaemonProcess daemon_;
  LiveClient client_;
};

TEST_F(Assemble, AShotBroughtByOneEditIsPlannedAsByOneCall) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  EXPECT_FALSE(client_.started.resumed());
  EXPECT_EQ(client_.started.revision(), 0);
  EXPECT_EQ(client_.session_id.size(), 32u);
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
  EXPECT_EQ(client_.order_faults, 0);
}

TEST_F(Assemble, AnUpdateTellsOnlyWhatChanged) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  // The first person grows tenfold: nothing else is touched.
  v1::SceneObject* person = nullptr;
  for (v1::SceneObject& object : *shot.mutable_objects()) {
    if (object.class_name() == "person" && person == nullptr) person = &object;
  }
  ASSERT_NE(person, nullptr);
  person->mutable_box()->mutable_max_m()->set_y(person->box().max_m().y() * 1.5);
  v1::ShotEdit edit;
  *edit.add_objects() = *person;
  client_.looks.clear();
  const int64_t revision = client_.Edit(edit);
  ASSERT_TRUE(client_.ReadToFinal(revision));
  EXPECT_THAT(client_.told, ElementsAre(person->id()));
  ASSERT_EQ(client_.looks.size(), 1u);  // it was told at once, provisionally
  ASSERT_EQ(client_.looks[0].quick_size(), 1);
  EXPECT_EQ(client_.looks[0].quick(0).object_id(), person->id());
  EXPECT_EQ(client_.looks[0].quick(0).basis(), v1::QuickDecision::WHOLE_SHOT);
  EXPECT_EQ(client_.looks[0].quick(0).tier(), client_.decisions[person->id()].tier());
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
}

TEST_F(Assemble, ObjectsComeAndGo) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  const std::string last = shot.objects(shot.objects_size() - 1).id();
  v1::ShotEdit remove;
  remove.add_removed_ids(last);
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(remove)));
  EXPECT_FALSE(client_.decisions.contains(last));
  const v1::SceneObject object = shot.objects(shot.objects_size() - 1);
  shot.mutable_objects()->RemoveLast();
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
  *shot.add_objects() = object;
  v1::ShotEdit add;
  *add.add_objects() = object;
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(add)));
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
}

TEST_F(Assemble, AFaultyEditIsRefusedWholeAndTheStreamGoesOn) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  const std::string before = Bytes(client_.Plan());
  v1::ShotEdit faulty;
  faulty.add_removed_ids("nobody");
  *faulty.add_objects() = shot.objects(0);
  faulty.mutable_objects(0)->set_class_name("unicorn");
  *faulty.add_objects() = shot.objects(1);
  const int64_t refused = client_.Edit(faulty);
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
  EXPECT_EQ(client_.refusals[0].revision(), refused);
  EXPECT_EQ(client_.refusals[0].status().code(), grpc::StatusCode::INVALID_ARGUMENT);
  std::vector<std::string> fields;
  const google::rpc::BadRequest faults = FaultsOf(client_.refusals[0].status());
  for (const auto& fault : faults.field_violations()) fields.push_back(fault.field());
  EXPECT_THAT(fields, UnorderedElementsAre("objects[0].class_name", "removed_ids[0]"));
  // Its number is used up; the next edit is taken in, on the shot as it was.
  v1::ShotEdit same;
  *same.add_objects() = shot.objects(1);
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(same)));
  EXPECT_EQ(Bytes(client_.Plan()), before);
}

TEST_F(Assemble, WhatAnEditMayNotSayIsNamed) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  std::string container;
  for (const v1::SceneObject& object : shot.objects()) {
    if (!object.container_id().empty()) container = object.container_id();
  }
  ASSERT_FALSE(container.empty());
  struct Case {
    std::string field, description;
    v1::ShotEdit edit;
  };
  std::vector<Case> cases(7);
  cases[0].field = "removed_ids[0]";
  cases[0].description = "want what it holds removed or put elsewhere in the same edit";
  cases[0].edit.add_removed_ids(container);
  cases[1].field = "removed_ids[1]";
  cases[1].description = "want each object once";
  for (int i = 0; i < 2; ++i) cases[1].edit.add_removed_ids(shot.objects(1).id());
  cases[2].field = "removed_ids[0]";
  cases[2].description = "want an object that is not sent in the same edit";
  *cases[2].edit.add_objects() = shot.objects(1);
  cases[2].edit.add_removed_ids(shot.objects(1).id());
  cases[3].field = "frames";
  cases[3].description = "sent again";
  *cases[3].edit.mutable_header() = HeaderOf(shot);
  cases[3].edit.mutable_header()->mutable_frames()->set_last(shot.frames().last() + 1);
  cases[4].field = "header.objects";
  cases[4].description = "want them beside the header";
  *cases[4].edit.mutable_header() = shot;
  cases[5].field = "cameras";
  cases[5].description = "want them within it";
  *cases[5].edit.mutable_header() = HeaderOf(shot);
  *cases[5].edit.add_cameras() = shot.cameras(0);
  cases[6].field = "current_frame";
  cases[6].description = "want a frame of the shot";
  cases[6].edit.set_current_frame(shot.frames().last() + 1);
  // Something must move for the frames to matter.
  v1::ShotEdit moves;
  *moves.add_objects() = shot.objects(1);
  v1::TransformTrack& track = *moves.mutable_objects(0)->mutable_transform();
  const std::vector<double> pose(track.matrices().begin(), track.matrices().begin() + 16);
  track.clear_matrices();
  for (int f = shot.frames().first(); f <= shot.frames().last(); ++f) {
    track.mutable_matrices()->Add(pose.begin(), pose.end());
    track.set_matrices(track.matrices_size() - 4, pose[12] + 0.01 * f);
  }
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(moves)));
  for (const Case& one : cases) {
    client_.refusals.clear();
    client_.Edit(one.edit);
    ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
    const google::rpc::BadRequest faults = FaultsOf(client_.refusals[0].status());
    ASSERT_GE(faults.field_violations_size(), 1) << one.field;
    EXPECT_EQ(faults.field_violations(0).field(), one.field);
    EXPECT_THAT(faults.field_violations(0).description(), HasSubstr(one.description));
  }
}

TEST_F(Assemble, PartsOfOneRevisionAreOneEdit) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  for (int i = 0; i < shot.objects_size(); ++i) {
    v1::AssembleShotRequest message;
    v1::ShotEdit& part = *message.mutable_edit();
    part.set_revision(1);
    part.set_continues(i + 1 < shot.objects_size());
    *part.add_objects() = shot.objects(i);
    ASSERT_TRUE(client_.Send(message));
  }
  ASSERT_TRUE(client_.ReadToFinal(1));
  EXPECT_EQ(client_.whole_updates, 1);
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
}

TEST_F(Assemble, AnEditTakenInIsPassedOverAndAGapEndsTheStream) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  v1::AssembleShotRequest again;
  *again.mutable_edit() = ObjectsOf(shot);
  again.mutable_edit()->set_revision(1);
  ASSERT_TRUE(client_.Send(again));
  again.mutable_edit()->set_revision(3);
  ASSERT_TRUE(client_.Send(again));
  const Refused refused = RefusalOf(client_.End());
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "STREAM_ORDER");
  EXPECT_EQ(refused.message, "got revision 3, want 2");
  // The session is still there.
  ASSERT_TRUE(client_.Resume());
  EXPECT_EQ(client_.started.revision(), 1);
}

TEST_F(Assemble, ABudgetSettlesAndThenBecomesFinal) {
  const v1::Shot shot = Pool(300, 24, 5);
  v1::Plan unseen = Fresh(shot);
  v1::PlanOptions options;
  options.set_anim_hours(unseen.totals().plan().anim_hours().mean() * 0.75);
  ASSERT_TRUE(client_.Begin(HeaderOf(shot), options));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToSettled(1));
  EXPECT_EQ(client_.state, v1::SETTLED);
  EXPECT_LE(client_.last.summary().totals().plan().anim_hours().mean(), options.anim_hours() + 1e-3);
  EXPECT_LE(client_.last.summary().totals().loss_bound(), client_.last.summary().totals().loss());
  ASSERT_TRUE(client_.ReadToFinal(1));
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot, options)));
  // And after an edit.
  v1::Shot moved = shot;
  v1::SceneObject& object = *moved.mutable_objects(40);
  object.set_importance(3);
  v1::ShotEdit edit;
  *edit.add_objects() = object;
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(edit)));
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(moved, options)));
}

TEST_F(Assemble, ABudgetNothingFitsIsAProblemOfThatRevisionOnly) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  v1::ShotEdit first = ObjectsOf(shot);
  v1::Directive& keep = *first.mutable_directives()->add_directives();
  keep.set_object_id(shot.objects(0).id());
  keep.set_bound(v1::Directive::EXACTLY);
  keep.set_tier(v1::FULL_RIG);
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(first)));
  const size_t decisions = client_.decisions.size();
  v1::ShotEdit tight;
  tight.mutable_options()->set_anim_hours(0);
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(tight)));
  ASSERT_TRUE(client_.last.has_problem());
  EXPECT_EQ(client_.last.problem().code(), grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(client_.decisions.size(), decisions);
  v1::ShotEdit loose;
  loose.mutable_options();
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(loose)));
  EXPECT_FALSE(client_.last.has_problem());
  EXPECT_EQ(client_.state, v1::FINAL);
}

TEST_F(Assemble, ACameraMoveIsLookedAtFirstAndThenSettled) {
  v1::Shot shot = Pool(400, 48, 2);
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  client_.looks.clear();
  for (int i = 14; i < shot.cameras(0).transform().matrices_size(); i += 16) {
    shot.mutable_cameras(0)->mutable_transform()->set_matrices(i, shot.cameras(0).transform().matrices(i) - 6);
  }
  v1::ShotEdit edit;
  *edit.add_cameras() = shot.cameras(0);
  edit.set_current_frame(shot.frames().first() + 3);
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(edit)));
  ASSERT_FALSE(client_.looks.empty());
  for (const v1::QuickDecision& quick : client_.looks[0].quick()) {
    EXPECT_EQ(quick.basis(), v1::QuickDecision::CURRENT_FRAME);
  }
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
}

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
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--live-keep-s", "1"});
  LiveClient client(daemon.Channel());
  ASSERT_TRUE(client.Begin(HeaderOf(TinyShot())));
  EXPECT_EQ(client.started.keep_s(), 1);
  client.BreakOff();
  ASSERT_TRUE(client.Resume());  // at once: it is still there
  client.BreakOff();
  std::this_thread::sleep_for(std::chrono::milliseconds(1500));
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

// ---- What-ifs and baselines

TEST_F(Assemble, AWhatIfAnswersWithoutTouchingTheSession) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  const std::string before = Bytes(client_.Plan());
  v1::AssembleShotRequest message;
  v1::WhatIf& what_if = *message.mutable_what_if();
  what_if.set_what_if_id("without the lead");
  what_if.mutable_edit()->add_removed_ids(shot.objects(0).id());
  ASSERT_TRUE(client_.Send(message));
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.what_ifs.empty(); }));
  const v1::WhatIfAnswer& answer = client_.what_ifs[0];
  EXPECT_EQ(answer.what_if_id(), "without the lead");
  EXPECT_EQ(answer.revision(), 1);
  EXPECT_THAT(answer.gone_ids(), ElementsAre(shot.objects(0).id()));
  v1::Shot without = shot;
  without.mutable_objects()->DeleteSubrange(0, 1);
  v1::Plan summary = Fresh(without);
  summary.clear_decisions();
  EXPECT_EQ(Bytes(answer.summary()), Bytes(summary));
  // The session is as it was.
  v1::ShotEdit nothing;
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(nothing)));
  EXPECT_EQ(Bytes(client_.Plan()), before);
  EXPECT_THAT(client_.told, IsEmpty());
  // A faulty one is a problem.
  what_if.set_what_if_id("faulty");
  what_if.mutable_edit()->set_removed_ids(0, "nobody");
  ASSERT_TRUE(client_.Send(message));
  ASSERT_TRUE(client_.ReadUntil([&] { return client_.what_ifs.size() == 2; }));
  EXPECT_EQ(client_.what_ifs[1].problem().code(), grpc::StatusCode::INVALID_ARGUMENT);
  what_if.clear_what_if_id();
  ASSERT_TRUE(client_.Send(message));
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
  EXPECT_THAT(client_.refusals[0].status().message(), HasSubstr("want 1 to 256"));
}

TEST_F(Assemble, TotalsAreToldAgainstABaseline) {
  v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  v1::AssembleShotRequest message;
  message.mutable_baseline()->set_present(true);
  ASSERT_TRUE(client_.Send(message));
  ASSERT_TRUE(client_.ReadUntil([&] { return !client_.refusals.empty(); }));
  EXPECT_TRUE(client_.refusals[0].baseline());
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  message.mutable_baseline()->set_label("layout 3");
  ASSERT_TRUE(client_.Send(message));
  const double hours = client_.last.summary().totals().plan().anim_hours().mean();
  v1::ShotEdit remove;
  remove.add_removed_ids(shot.objects(0).id());
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(remove)));
  EXPECT_EQ(client_.last.baseline().label(), "layout 3");
  EXPECT_EQ(client_.last.baseline().objects(), -1);
  EXPECT_DOUBLE_EQ(client_.last.baseline().anim_hours(),
                   client_.last.summary().totals().plan().anim_hours().mean() - hours);
}

// ---- Many edits, many sessions

TEST_F(Assemble, RandomEditsWithoutWaitingComeToTheFreshPlan) {
  for (uint64_t seed = 1; seed <= 6; ++seed) {
    SCOPED_TRACE(seed);
    RandomEdits edits(Pool(60, 8, seed), seed);
    LiveClient client(daemon_.Channel());
    std::mt19937_64 random(seed);
    ASSERT_TRUE(client.Begin(edits.Header()));
    std::vector<v1::ShotEdit> sent(1);
    const auto send = [&](v1::ShotEdit edit) {
      sent.push_back(edit);
      sent.back().set_revision(client.Edit(std::move(edit)));
    };
    send(edits.First());
    for (int round = 0; round < 6; ++round) {
      const int burst = 1 + static_cast<int>(random() % 8);
      for (int i = 0; i < burst; ++i) send(edits.Next());
      if (random() % 3 == 0) {
        // Whoever lost his stream sends again what was not taken in; what was is passed over.
        client.BreakOff();
        ASSERT_TRUE(client.Resume());
        for (int64_t lost = client.started.revision() + 1; lost <= client.revision; ++lost) {
          v1::AssembleShotRequest message;
          *message.mutable_edit() = sent[static_cast<size_t>(lost)];
          ASSERT_TRUE(client.Send(message));
        }
      }
      ASSERT_TRUE(client.ReadToFinal(client.revision)) << client.End().error_message();
      ASSERT_THAT(client.refusals, IsEmpty()) << client.refusals[0].ShortDebugString();
      EXPECT_EQ(client.order_faults, 0);
      const Answer fresh = PlanOver(daemon_, edits.shot());
      if (!fresh.status.ok()) {
        EXPECT_TRUE(client.last.has_problem());
        continue;
      }
      ASSERT_EQ(Bytes(client.Plan()), Bytes(fresh.plan()));
    }
  }
}

TEST_F(Assemble, FiftySessionsAtOnceWithMixedEdits) {
  std::vector<std::thread> threads;
  std::atomic<int> good = 0;
  for (uint64_t number = 0; number < 50; ++number) {
    threads.emplace_back([&, number] {
      RandomEdits edits(Pool(40, 4, number % 7 + 1), number);
      LiveClient client(daemon_.Channel());
      if (!client.Begin(edits.Header())) return;
      client.Edit(edits.First());
      for (int i = 0; i < 6; ++i) {
        client.Edit(edits.Next());
        if (i % 2 == 0 && !client.ReadToSettled(client.revision)) return;
      }
      if (!client.ReadToFinal(client.revision) || client.order_faults > 0) return;
      const Answer fresh = PlanOver(daemon_, edits.shot());
      const bool same = fresh.status.ok() ? Bytes(client.Plan()) == Bytes(fresh.plan()) : client.last.has_problem();
      good += same && client.refusals.empty();
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(good, 50);
}

TEST_F(Assemble, AReaderWhoStopsReadingGetsLaterChangesAsOne) {
  const v1::Shot shot = Pool(3000, 1, 3);
  LiveClient slow(daemon_.NarrowChannel());
  ASSERT_TRUE(slow.Begin(HeaderOf(shot)));
  slow.Edit(ObjectsOf(shot));
  ASSERT_TRUE(slow.ReadToFinal(1));
  v1::Shot changed = shot;
  // Two hundred edits, each of every hundredth object, without reading: as queued updates they would be some 50 MB.
  for (int i = 0; i < 200; ++i) {
    v1::ShotEdit edit;
    for (int o = i % 100; o < changed.objects_size(); o += 100) {
      changed.mutable_objects(o)->set_importance(1 + i % 5);
      *edit.add_objects() = changed.objects(o);
    }
    slow.Edit(edit);
  }
  const int before = slow.whole_updates;
  ASSERT_TRUE(slow.ReadToFinal(slow.revision));
  EXPECT_LT(slow.whole_updates - before, 150);
  EXPECT_EQ(Bytes(slow.Plan()), Bytes(Fresh(changed)));
}

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

}  // namespace
}  // namespace scantling::testing
