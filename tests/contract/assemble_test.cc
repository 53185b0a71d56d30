// AssembleShot with the real daemon: edits in, changes out, and everything that may go wrong on the way.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <random>
#include <thread>

#include "tests/contract/assemble_fixture.h"
#include "tests/planning/random_edits.h"

namespace scantling::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::UnorderedElementsAre;

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
  // A first look that the settled plan overtook is not told, so more than one edit may be needed to see one.
  client_.looks.clear();
  for (int i = 0; i < 50 && client_.looks.empty(); ++i) {
    person->mutable_box()->mutable_max_m()->set_y(person->box().max_m().y() * (i % 2 == 0 ? 1.5 : 1 / 1.5));
    v1::ShotEdit edit;
    *edit.add_objects() = *person;
    const int64_t revision = client_.Edit(edit);
    ASSERT_TRUE(client_.ReadToFinal(revision));
    EXPECT_THAT(client_.told, ElementsAre(person->id()));
  }
  ASSERT_EQ(client_.looks.size(), 1u);
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

TEST_F(Assemble, AnotherCurrentFrameIsAnsweredWithWhatIsKnown) {
  const v1::Shot shot = TinyShot();
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  const std::string before = Bytes(client_.Plan());
  const int whole = client_.whole_updates;
  v1::ShotEdit frame;
  frame.set_current_frame(shot.frames().last());
  ASSERT_TRUE(client_.ReadToFinal(client_.Edit(frame)));
  EXPECT_EQ(client_.answered, 2);
  EXPECT_EQ(client_.whole_updates, whole + 1);
  EXPECT_THAT(client_.told, IsEmpty());
  EXPECT_EQ(Bytes(client_.Plan()), before);
}

TEST_F(Assemble, ACameraMoveIsLookedAtFirstAndThenSettled) {
  v1::Shot shot = Pool(400, 48, 2);
  ASSERT_TRUE(client_.Begin(HeaderOf(shot)));
  client_.Edit(ObjectsOf(shot));
  ASSERT_TRUE(client_.ReadToFinal(1));
  client_.looks.clear();
  for (int move = 0; move < 50 && client_.looks.empty(); ++move) {
    for (int i = 14; i < shot.cameras(0).transform().matrices_size(); i += 16) {
      const double z = shot.cameras(0).transform().matrices(i);
      shot.mutable_cameras(0)->mutable_transform()->set_matrices(i, z + (move % 2 == 0 ? -6 : 6));
    }
    v1::ShotEdit edit;
    *edit.add_cameras() = shot.cameras(0);
    edit.set_current_frame(shot.frames().first() + 3);
    ASSERT_TRUE(client_.ReadToFinal(client_.Edit(edit)));
  }
  ASSERT_FALSE(client_.looks.empty());
  for (const v1::QuickDecision& quick : client_.looks[0].quick()) {
    EXPECT_EQ(quick.basis(), v1::QuickDecision::CURRENT_FRAME);
  }
  EXPECT_EQ(Bytes(client_.Plan()), Bytes(Fresh(shot)));
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
    const v1::Shot beginning = edits.Header();
    ASSERT_TRUE(client.Begin(beginning));
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
        if (!client.Resume()) {  // where nothing had been taken in there is nothing to resume
          ASSERT_EQ(client.End().error_code(), grpc::StatusCode::NOT_FOUND);
          const int64_t last = client.revision;
          ASSERT_TRUE(client.Begin(beginning));
          client.revision = last;
        }
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

}  // namespace
}  // namespace scantling::testing
