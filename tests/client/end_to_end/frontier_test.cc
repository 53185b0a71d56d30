// Frontiers end to end: the same sweep in every form, its ends, what stays, and what is refused.

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>

#include <sstream>

#include "absl/strings/str_cat.h"
#include "scantling/v1/shot_planner.pb.h"
#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using google::protobuf::util::JsonStringToMessage;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

constexpr int kObjects = 300;

struct Swept {
  std::vector<v1::FrontierPoint> points;
  v1::FrontierSummary summary;
};

class Frontier : public EndToEnd {
 protected:
  Outcome Trace(const std::string& shot, std::vector<std::string> further) const {
    further.insert(further.begin(), {"frontier", "-"});
    return Scantling(further, {.input = shot});
  }

  // A frontier as JSON lines, read back. Every line is one message, the summary the last.
  Swept SweptOf(const std::string& shot, std::vector<std::string> further) const {
    further.insert(further.end(), {"--format", "json"});
    const Outcome outcome = Trace(shot, further);
    EXPECT_EQ(outcome.exit_code, 0) << outcome.err;
    Swept swept;
    bool ended = false;
    std::istringstream lines(outcome.out);
    for (std::string line; std::getline(lines, line);) {
      v1::TraceFrontierResponse part;
      EXPECT_TRUE(JsonStringToMessage(line, &part).ok()) << line;
      EXPECT_FALSE(ended) << line;
      if (part.has_point()) swept.points.push_back(part.point());
      if (part.has_summary()) swept.summary = part.summary();
      ended = part.has_summary();
    }
    EXPECT_TRUE(ended);
    return swept;
  }
};

TEST_F(Frontier, TextTellsTableChartKneeAndEnd) {
  const Outcome outcome = Trace(Sample(kObjects), {"--points", "8"});
  ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, testing::StartsWith("Shot qy_0100   style "));
  EXPECT_THAT(outcome.out, HasSubstr("\n8 budgets, from "));
  for (const char* part : {"o plan   @ knee", "Knee at ", "Nothing visible is lost any more from ", "nobody's job"}) {
    EXPECT_THAT(outcome.out, HasSubstr(part));
  }
  EXPECT_THAT(outcome.out, testing::ContainsRegex("animator-hours +used +loss +gap +price"));
  EXPECT_EQ(std::count(outcome.err.begin(), outcome.err.end(), '\n'), 1) << outcome.err;  // of the private daemon
  EXPECT_THAT(outcome.out + outcome.err, Not(HasSubstr("\x1B")));
  EXPECT_THAT(Relatives(), IsEmpty());
  EXPECT_THAT(Leftovers(), IsEmpty());
}

TEST_F(Frontier, TableAndLinesTellTheSamePoints) {
  const std::string shot = Sample(kObjects);
  const Swept swept = SweptOf(shot, {"--points", "6"});
  ASSERT_EQ(swept.points.size(), 6u);
  EXPECT_EQ(swept.summary.points(), 6);
  const Outcome csv = Trace(shot, {"--points", "6", "--format", "csv"});
  ASSERT_EQ(csv.exit_code, 0) << csv.err;
  std::istringstream lines(csv.out);
  std::string line;
  std::getline(lines, line);
  EXPECT_THAT(line, testing::StartsWith("index,most_anim_hours,"));
  for (int i = 0; i < 6; ++i) {
    ASSERT_TRUE(std::getline(lines, line));
    EXPECT_THAT(line, testing::StartsWith(absl::StrCat(i, ",")));
    EXPECT_THAT(line, HasSubstr(absl::StrCat(",", swept.points[i].needs_animation(), "\r")));
  }
  EXPECT_FALSE(std::getline(lines, line));
  EXPECT_THAT(csv.err, HasSubstr("Nothing visible is lost any more from "));  // the table has no place for it
}

TEST_F(Frontier, LessBudgetNeverLosesLessThanWhatIsProvedForMore) {
  const Swept swept = SweptOf(Sample(kObjects), {"--points", "12"});
  ASSERT_EQ(swept.points.size(), 12u);
  for (size_t i = 0; i + 1 < swept.points.size(); ++i) {
    const v1::FrontierPoint &looser = swept.points[i], &tighter = swept.points[i + 1];
    ASSERT_TRUE(looser.fits() && tighter.fits());
    EXPECT_GT(looser.anim_hours(), tighter.anim_hours());
    EXPECT_LE(looser.loss_bound(), tighter.loss()) << i;
    EXPECT_LE(looser.used_anim_hours(), looser.anim_hours() * (1 + 1e-9)) << i;  // sums of rounded hours
  }
}

TEST_F(Frontier, NothingIsLostAtTheBudgetThatIsToldForIt) {
  const std::string shot = Sample(kObjects);
  const Swept swept = SweptOf(shot, {"--points", "4"});
  ASSERT_TRUE(swept.summary.has_nothing_lost_anim_hours());
  // Rounded up to a millionth of an hour, the quantum of hours.
  const std::string hours = std::to_string(swept.summary.nothing_lost_anim_hours() + 1e-6);
  const Outcome plan = Scantling({"plan", "-", "--anim-hours", hours}, {.input = shot});
  ASSERT_EQ(plan.exit_code, 0) << plan.err;
  EXPECT_THAT(plan.out, HasSubstr("No visible loss"));
}

TEST_F(Frontier, OwnEndsAndLimitsThatStayAreKept) {
  const std::string shot = Sample(kObjects);
  const Swept loose = SweptOf(shot, {"--along", "core-hours", "--points", "3"});
  ASSERT_EQ(loose.points.size(), 3u);
  const double most = loose.points[0].core_hours(), hours = loose.points[0].used_anim_hours() * 0.8;
  const Swept swept = SweptOf(shot, {"--along", "core-hours", "--points", "3", "--most", std::to_string(most),
                                     "--least", std::to_string(most / 2), "--anim-hours", std::to_string(hours)});
  ASSERT_EQ(swept.points.size(), 3u);
  EXPECT_NEAR(swept.points[0].core_hours(), most, 1e-5);  // printed to six places
  EXPECT_NEAR(swept.points[2].core_hours(), most / 2, 1e-5);
  for (const v1::FrontierPoint& point : swept.points) {
    EXPECT_NEAR(point.anim_hours(), hours, 1e-5);
    EXPECT_LE(point.used_anim_hours(), hours + 1e-5);
  }
}

TEST_F(Frontier, BothSweepsBothAndTellsBoth) {
  const Outcome outcome = Trace(Sample(kObjects), {"--along", "both", "--points", "4", "--alike"});
  ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, testing::ContainsRegex("animator-hours +used +core-hours +used +loss"));
  EXPECT_THAT(outcome.out, testing::ContainsRegex("from [^ ]+ animator-hours and [^ ]+ core-hours down to"));
}

TEST_F(Frontier, NoPointThatFitsEndsAsNoPlan) {
  const Outcome outcome = Trace(Sample(kObjects), {"--most", "0.002", "--least", "0.001", "--points", "2"});
  EXPECT_EQ(outcome.exit_code, 4) << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("no plan fits"));
  EXPECT_THAT(outcome.err, HasSubstr("scantling: no plan fits at any of the 2 budgets\n"));
}

TEST_F(Frontier, WhatCannotStandTogetherIsWrongUsage) {
  const std::vector<std::vector<std::string>> wrong = {{"--anim-hours", "5"},
                                                       {"--along", "core-hours", "--core-hours", "5"},
                                                       {"--along", "other-hours", "--other-hours", "5"},
                                                       {"--along", "both", "--core-hours", "5"},
                                                       {"--along", "both", "--most", "5"},
                                                       {"--most", "5", "--least", "5"},
                                                       {"--points", "1"},
                                                       {"--points", "1025"},
                                                       {"--most", "nan"},
                                                       {"--along", "memory-mb"},
                                                       {"--earlier", "plan.json"}};
  for (const auto& arguments : wrong) {
    const Outcome outcome = Trace("", arguments);
    EXPECT_EQ(outcome.exit_code, 2) << testing::PrintToString(arguments);
    EXPECT_THAT(outcome.out, IsEmpty()) << testing::PrintToString(arguments);
    EXPECT_THAT(outcome.err, testing::StartsWith("scantling: ")) << testing::PrintToString(arguments);
  }
}

TEST_F(Frontier, ShotWithFaultsIsBadInputWithAllOfThem) {
  const Outcome outcome = Trace(R"({"shot_id":"x","frames":{"first":2,"last":1}})", {});
  EXPECT_EQ(outcome.exit_code, 3);
  EXPECT_THAT(outcome.out, IsEmpty());
  for (const char* field : {"frames", "rate", "cameras"}) EXPECT_THAT(outcome.err, HasSubstr(field));
}

TEST_F(Frontier, BarIsDrawnOnATerminalOnlyAndNeverIntoTheRows) {
  const std::string shot = Sample(kObjects);
  const std::vector<std::string> arguments = {"frontier", "-", "--points", "4", "--format", "csv"};
  const Outcome seen = Scantling(arguments, {.input = shot, .terminal_for_err = true});
  const Outcome piped = Scantling(arguments, {.input = shot});
  EXPECT_EQ(seen.exit_code, 0) << seen.err;
  EXPECT_THAT(seen.err, HasSubstr("% "));
  EXPECT_THAT(seen.err, HasSubstr("\r\x1B[K"));
  EXPECT_THAT(piped.err, Not(HasSubstr("\r")));
  EXPECT_EQ(seen.out, piped.out);
}

}  // namespace
}  // namespace scantling::client
