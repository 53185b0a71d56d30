// What a watch prints, and when it looks at its file.

#include "client/command/watch_text.h"

#include <gmock/gmock.h>
#include <stdlib.h>

#include <filesystem>
#include <fstream>

#include "absl/strings/str_cat.h"
#include "client/command/watch_file.h"
#include "client/command/watch_json.h"
#include "client/library/faults.h"
#include "nlohmann/json.hpp"

namespace scantling::client {
namespace {

using std::chrono::milliseconds;
using testing::HasSubstr;
using testing::Not;

DecisionPtr Decided(v1::Tier tier, double hours, bool animated, v1::Reason reason = v1::READ_IN_FULL) {
  auto decision = std::make_shared<v1::Decision>();
  decision->set_tier(tier);
  decision->set_anim_hours(hours);
  decision->set_needs_animation(animated);
  decision->set_reason(reason);
  return decision;
}

v1::Totals Totals(double anim_hours, int needing) {
  v1::Totals totals;
  totals.set_objects(10);
  totals.set_needs_animation(needing);
  totals.set_full_rig(needing);
  totals.mutable_plan()->mutable_anim_hours()->set_mean(anim_hours);
  totals.mutable_plan()->mutable_core_hours()->set_mean(50);
  return totals;
}

LivePlanUpdate News(v1::UpdateState state, const v1::Totals& totals) {
  LivePlanUpdate news;
  news.update.set_state(state);
  news.update.set_revision(3);
  *news.update.mutable_summary()->mutable_totals() = totals;
  news.took = std::chrono::duration<double, std::milli>(210);
  return news;
}

TEST(FinalText, FirstPlanIsToldByItsTotals) {
  EXPECT_EQ(FinalText(News(v1::FINAL, Totals(1234.4, 4)), std::nullopt, false),
            "FINAL after 0.21 s\n"
            "  4 of 10 need animating: 1,234 animator-hours, 50 core-hours\n"
            "  4 full rig, 0 proxy, 0 colour patch, 0 omitted; loss 0\n");
}

TEST(FinalText, TellsWhoseTierChangedWhyAndWhatItCosts) {
  LivePlanUpdate news = News(v1::FINAL, Totals(1258, 5));
  news.changes = {{"lamplighter", Decided(v1::PROXY, 10, false), Decided(v1::FULL_RIG, 50, true)},
                  {"left", Decided(v1::FULL_RIG, 20, true), nullptr},
                  {"longer", Decided(v1::FULL_RIG, 5, true), Decided(v1::FULL_RIG, 8, true)},
                  {"newcomer", nullptr, Decided(v1::OMITTED, 0, false, v1::OFF_SCREEN)}};
  // 40 - 20 + 3 = 23 hours more; the largest change first.
  EXPECT_EQ(FinalText(news, Totals(1235, 4), false),
            "FINAL after 0.21 s\n"
            "  object       was       is        animating  hours  why\n"
            "  lamplighter  proxy     full rig  newly        +40  its detail can be read\n"
            "  left         full rig  gone      no longer    -20  not in the shot any more\n"
            "  newcomer     new       omitted                  0  no shot camera ever sees it\n"
            "  newly need animating: 1; no longer: 1\n"
            "  1 more keeps its tier and changed in frames, hold or figures (+3.0 hours)\n"
            "  animator-hours 1,235 -> 1,258 (+23)   core-hours 50 -> 50 (0)   need animating 4 -> 5 (+1)\n"
            "  full rig 4 -> 5 (+1)\n");
}

TEST(FinalText, NothingChangedIsSaid) {
  EXPECT_THAT(FinalText(News(v1::FINAL, Totals(10, 1)), Totals(10, 1), false), HasSubstr("  no decision changed\n"));
}

TEST(FinalText, RulingIsToldWithWhoRuled) {
  LivePlanUpdate news = News(v1::FINAL, Totals(10, 1));
  auto ruled = std::make_shared<v1::Decision>(*Decided(v1::OMITTED, 0, false, v1::DIRECTIVE));
  ruled->set_reason_text("exactly OMITTED for gull, ruled by head: no gulls");
  news.changes = {{"gull", Decided(v1::PROXY, 2, true), ruled}};
  EXPECT_THAT(FinalText(news, Totals(12, 2), false), HasSubstr("ruled by head: no gulls"));
}

TEST(FinalText, ManyChangesAreCutUnlessAllAreWanted) {
  LivePlanUpdate news = News(v1::FINAL, Totals(10, 1));
  for (int i = 0; i < 20; ++i) {
    news.changes.push_back({absl::StrCat("o", i), Decided(v1::PROXY, i, true), Decided(v1::OMITTED, 0, false)});
  }
  const std::string cut = FinalText(news, Totals(10, 1), false);
  EXPECT_THAT(cut, HasSubstr("  and 5 more; all with --all\n"));
  EXPECT_THAT(cut, HasSubstr("o19"));       // 19 hours, the most
  EXPECT_THAT(cut, Not(HasSubstr("o4 ")));  // 4 hours: the sixteenth
  EXPECT_THAT(FinalText(news, Totals(10, 1), true), HasSubstr("o4 "));
}

TEST(FinalText, BaselineAndProofAreTold) {
  v1::Totals totals = Totals(10, 1);
  totals.set_gap(0.00123);
  LivePlanUpdate news = News(v1::FINAL, totals);
  news.update.mutable_baseline()->set_label("approved\x1b[2J");
  news.update.mutable_baseline()->set_anim_hours(-120);
  news.update.mutable_baseline()->set_loss(0.25);
  news.update.mutable_baseline()->set_needs_animation(-3);
  const std::string text = FinalText(news, Totals(10, 1), false);
  EXPECT_THAT(text, HasSubstr("proved within 0.123 % of the least loss\n"));
  EXPECT_THAT(text, HasSubstr(": -120 animator-hours, 0 core-hours, loss +0.250, need animating -3, objects 0\n"));
  EXPECT_THAT(text, Not(HasSubstr("\x1b")));  // nothing steers a terminal
}

TEST(SettledText, IsOneLine) {
  LivePlanUpdate news = News(v1::SETTLED, Totals(1258, 5));
  EXPECT_EQ(SettledText(news, std::nullopt),
            "SETTLED after 0.21 s: 5 of 10 need animating, 1,258 animator-hours; making it final\n");
  news.changes = {{"a", Decided(v1::PROXY, 1, true), Decided(v1::OMITTED, 0, false)}};
  EXPECT_EQ(SettledText(news, Totals(1235, 4)),
            "SETTLED after 0.21 s: 1 object changes tier or need of animation, animator-hours 1,235 -> 1,258 (+23); "
            "making it final\n");
}

TEST(FileChangeText, CountsWhatIsNewChangedAndGone) {
  LiveShot before;
  for (const char* id : {"a", "b"}) before.objects[id] = std::make_shared<const LiveObject>();
  ShotChange change;
  EXPECT_EQ(FileChangeText(before, change), "nothing that is planned by");
  change.objects["a"] = std::make_shared<const LiveObject>();
  change.objects["b"] = nullptr;
  change.objects["c"] = std::make_shared<const LiveObject>();
  change.cameras["main"] = {};
  change.directives.emplace();
  EXPECT_EQ(FileChangeText(before, change),
            "1 object changed, 1 object added, 1 object removed, camera main changed, directives changed");
}

TEST(FirstLookText, NamesAFewAndTellsTheHours) {
  LiveProvisional look;
  EXPECT_EQ(FirstLookText(look), "");
  for (const char* id : {"a", "b", "c", "d"}) {
    look.update.add_quick()->set_object_id(id);
    look.update.mutable_quick(look.update.quick_size() - 1)->set_tier(v1::PROXY);
    look.update.mutable_quick(look.update.quick_size() - 1)->set_basis(v1::QuickDecision::WHOLE_SHOT);
  }
  look.update.set_anim_hours(1234);
  EXPECT_EQ(FirstLookText(look), "PROVISIONAL: a proxy, b proxy, c proxy and 1 more; about 1,234 animator-hours\n");
}

TEST(FirstLookText, OneFramesWordOnATierIsNotRepeated) {
  LiveProvisional look;
  for (const bool seen : {true, false, false}) {
    v1::QuickDecision& quick = *look.update.add_quick();
    quick.set_object_id("gull");
    quick.set_tier(v1::OMITTED);
    quick.set_basis(v1::QuickDecision::CURRENT_FRAME);
    quick.set_seen(seen);
  }
  EXPECT_EQ(FirstLookText(look), "PROVISIONAL: 1 of 3 objects seen in the current frame; about 0 animator-hours\n");
}

TEST(WatchJson, PlanIsOneLineWithFromAndTo) {
  LivePlanUpdate news = News(v1::FINAL, Totals(10, 1));
  news.changes = {{"a", Decided(v1::PROXY, 1, true), nullptr}, {"b", nullptr, Decided(v1::OMITTED, 0, false)}};
  const std::string line = PlanJson(news);
  EXPECT_EQ(std::count(line.begin(), line.end(), '\n'), 1);
  const auto json = nlohmann::json::parse(line);
  EXPECT_EQ(json["event"], "plan");
  EXPECT_EQ(json["state"], "FINAL");
  EXPECT_EQ(json["milliseconds"], 210);
  EXPECT_EQ(json["changes"][0]["from"], "PROXY");
  EXPECT_TRUE(json["changes"][0]["to"].is_null());
  EXPECT_EQ(json["changes"][0]["anim_hours_gained"], -1);
  EXPECT_TRUE(json["changes"][1]["from"].is_null());
  EXPECT_EQ(json["changes"][1]["reason"], "READ_IN_FULL");
  EXPECT_EQ(json["totals"]["plan"]["anim_hours"]["mean"], 10);
}

TEST(WatchJson, NoPlanAndRefusalsCarryTheirFaults) {
  LivePlanUpdate news = News(v1::SETTLED, Totals(10, 1));
  google::rpc::BadRequest faults;
  faults.add_field_violations()->set_field("objects[1].id");
  news.problem = WithFaults(absl::InvalidArgumentError("wrong"), faults);
  for (const std::string& line : {PlanJson(news), RefusedJson(news.problem), FileJson("faulty", "", news.problem)}) {
    const auto json = nlohmann::json::parse(line);
    EXPECT_EQ(json["message"], "wrong");
    EXPECT_EQ(json["faults"][0]["field"], "objects[1].id");
  }
  EXPECT_EQ(nlohmann::json::parse(PlanJson(news))["event"], "no_plan");
}

class WatchedFileTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = "/tmp/scantling_watched_XXXXXX";
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    folder_ = pattern;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::string Path() const { return folder_ + "/shot.json"; }
  void Write(const std::string& content) const { std::ofstream(Path()) << content; }
  static WatchedFile::TimePoint At(int ms) { return WatchedFile::TimePoint(milliseconds(ms)); }

  std::string folder_;
};

using Told = WatchedFile::News;

TEST_F(WatchedFileTest, WritingIsToldOnceAfterItWasLeftAlone) {
  Write("one");
  WatchedFile file(Path(), milliseconds(100));
  EXPECT_EQ(file.Look(At(1000)), Told::kNone);
  Write("longer");
  EXPECT_EQ(file.Look(At(1010)), Told::kNone);
  Write("longer still");
  EXPECT_EQ(file.Look(At(1090)), Told::kNone);  // goes on being written
  EXPECT_EQ(file.Look(At(1189)), Told::kNone);
  EXPECT_EQ(file.Look(At(1190)), Told::kWritten);
  EXPECT_EQ(file.Look(At(2000)), Told::kNone);
}

TEST_F(WatchedFileTest, AnotherFileMovedOverItIsAWriting) {
  Write("same size");
  WatchedFile file(Path(), milliseconds(100));
  std::ofstream(folder_ + "/next") << "size same";
  std::filesystem::rename(folder_ + "/next", Path());
  file.Look(At(1000));
  EXPECT_EQ(file.Look(At(1100)), Told::kWritten);
}

TEST_F(WatchedFileTest, GoneIsToldOnceAndComingBackIsAWriting) {
  Write("one");
  WatchedFile file(Path(), milliseconds(100));
  std::filesystem::remove(Path());
  file.Look(At(1000));
  EXPECT_EQ(file.Look(At(1100)), Told::kGone);
  EXPECT_EQ(file.Look(At(1500)), Told::kNone);
  Write("one");
  file.Look(At(2000));
  EXPECT_EQ(file.Look(At(2100)), Told::kWritten);
}

TEST_F(WatchedFileTest, GoneForAMomentIsNoNewsOfItsOwn) {
  Write("one");
  WatchedFile file(Path(), milliseconds(100));
  std::filesystem::remove(Path());
  EXPECT_EQ(file.Look(At(1000)), Told::kNone);
  Write("two!");
  EXPECT_EQ(file.Look(At(1050)), Told::kNone);
  EXPECT_EQ(file.Look(At(1150)), Told::kWritten);
}

}  // namespace
}  // namespace scantling::client
