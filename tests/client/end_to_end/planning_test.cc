// Planning end to end: a demonstration shot in, plans out, in every format, small and large.

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>

#include <filesystem>

#include "scantling/v1/shot_planner.pb.h"
#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using google::protobuf::util::JsonStringToMessage;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

constexpr int kObjects = 300;

class Planning : public EndToEnd {
 protected:
  // A plan as JSON of `shot`, read back.
  v1::Plan PlanOf(const std::string& shot, std::vector<std::string> further = {}) const {
    std::vector<std::string> arguments = {"plan", "-", "--format", "json"};
    arguments.insert(arguments.end(), further.begin(), further.end());
    const Outcome outcome = Scantling(arguments, {.input = shot});
    EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
    v1::Plan plan;
    EXPECT_TRUE(JsonStringToMessage(outcome.out, &plan).ok());
    return plan;
  }
};

TEST_F(Planning, PipedShotGivesAReportAndAWordAboutThePrivateDaemon) {
  const Outcome outcome = Scantling({"plan", "-"}, {.input = Sample(kObjects)});
  ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, testing::StartsWith("Shot qy_0100 "));
  EXPECT_THAT(outcome.out, HasSubstr("NEEDS ANIMATING: "));
  EXPECT_THAT(outcome.out, HasSubstr("LOSS AND PROOF"));
  EXPECT_THAT(outcome.err, testing::StartsWith("scantling: started a private daemon for this command ("));
  EXPECT_EQ(std::count(outcome.err.begin(), outcome.err.end(), '\n'), 1) << outcome.err;
  EXPECT_THAT(outcome.out + outcome.err, Not(HasSubstr("\x1B")));  // no bar and no colour in a pipe
  EXPECT_THAT(Relatives(), IsEmpty());
  EXPECT_THAT(Leftovers(), IsEmpty());
}

TEST_F(Planning, AllFormatsTellTheSamePlan) {
  const std::string shot = Sample(kObjects);
  const v1::Plan plan = PlanOf(shot);
  ASSERT_EQ(plan.decisions_size(), kObjects);
  EXPECT_EQ(plan.totals().objects(), kObjects);
  const Outcome csv = Scantling({"plan", "-", "--format", "csv"}, {.input = shot});
  ASSERT_EQ(csv.exit_code, 0);
  EXPECT_THAT(csv.out, testing::StartsWith("object_id,class_name,"));
  EXPECT_EQ(std::count(csv.out.begin(), csv.out.end(), '\n'), 1 + kObjects);
  EXPECT_THAT(csv.out, HasSubstr("\r\n" + plan.decisions(0).object_id() + ","));
  const Outcome text = Scantling({"plan", "-"}, {.input = shot});
  EXPECT_THAT(text.out, HasSubstr("NEEDS ANIMATING: " + std::to_string(plan.totals().needs_animation()) + " of 300\n"));
}

TEST_F(Planning, FiltersShowAPartAndKeepTheTotals) {
  const std::string shot = Sample(kObjects);
  const v1::Plan whole = PlanOf(shot);
  const v1::Plan part = PlanOf(shot, {"--only", "needs-animation"});
  EXPECT_EQ(part.decisions_size(), whole.totals().needs_animation());
  EXPECT_EQ(part.totals().SerializeAsString(), whole.totals().SerializeAsString());
  for (const v1::Decision& decision : part.decisions()) EXPECT_TRUE(decision.needs_animation());
}

TEST_F(Planning, RowsBlocksAndTheLargeWayAnswerAlike) {
  // 100 objects are some 0.2 MB and go in one message; 4,000 are over 2 MiB in either form and go in parts.
  for (const int objects : {100, 4000}) {
    const v1::Plan rows = PlanOf(Sample(objects, {"--format", "binary"}));
    const v1::Plan blocks = PlanOf(Sample(objects, {"--blocks"}));
    EXPECT_EQ(rows.decisions_size(), objects);
    EXPECT_EQ(rows.totals().objects(), objects);
    EXPECT_EQ(rows.SerializeAsString(), blocks.SerializeAsString());
  }
}

TEST_F(Planning, DaemonOnTheDefaultSocketIsUsedWithoutAWord) {
  Program daemon({SCANTLINGD_PROGRAM, "--listen", "unix:" + Folder() + "/scantlingd.sock"}, {});
  for (int i = 0; i < 1000 && !std::filesystem::exists(Folder() + "/scantlingd.sock"); ++i) usleep(10'000);
  const std::string shot = Sample(50);
  const Outcome by_default = Scantling({"plan", "-"}, {.input = shot});
  EXPECT_EQ(by_default.exit_code, 0);
  EXPECT_THAT(by_default.err, IsEmpty());
  const Outcome by_address =
      Scantling({"plan", "-", "--address", "unix:" + Folder() + "/scantlingd.sock"}, {.input = shot});
  EXPECT_EQ(by_address.exit_code, 0);
  EXPECT_EQ(by_address.out, by_default.out);
}

TEST_F(Planning, BudgetIsKeptAndItsPriceTold) {
  const std::string shot = Sample(kObjects);
  const double unseen_hours = PlanOf(shot).totals().plan().anim_hours().mean();
  const std::string budget = std::to_string(unseen_hours * 0.8);
  const v1::Plan plan = PlanOf(shot, {"--anim-hours", budget});
  EXPECT_EQ(plan.mode(), "budget");
  EXPECT_LE(plan.totals().plan().anim_hours().mean(), unseen_hours * 0.8 * (1 + 1e-9));  // sums of rounded hours
  EXPECT_GT(plan.totals().price_anim_hour(), 0);
}

TEST_F(Planning, ExplainShowsTiersAndFrames) {
  const std::string shot = Sample(kObjects);
  const v1::Plan plan = PlanOf(shot, {"--sort", "height"});
  ASSERT_EQ(plan.decisions_size(), kObjects);
  const std::string id = plan.decisions(0).object_id();
  const Outcome outcome = Scantling({"explain", "-", id}, {.input = shot});
  ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, testing::StartsWith(id + ": "));
  for (const char* part : {"TIERS", "full rig", "omitted", "SEEN FROM quay_track", "* height   - floor"}) {
    EXPECT_THAT(outcome.out, HasSubstr(part));
  }
  v1::ExplainDecisionResponse answer;
  const Outcome json = Scantling({"explain", "-", id, "--format", "json"}, {.input = shot});
  ASSERT_TRUE(JsonStringToMessage(json.out, &answer).ok());
  EXPECT_EQ(answer.decision().tiers_size(), 4);
  EXPECT_EQ(answer.frames_size(), 48);
}

TEST_F(Planning, CheckOfASoundShotSaysSo) {
  const Outcome outcome = Scantling({"check", "-"}, {.input = Sample(kObjects)});
  EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_EQ(outcome.out, "no faults: 300 objects, 48 frames, 1 camera(s)\n");
}

}  // namespace
}  // namespace scantling::client
