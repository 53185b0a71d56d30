// A watched shot end to end: the built command, the built daemon, a file that changes under them.

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>
#include <signal.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "client/library/live_session.h"
#include "client/library/planner_client.h"
#include "client/library/shot_file.h"
#include "nlohmann/json.hpp"
#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using nlohmann::json;
using std::chrono::milliseconds;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr int kObjects = 120;

class Watching : public EndToEnd {
 protected:
  void SetUp() override {
    EndToEnd::SetUp();
    shot_ = json::parse(Sample(kObjects));
    WriteFile(shot_.dump());
  }

  std::string File() const { return Folder() + "/shot.json"; }

  // In place, as an editor that truncates does.
  void WriteFile(const std::string& content) const { std::ofstream(File(), std::ios::trunc) << content; }
  // By another file moved over it.
  void Replace() const {
    std::ofstream(Folder() + "/next") << shot_.dump();
    std::filesystem::rename(Folder() + "/next", File());
  }

  std::unique_ptr<Program> Watch(std::vector<std::string> further = {}) const {
    std::vector<std::string> words = {SCANTLING_PROGRAM, "watch", File(), "--format", "json"};
    words.insert(words.end(), further.begin(), further.end());
    return std::make_unique<Program>(words, RunOptions());
  }

  // The events printed so far.
  static std::vector<json> EventsOf(const std::string& out) {
    std::vector<json> events;
    std::istringstream lines(out);
    for (std::string line; std::getline(lines, line);) events.push_back(json::parse(line));
    return events;
  }

  static std::vector<json> Those(const std::string& out, const std::string& event) {
    std::vector<json> those;
    for (json& one : EventsOf(out)) {
      if (one["event"] == event) those.push_back(std::move(one));
    }
    return those;
  }

  static std::map<std::string, std::string> TiersOf(const v1::Plan& plan) {
    std::map<std::string, std::string> tiers;
    for (const v1::Decision& decision : plan.decisions()) tiers[decision.object_id()] = v1::Tier_Name(decision.tier());
    return tiers;
  }

  // What all changes printed add up to.
  static std::map<std::string, std::string> TiersTold(const std::string& out) {
    std::map<std::string, std::string> tiers;
    for (const json& plan : Those(out, "plan")) {
      for (const json& change : plan["changes"]) {
        const std::string id = change["object_id"];
        if (change["to"].is_null()) {
          tiers.erase(id);
        } else {
          tiers[id] = change["to"];
        }
      }
    }
    return tiers;
  }

  // A daemon of the test's own at one address, started and killed at will.
  std::string Address() const { return "unix:" + Folder() + "/daemon.sock"; }
  std::unique_ptr<Program> Daemon() const {
    auto daemon =
        std::make_unique<Program>(std::vector<std::string>{SCANTLINGD_PROGRAM, "--listen", Address()}, RunOptions());
    PlannerClient client;
    for (int i = 0; i < 400 && !client.Connect({.address = Address(), .time_limit = std::nullopt}).ok(); ++i) {
      usleep(10'000);
    }
    return daemon;
  }

  json shot_;
};

TEST_F(Watching, ChangesOfTheFileAreToldAndAddUpToThePlanOfTheLastVersion) {
  const auto watch = Watch({"--until-final", "3"});
  ASSERT_TRUE(watch->AwaitOnOut("\"plan\",\"state\":\"FINAL\",\"revision\":1"));
  shot_["objects"].erase(45);
  shot_["directives"] =
      json::parse(R"([{"class_name":"person","bound":"AT_MOST","tier":"PROXY","why":"no rigs left"}])");
  Replace();
  ASSERT_TRUE(watch->AwaitOnOut("\"plan\",\"state\":\"FINAL\",\"revision\":2"));
  json& matrices = shot_["cameras"][0]["transform"]["matrices"];
  for (size_t at = 12; at < matrices.size(); at += 16) matrices[at] = matrices[at].get<double>() + 3;
  WriteFile(shot_.dump());
  const Outcome outcome = watch->Wait();
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  const std::vector<json> files = Those(outcome.out, "file");
  ASSERT_EQ(files.size(), 3u);
  EXPECT_EQ(files[1]["what"], "1 object removed, directives changed");
  EXPECT_THAT(files[2]["what"], HasSubstr("camera quay_track changed"));

  const Outcome fresh = Scantling({"plan", File(), "--format", "json"});
  v1::Plan plan;
  ASSERT_TRUE(google::protobuf::util::JsonStringToMessage(fresh.out, &plan).ok());
  EXPECT_EQ(TiersTold(outcome.out), TiersOf(plan));
  EXPECT_EQ(Those(outcome.out, "plan").back()["totals"]["plan"]["anim_hours"]["mean"].get<double>(),
            plan.totals().plan().anim_hours().mean());
  EXPECT_THAT(Relatives(), IsEmpty());
}

TEST_F(Watching, FaultyAndHalfWrittenAndMissingFilesAreToldAndWatchedOn) {
  const auto watch = Watch({"--until-final", "2"});
  ASSERT_TRUE(watch->AwaitOnOut("\"FINAL\""));
  WriteFile(shot_.dump().substr(0, 2000));
  ASSERT_TRUE(watch->AwaitOnOut("\"faulty\""));
  EXPECT_THAT(watch->out(), HasSubstr("shot.json:1:"));  // line and column
  json faulty = shot_;
  faulty["objects"][7]["class_name"] = "dragon";
  WriteFile(faulty.dump());
  ASSERT_TRUE(watch->AwaitOnOut("\"refused\""));
  EXPECT_THAT(Those(watch->out(), "refused")[0]["faults"][0]["field"], "objects[7].class_name");
  std::filesystem::remove(File());
  ASSERT_TRUE(watch->AwaitOnOut("\"gone\""));
  shot_["objects"].erase(60);
  WriteFile(shot_.dump());
  const Outcome outcome = watch->Wait();
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_EQ(TiersTold(outcome.out).size(), kObjects - 1u);
}

TEST_F(Watching, FaultyFromTheBeginningIsBadInput) {
  WriteFile("{");
  EXPECT_EQ(Watch()->Wait().exit_code, 3);
  shot_["objects"][7]["class_name"] = "dragon";
  WriteFile(shot_.dump());
  const Outcome outcome = Scantling({"watch", File()});
  EXPECT_EQ(outcome.exit_code, 3);
  EXPECT_THAT(outcome.err, HasSubstr("objects[7].class_name: got \"dragon\""));
  std::filesystem::remove(File());
  EXPECT_EQ(Watch()->Wait().exit_code, 3);
  EXPECT_EQ(Scantling({"watch", "-"}).exit_code, 2);
}

TEST_F(Watching, InterruptEndsItWellAndLeavesNothing) {
  const auto watch = Watch();
  ASSERT_TRUE(watch->AwaitOnOut("\"FINAL\""));
  watch->Signal(SIGINT);
  const Outcome outcome = watch->Wait();
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_EQ(outcome.signal, 0);
  EXPECT_THAT(Relatives(), IsEmpty());
  EXPECT_THAT(Leftovers(), testing::ElementsAre("shot.json"));
}

TEST_F(Watching, BudgetThatNothingMeetsEndsWithItsOwnCode) {
  const Outcome outcome = Scantling({"watch", File(), "--anim-hours", "0.001", "--until-final", "1"});
  EXPECT_EQ(outcome.exit_code, 4);
  EXPECT_THAT(outcome.err, HasSubstr("Smallest budget that would do: --anim-hours"));
}

TEST_F(Watching, SavedPlanAndSavedShotAreTheSameBaseline) {
  const Outcome plan = Scantling({"plan", File(), "--format", "json"});
  std::ofstream(Folder() + "/plan.json") << plan.out;
  std::ofstream(Folder() + "/saved.json") << shot_.dump();
  shot_["objects"].erase(40);
  Replace();
  std::vector<json> against;
  for (const char* saved : {"/plan.json", "/saved.json"}) {
    const Outcome outcome = Watch({"--until-final", "1", "--baseline", Folder() + saved})->Wait();
    ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
    json baseline = Those(outcome.out, "plan").back()["baseline"];
    EXPECT_THAT(baseline["label"].get<std::string>(), HasSubstr(saved));
    baseline.erase("label");
    against.push_back(baseline);
  }
  EXPECT_EQ(against[0]["objects"], "-1");  // int64 in the JSON form of protobuf
  EXPECT_EQ(against[0], against[1]);
}

TEST_F(Watching, DaemonKilledAndStartedAgainGoesOn) {
  auto daemon = Daemon();
  const auto watch = Watch({"--address", Address()});
  ASSERT_TRUE(watch->AwaitOnOut("\"FINAL\""));
  daemon->Signal(SIGKILL);
  ASSERT_TRUE(watch->AwaitOnOut("\"lost\""));
  shot_["objects"].erase(30);
  Replace();
  ASSERT_TRUE(watch->AwaitOnOut("\"changed\""));
  daemon->Wait();
  daemon = Daemon();
  ASSERT_TRUE(watch->AwaitOnOut("\"to\":null"));  // the one that was taken out
  watch->Signal(SIGINT);
  const Outcome outcome = watch->Wait();
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_EQ(TiersTold(outcome.out).size(), kObjects - 1u);
  // Begun anew, it told nobody's decision twice.
  EXPECT_LT(Those(outcome.out, "plan").back()["changes"].size(), kObjects / 2u);
}

TEST_F(Watching, PrivateDaemonThatDiesIsUnreachable) {
  const auto watch = Watch();
  ASSERT_TRUE(watch->AwaitOnOut("\"FINAL\""));
  for (const pid_t pid : Relatives()) {
    if (pid != watch->pid()) kill(pid, SIGKILL);
  }
  EXPECT_EQ(watch->Wait().exit_code, 5);
  EXPECT_THAT(Leftovers(), testing::ElementsAre("shot.json"));
}

// Whole plans, byte for byte, by the kit itself.
class LiveKit : public Watching {
 protected:
  void SetUp() override {
    Watching::SetUp();
    daemon_ = Daemon();
    read_ = *ReadShot(File());
  }

  v1::PlanOptions Budget() const {
    v1::PlanOptions options;
    options.set_anim_hours(400);
    return options;
  }

  std::string FreshPlan(const v1::PlanOptions& options) const {
    PlannerClient client;
    EXPECT_TRUE(client.Connect({.address = Address(), .time_limit = std::nullopt}).ok());
    const auto answer = client.Plan(read_, options, nullptr);
    EXPECT_TRUE(answer.ok()) << answer.status();
    return answer.ok() ? answer->plan().SerializeAsString() : "";
  }

  static bool AwaitFinal(LiveSession& session) {
    for (int i = 0; i < 1000; ++i) {
      session.Pump();
      if (session.publishable()) return true;
      session.Wait(milliseconds(20));
    }
    return false;
  }

  std::unique_ptr<Program> daemon_;
  v1::Shot read_;
};

TEST_F(LiveKit, FinalPlansAreThoseOfPlanShotByteForByte) {
  for (const v1::PlanOptions& options : {v1::PlanOptions(), Budget()}) {
    LiveSession session({.address = Address()}, {});
    ASSERT_TRUE(session.SetShot(read_, options).ok());
    ASSERT_TRUE(AwaitFinal(session));
    EXPECT_EQ(session.Plan().SerializeAsString(), FreshPlan(options));
    // Then a change, an object less, and both at once taken back: the plan is always that of the shot as it is.
    const v1::SceneObject taken_out = read_.objects(20);
    read_.mutable_objects(10)->mutable_transform()->set_matrices(12, 3.25);
    session.Put(read_.objects(10));
    session.Remove(taken_out.id());
    read_.mutable_objects()->DeleteSubrange(20, 1);
    ASSERT_TRUE(AwaitFinal(session));
    EXPECT_EQ(session.Plan().SerializeAsString(), FreshPlan(options));
    session.Put(taken_out);
    *read_.add_objects() = taken_out;
    ASSERT_TRUE(AwaitFinal(session));
    EXPECT_EQ(session.Plan().SerializeAsString(), FreshPlan(options));
  }
}

TEST_F(LiveKit, WhatIfAnswersWithoutTouchingTheSession) {
  LiveSession session({.address = Address()}, {});
  ASSERT_TRUE(session.SetShot(read_, {}).ok());
  ASSERT_TRUE(AwaitFinal(session));
  const std::string before = session.Plan().SerializeAsString();
  ShotChange change;
  change.objects[read_.objects(20).id()] = nullptr;
  absl::StatusOr<v1::WhatIfAnswer> answer = absl::UnknownError("none yet");
  ASSERT_TRUE(session.WhatIf(change, [&answer](const auto& said) { answer = said; }).ok());
  for (int i = 0; i < 500 && !answer.ok(); ++i) {
    session.Wait(milliseconds(20));
    session.Pump();
  }
  ASSERT_TRUE(answer.ok()) << answer.status();
  EXPECT_EQ(answer->summary().totals().objects(), kObjects - 1);
  EXPECT_THAT(answer->gone_ids(), testing::ElementsAre(read_.objects(20).id()));
  EXPECT_EQ(session.Plan().SerializeAsString(), before);
  EXPECT_TRUE(session.publishable());
}

TEST_F(LiveKit, RefusedEditLeavesThePlanOfWhatTheSessionHas) {
  std::vector<LiveRefusal> refusals;
  LiveListener listener;
  listener.refusal = [&refusals](const LiveRefusal& refusal) { refusals.push_back(refusal); };
  LiveSession session({.address = Address()}, listener);
  ASSERT_TRUE(session.SetShot(read_, {}).ok());
  ASSERT_TRUE(AwaitFinal(session));
  v1::SceneObject faulty = read_.objects(5);
  faulty.set_class_name("dragon");
  session.Put(faulty);
  for (int i = 0; i < 500 && refusals.empty(); ++i) {
    session.Wait(milliseconds(20));
    session.Pump();
  }
  ASSERT_EQ(refusals.size(), 1u);
  EXPECT_FALSE(session.publishable());
  session.Put(read_.objects(5));  // as it was: nothing is held any more
  ASSERT_TRUE(AwaitFinal(session));
  EXPECT_TRUE(session.held().empty());
  EXPECT_EQ(session.Plan().SerializeAsString(), FreshPlan({}));
}

TEST_F(LiveKit, DaemonKilledInMidStreamCostsNothingButTime) {
  LiveSession session({.address = Address()}, {});
  ASSERT_TRUE(session.SetShot(read_, Budget()).ok());
  ASSERT_TRUE(AwaitFinal(session));
  read_.mutable_objects(10)->mutable_transform()->set_matrices(12, 3.25);
  session.Put(read_.objects(10));
  usleep(20'000);
  daemon_->Signal(SIGKILL);
  daemon_->Wait();
  read_.mutable_objects(11)->mutable_transform()->set_matrices(12, 4.25);
  session.Put(read_.objects(11));
  daemon_ = Daemon();
  ASSERT_TRUE(AwaitFinal(session));
  EXPECT_EQ(session.Plan().SerializeAsString(), FreshPlan(Budget()));
}

}  // namespace
}  // namespace scantling::client
