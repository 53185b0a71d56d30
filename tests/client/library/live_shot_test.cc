// Shots kept by object, changes of them, and the edits that carry those.

#include "client/library/live_shot.h"

#include <gmock/gmock.h>
#include <google/protobuf/util/message_differencer.h>

#include "absl/strings/str_cat.h"
#include "client/library/faults.h"
#include "client/library/live_cut.h"
#include "client/library/live_log.h"
#include "client/library/live_parts.h"
#include "client/library/live_pause.h"

namespace scantling::client {
namespace {

using google::protobuf::util::MessageDifferencer;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

constexpr std::chrono::steady_clock::time_point kNow{};

v1::SceneObject Row(const std::string& id, int poses = 1, double x = 0) {
  v1::SceneObject object;
  object.set_id(id);
  for (int i = 0; i < 16 * poses; ++i) object.mutable_transform()->add_matrices(x + i);
  return object;
}

v1::Shot ShotOfRows(const std::vector<std::string>& ids, int first = 1, int last = 4) {
  v1::Shot shot;
  shot.mutable_frames()->set_first(first);
  shot.mutable_frames()->set_last(last);
  shot.add_cameras()->set_id("main");
  for (const std::string& id : ids) *shot.add_objects() = Row(id);
  return shot;
}

// Two objects, one of which moves over four frames; one has an asset, the other importance.
v1::ObjectBlock Block() {
  v1::ObjectBlock block;
  block.set_id_blob("xyz");
  block.add_id_lengths(1);
  block.add_id_lengths(2);
  block.add_class_names("gull");
  block.add_class_names("person");
  block.add_class_of(0);
  block.add_class_of(1);
  block.add_asset_ids("bird");
  block.add_asset_of(1);
  block.add_asset_of(0);
  block.add_importance(0);
  block.add_importance(2);
  for (int i = 0; i < 12; ++i) block.add_boxes_m(static_cast<float>(i));
  block.add_poses(4);
  block.add_poses(1);
  for (int i = 0; i < 9 * 5; ++i) block.add_linear(static_cast<float>(i));
  for (int i = 0; i < 3 * 5; ++i) block.add_translation_m(i);
  return block;
}

LiveShot Kept(const v1::Shot& shot) { return *LiveShotOf(shot, {}); }

TEST(LiveShot, GoesInAndOutUnchanged) {
  v1::Shot shot = ShotOfRows({"a", "b"});
  *shot.add_blocks() = Block();
  EXPECT_TRUE(MessageDifferencer::Equals(ShotOf(Kept(shot)), shot));
}

TEST(LiveShot, EveryIdThatComesTwiceIsTold) {
  v1::Shot shot = ShotOfRows({"a", "b", "a", "x"});
  *shot.add_blocks() = Block();
  *shot.add_blocks() = v1::ObjectBlock();
  shot.mutable_blocks(1)->add_id_lengths(7);
  const absl::Status status = LiveShotOf(shot, {}).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  const google::rpc::BadRequest faults = FaultsOf(status);
  ASSERT_EQ(faults.field_violations_size(), 3);
  EXPECT_EQ(faults.field_violations(0).field(), "objects[2].id");
  EXPECT_EQ(faults.field_violations(0).description(), "got \"a\" twice, first in objects[0].id, want each object once");
  EXPECT_EQ(faults.field_violations(1).field(), "blocks[0], object 0");
  EXPECT_EQ(faults.field_violations(2).field(), "blocks[1]");
}

TEST(Difference, IsWhatMakesOneVersionOfTheOther) {
  LiveShot from = Kept(ShotOfRows({"a", "b", "c"}));
  v1::Shot next = ShotOfRows({"a", "c", "d"});
  *next.mutable_objects(1) = Row("c", 1, 5);
  next.mutable_cameras(0)->set_near_m(0.1);
  next.add_directives()->set_object_id("a");
  const LiveShot to = Kept(next);
  const ShotChange change = Difference(from, to);
  EXPECT_FALSE(change.header);  // camera and directives alone
  EXPECT_THAT(change.cameras, SizeIs(1));
  EXPECT_EQ(change.directives->directives_size(), 1);
  ASSERT_THAT(change.objects, SizeIs(3));
  EXPECT_EQ(change.objects.at("b"), nullptr);
  Apply(change, from);
  EXPECT_TRUE(MessageDifferencer::Equals(ShotOf(from), ShotOf(to)));
  EXPECT_TRUE(Difference(from, to).empty());
}

TEST(Difference, OtherFramesConcernWhateverMoves) {
  v1::Shot shot = ShotOfRows({"a"});
  *shot.add_objects() = Row("mover", 4);
  v1::Shot shifted = shot;
  shifted.mutable_frames()->set_first(11);
  shifted.mutable_frames()->set_last(14);
  const ShotChange change = Difference(Kept(shot), Kept(shifted));
  EXPECT_TRUE(change.header);
  ASSERT_THAT(change.objects, SizeIs(1));
  EXPECT_NE(change.objects.at("mover"), nullptr);
}

TEST(Difference, OptionsWithTheSameEarlierDecisionsKeepThem) {
  LiveShot from = Kept(ShotOfRows({"a"})), to = from;
  from.options.add_earlier()->set_object_id("a");
  to.options = from.options;
  to.options.set_anim_hours(100);
  const ShotChange change = Difference(from, to);
  EXPECT_TRUE(change.keep_earlier);
  EditParts(change, 1, kEditPartBytes, [](v1::ShotEdit& edit) {
    EXPECT_TRUE(edit.keep_earlier());
    EXPECT_THAT(edit.options().earlier(), IsEmpty());
    EXPECT_EQ(edit.options().anim_hours(), 100);
    return true;
  });
  to.options.mutable_earlier(0)->set_object_id("b");
  EXPECT_FALSE(Difference(from, to).keep_earlier);
}

TEST(Merge, NewerNotesWin) {
  ShotChange older, newer;
  older.header = ShotOfRows({});
  older.objects["a"] = LiveObjectOf(Row("a"));
  newer.objects["a"] = nullptr;
  newer.cameras["main"].set_id("main");
  newer.cameras["main"].set_near_m(3);
  Merge(newer, older);
  EXPECT_EQ(older.objects.at("a"), nullptr);
  EXPECT_THAT(older.cameras, IsEmpty());  // not beside a header: within it
  EXPECT_EQ(older.header->cameras(0).near_m(), 3);
}

TEST(CutTracks, KeepsThePosesOfTheFramesThatStay) {
  v1::Shot shot = ShotOfRows({"still"});
  *shot.add_objects() = Row("mover", 4);
  *shot.add_blocks() = Block();
  LiveShot kept = Kept(shot);
  ShotChange change;
  change.header = ShotOfRows({}, 2, 3);
  Apply(change, kept);
  const v1::Shot cut = ShotOf(kept);
  EXPECT_EQ(cut.objects(0).transform().matrices_size(), 32);
  EXPECT_EQ(cut.objects(0).transform().matrices(0), 16);  // the pose of frame 2
  EXPECT_EQ(cut.objects(1).transform().matrices_size(), 16);
  EXPECT_THAT(cut.blocks(0).poses(), ElementsAre(2, 1));
  EXPECT_THAT(cut.blocks(0).translation_m(), ElementsAre(3, 4, 5, 6, 7, 8, 12, 13, 14));
}

TEST(EditParts, OfEveryKindAddUpToTheChange) {
  v1::Shot shot = ShotOfRows({"a", "b", "c"});
  *shot.add_blocks() = Block();
  ShotChange change = WholeOf(Kept(shot));
  change.objects["gone"] = nullptr;
  v1::ShotEdit all;
  int parts = 0;
  EditParts(change, 7, 200, [&](v1::ShotEdit& part) {  // a row takes some 140 bytes
    EXPECT_EQ(part.revision(), 7);
    EXPECT_EQ(part.has_header(), parts == 0);
    all.MergeFrom(part);
    all.set_continues(part.continues());
    ++parts;
    return true;
  });
  EXPECT_GT(parts, 3);
  EXPECT_FALSE(all.continues());
  EXPECT_EQ(all.objects_size(), 3);
  EXPECT_THAT(all.removed_ids(), ElementsAre("gone"));
  EXPECT_FALSE(EditParts(change, 7, 200, [](v1::ShotEdit&) { return false; }));
}

ShotChange PutOf(const std::string& id, double x = 0) {
  ShotChange change;
  change.objects[id] = LiveObjectOf(Row(id, 1, x));
  return change;
}

TEST(EditLog, BegunAnewSendsWhatWasTakenInAndWhatWasUnderWay) {
  EditLog log;
  log.Become(Kept(ShotOfRows({"a"})), kNow);
  log.BeginAnew();
  log.Begun();
  log.Acknowledge(1);
  log.Take(PutOf("b"), kNow);
  log.Take(PutOf("c"), kNow);
  log.Acknowledge(2);
  const std::vector<SentEdit> again = log.BeginAnew();
  ASSERT_THAT(again, SizeIs(2));
  EXPECT_EQ(again[0].revision, 1);
  EXPECT_THAT(again[0].change->objects, SizeIs(2));
  EXPECT_TRUE(again[0].change->header);
  EXPECT_EQ(again[1].revision, 2);
  EXPECT_TRUE(again[1].change->objects.contains("c"));
}

TEST(EditLog, ResumedSendsOnlyWhatWasNotTakenIn) {
  EditLog log;
  log.Become(Kept(ShotOfRows({"a"})), kNow);
  log.Take(PutOf("b"), kNow);
  log.Take(PutOf("c"), kNow);
  log.Acknowledge(1);
  const auto again = log.Resume(2);
  ASSERT_TRUE(again);
  ASSERT_THAT(*again, SizeIs(1));
  EXPECT_EQ((*again)[0].revision, 3);
  EXPECT_FALSE(log.Resume(4));  // not our session: we never sent so many
  EXPECT_FALSE(log.Resume(0));  // nor one that forgot what it took in
}

TEST(EditLog, RefusedIsNoPartOfWhatTheSessionIsExpectedToKnow) {
  EditLog log;
  log.Become(Kept(ShotOfRows({"a"})), kNow);
  log.Take(PutOf("b"), kNow);
  log.Take(PutOf("c"), kNow);
  ASSERT_NE(log.Refuse(2), nullptr);
  EXPECT_EQ(log.Refuse(2), nullptr);  // told again: known already
  EXPECT_FALSE(log.expected().objects.contains("b"));
  EXPECT_TRUE(log.expected().objects.contains("c"));
  EXPECT_THAT(log.held().objects, SizeIs(1));
  // The whole shot says it all: nothing is held back then.
  const auto edit = log.Become(Kept(ShotOfRows({"a", "c"})), kNow);
  EXPECT_FALSE(edit);
  EXPECT_TRUE(log.held().empty());
}

TEST(EditLog, RemovalOfWhatWasRefusedIsNoNews) {
  EditLog log;
  log.Become(Kept(ShotOfRows({"a"})), kNow);
  log.Take(PutOf("b"), kNow);
  log.Refuse(2);
  ShotChange without;
  without.objects["b"] = nullptr;
  EXPECT_FALSE(log.Take(without, kNow));
  EXPECT_TRUE(log.held().empty());
}

TEST(GrowingPause, DoublesBetweenHalfAndAllOfItsBound) {
  GrowingPause pause(std::chrono::milliseconds(100), std::chrono::milliseconds(500), 7);
  for (const int bound : {100, 200, 400, 500, 500}) {
    const auto next = pause.Next().count();
    EXPECT_GE(next, bound / 2);
    EXPECT_LE(next, bound);
  }
  pause.Reset();
  EXPECT_LE(pause.Next().count(), 100);
}

}  // namespace
}  // namespace scantling::client
