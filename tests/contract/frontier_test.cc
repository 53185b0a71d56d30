// A frontier over the wire: points in order, each proved, the knee by its stated rule, ended when its caller ends it.
//
// Where a test needs the call to be still under way when it is cancelled or drained, it reads through a client that
// takes 64 KiB unread: 1,024 points are more than that, so the daemon cannot have ended the call however fast it is.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <csignal>
#include <optional>

#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"
#include "tests/contract/wait_until.h"

namespace scantling::testing {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using ::testing::HasSubstr;
using Request = v1::TraceFrontierRequest;

Request Sweep(const v1::Shot& shot, int points, Request::Along along = Request::ANIM_HOURS) {
  Request request;
  *request.mutable_shot() = shot;
  request.set_points(points);
  request.set_along(along);
  return request;
}

void ExpectWhole(const Traced& traced, int points) {
  ASSERT_TRUE(traced.status.ok()) << traced.status.error_message();
  ASSERT_EQ(traced.points.size(), static_cast<size_t>(points));
  for (int i = 0; i < points; ++i) EXPECT_EQ(traced.points[static_cast<size_t>(i)].index(), i);
  EXPECT_EQ(traced.summaries, 1);
  EXPECT_EQ(traced.messages_after_summary, 0);
  EXPECT_EQ(traced.progress_after_points, 0);
  EXPECT_EQ(traced.summary.points(), points);
}

// A plan of a tighter point keeps within a looser one's limits, so no looser point's bound may be above its loss.
// Figures are integers of the daemon's times a constant: they compare as those do.
void ExpectProved(const std::vector<v1::FrontierPoint>& points) {
  for (size_t i = 0; i < points.size(); ++i) {
    if (!points[i].fits()) continue;
    EXPECT_LE(points[i].loss_bound(), points[i].loss()) << i;
    for (size_t j = i + 1; j < points.size(); ++j) {
      if (points[j].fits()) {
        EXPECT_LE(points[i].loss_bound(), points[j].loss()) << i << " against the tighter " << j;
      }
    }
  }
}

// The rule of v1.FrontierSummary.knee: of neighbouring points that fit, the looser one of the two between which
// price_per_step drops most as the budget grows.
std::optional<int> KneeByTheRule(const std::vector<v1::FrontierPoint>& points) {
  std::optional<int> knee;
  double largest = 0;
  for (size_t i = 0; i + 1 < points.size(); ++i) {
    if (!points[i].fits() || !points[i + 1].fits()) continue;
    const double drop = points[i + 1].price_per_step() - points[i].price_per_step();
    if (drop <= largest) continue;
    largest = drop;
    knee = points[i].index();
  }
  return knee;
}

std::string BytesOf(Traced traced) {
  std::string bytes;
  for (const v1::FrontierPoint& point : traced.points) bytes += point.SerializeAsString();
  traced.summary.clear_stage_times();  // measured
  return bytes + traced.summary.SerializeAsString();
}

class FrontierCalls : public ::testing::Test {
 protected:
  static void SetUpTestSuite() { daemon_ = new DaemonProcess({"--listen", "127.0.0.1:0", "--threads", "2"}); }
  static void TearDownTestSuite() {
    delete daemon_;
    daemon_ = nullptr;
  }
  static DaemonProcess* daemon_;
};
DaemonProcess* FrontierCalls::daemon_ = nullptr;

TEST_F(FrontierCalls, PointsComeFromTheLoosestOnAndAreProved) {
  const Traced traced = TraceOver(*daemon_, Sweep(Crowd(200, 4), 16));
  ExpectWhole(traced, 16);
  ExpectProved(traced.points);
  for (size_t i = 0; i < traced.points.size(); ++i) {
    const v1::FrontierPoint& point = traced.points[i];
    EXPECT_TRUE(point.fits()) << i;
    EXPECT_TRUE(point.has_anim_hours() && !point.has_core_hours() && !point.has_other_hours()) << i;
    EXPECT_LE(point.used_anim_hours(), point.anim_hours()) << i;
    EXPECT_EQ(point.full_rig() + point.proxy() + point.colour_patch() + point.omitted(), 200) << i;
    if (i > 0) {
      EXPECT_LT(point.anim_hours(), traced.points[i - 1].anim_hours()) << i;
    }
  }
  EXPECT_EQ(traced.points.front().loss(), 0);
  EXPECT_GT(traced.points.back().loss(), 0);
  EXPECT_EQ(traced.summary.shot_id(), "qy_010");
  EXPECT_EQ(traced.summary.style(), "ink");
  EXPECT_EQ(traced.summary.along(), Request::ANIM_HOURS);
  EXPECT_THAT(traced.summary.estimate_note(), HasSubstr("estimates"));
}

TEST_F(FrontierCalls, KneeIsWhereThePriceOfAStepDropsMost) {
  const Traced traced = TraceOver(*daemon_, Sweep(Crowd(200, 4), 16));
  ASSERT_TRUE(traced.status.ok()) << traced.status.error_message();
  EXPECT_EQ(traced.points[0].price_per_step(), 0);
  for (size_t i = 1; i < traced.points.size(); ++i) {
    const v1::FrontierPoint& point = traced.points[i];
    const double step = traced.points[i - 1].anim_hours() - point.anim_hours();
    // One product of the figures sent: the same to the last bits.
    EXPECT_NEAR(point.price_per_step(), point.price_anim_hour() * step, 1e-12 * point.price_per_step()) << i;
  }
  const std::optional<int> knee = KneeByTheRule(traced.points);
  ASSERT_TRUE(knee.has_value());
  ASSERT_TRUE(traced.summary.has_knee());
  EXPECT_EQ(traced.summary.knee(), *knee);
}

// Two proofs of one budget: each plan's loss is at or above the other's bound.
TEST_F(FrontierCalls, PlanAtAPointsBudgetAgreesWithThePoint) {
  const v1::Shot crowd = Crowd(200, 4);
  const Traced traced = TraceOver(*daemon_, Sweep(crowd, 8));
  ASSERT_TRUE(traced.status.ok()) << traced.status.error_message();
  for (const size_t at : {2u, 5u, 7u}) {
    v1::PlanOptions options;
    options.set_anim_hours(traced.points[at].anim_hours());
    const Answer answer = PlanOver(*daemon_, crowd, options);
    ASSERT_TRUE(answer.status.ok()) << answer.status.error_message();
    EXPECT_LE(answer.plan().totals().loss_bound(), traced.points[at].loss()) << at;
    EXPECT_LE(traced.points[at].loss_bound(), answer.plan().totals().loss()) << at;
  }
}

TEST_F(FrontierCalls, NothingIsLostFromTheStatedBudgetOnAndSomethingBelow) {
  const v1::Shot crowd = Crowd(200, 4);
  const Traced traced = TraceOver(*daemon_, Sweep(crowd, 4));
  ASSERT_TRUE(traced.status.ok()) << traced.status.error_message();
  ASSERT_TRUE(traced.summary.has_nothing_lost_anim_hours());
  const double least = traced.summary.nothing_lost_anim_hours();
  EXPECT_EQ(traced.points[0].anim_hours(), least);
  v1::PlanOptions options;
  options.set_anim_hours(least);
  EXPECT_EQ(PlanOver(*daemon_, crowd, options).plan().totals().loss(), 0);
  options.set_anim_hours(least * 0.99);  // less than one person's full rig: some tier must fall
  const Answer below = PlanOver(*daemon_, crowd, options);
  ASSERT_TRUE(below.status.ok()) << below.status.error_message();
  EXPECT_GT(below.plan().totals().loss_bound(), 0);
}

TEST_F(FrontierCalls, EveryKindOfSweepSetsItsOwnLimits) {
  const std::pair<Request::Along, std::array<bool, 3>> all[] = {{Request::ALONG_UNSPECIFIED, {true, false, false}},
                                                                {Request::CORE_HOURS, {false, true, false}},
                                                                {Request::OTHER_HOURS, {false, false, true}},
                                                                {Request::BOTH, {true, true, false}}};
  for (const auto& [along, swept] : all) {
    // The ferry needs the third department too.
    const Traced traced = TraceOver(*daemon_, Sweep(TinyShot(), 5, along));
    ExpectWhole(traced, 5);
    ExpectProved(traced.points);
    for (const v1::FrontierPoint& point : traced.points) {
      EXPECT_EQ((std::array<bool, 3>{point.has_anim_hours(), point.has_core_hours(), point.has_other_hours()}), swept);
    }
    EXPECT_EQ(traced.summary.has_nothing_lost_anim_hours(), swept[0]);
    EXPECT_EQ(traced.summary.has_nothing_lost_core_hours(), swept[1]);
    EXPECT_EQ(traced.summary.has_nothing_lost_other_hours(), swept[2]);
    EXPECT_EQ(traced.summary.along(), along == Request::ALONG_UNSPECIFIED ? Request::ANIM_HOURS : along);
    EXPECT_EQ(traced.summary.other_department(), "effects");
  }
}

TEST_F(FrontierCalls, LimitThatIsNotSweptStays) {
  const v1::Shot crowd = Crowd(100, 4);
  // Of what the objects take: the totals hold what a frame costs whatever is in it, too.
  const Answer unseen = PlanOver(*daemon_, crowd);
  double core = 0;
  for (const v1::Decision& decision : unseen.plan().decisions()) core += 0.8 * decision.core_hours();
  Request request = Sweep(crowd, 5);
  request.mutable_options()->set_core_hours(core);
  const Traced traced = TraceOver(*daemon_, request);
  ExpectWhole(traced, 5);
  for (const v1::FrontierPoint& point : traced.points) {
    EXPECT_EQ(point.core_hours(), core);
    EXPECT_LE(point.used_core_hours(), core);
  }
  // Four fifths of the core-hours lose something whatever the animators may spend.
  EXPECT_GT(traced.points[0].loss(), 0);
  EXPECT_FALSE(traced.summary.has_nothing_lost_anim_hours());
}

TEST_F(FrontierCalls, EndsOfTheSweepAreTheCallers) {
  Request request = Sweep(Crowd(60, 4), 5);
  request.set_most_hours(100);
  request.set_least_hours(60);
  const Traced traced = TraceOver(*daemon_, request);
  ExpectWhole(traced, 5);
  // Evenly from 100 down to 60, to a quantum of 1e-6 hours.
  for (size_t i = 0; i < 5; ++i) {
    EXPECT_NEAR(traced.points[i].anim_hours(), 100 - 10.0 * static_cast<double>(i), 1e-6);
  }
}

TEST_F(FrontierCalls, PointsAtWhichNothingFitsAreToldAsSuch) {
  v1::Shot shot = TinyShot();
  v1::Directive& directive = *shot.add_directives();
  directive.set_object_id("lamplighter");
  directive.set_bound(v1::Directive::EXACTLY);
  directive.set_tier(v1::FULL_RIG);
  Request request = Sweep(shot, 5);
  request.set_least_hours(0);
  const Traced traced = TraceOver(*daemon_, request);
  ExpectWhole(traced, 5);
  EXPECT_TRUE(traced.points[0].fits());
  EXPECT_FALSE(traced.points[4].fits());  // nothing is made for nothing
  EXPECT_EQ(traced.points[4].anim_hours(), 0);
  for (size_t i = 1; i < 5; ++i) {
    if (traced.points[i].fits()) {
      EXPECT_TRUE(traced.points[i - 1].fits()) << "what fits a tighter budget fits a looser one";
    } else {
      EXPECT_EQ(traced.points[i].full_rig() + traced.points[i].omitted(), 0);
    }
  }
}

TEST_F(FrontierCalls, SameBytesAgainAndOnOneThread) {
  Request request = Sweep(Crowd(150, 4), 6, Request::BOTH);
  request.mutable_options()->set_alike(true);
  for (auto& object : *request.mutable_shot()->mutable_objects()) object.set_asset_id("villager");
  const Traced first = TraceOver(*daemon_, request);
  ExpectWhole(first, 6);
  EXPECT_EQ(BytesOf(TraceOver(*daemon_, request)), BytesOf(first));
  DaemonProcess single({"--listen", "127.0.0.1:0", "--threads", "1"});
  EXPECT_EQ(BytesOf(TraceOver(single, request)), BytesOf(first));
}

TEST_F(FrontierCalls, EmptyShotHasAFrontierOfNothing) {
  const Traced traced = TraceOver(*daemon_, Sweep(EmptyStage(), 3));
  ExpectWhole(traced, 3);
  for (const v1::FrontierPoint& point : traced.points) EXPECT_EQ(point.loss(), 0);
  EXPECT_FALSE(traced.summary.has_knee());
}

TEST_F(FrontierCalls, FaultsOfShotOptionsAndSweepComeTogether) {
  Request request = Sweep(TinyShot(), 1, Request::BOTH);
  request.mutable_shot()->mutable_objects(0)->set_class_name("no_such_class");
  request.mutable_options()->set_memory_mb(-1);
  request.set_most_hours(3);
  const Refused refused = RefusalOf(TraceOver(*daemon_, request).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
  EXPECT_EQ(refused.faults.size(), 4u);
  EXPECT_EQ(refused.faults.at("options.memory_mb"), "got -1, want a number from 0 to 1e+12");
  EXPECT_EQ(refused.faults.at("points"), "got 1, want 2 to 1024, or 0 for 32");
  EXPECT_EQ(refused.faults.at("most_hours"), "got 3, want none: BOTH sweeps two budgets");
}

TEST_F(FrontierCalls, SweepTheWrongWayRoundIsRefused) {
  Request request = Sweep(TinyShot(), 0);
  request.set_most_hours(3);
  request.set_least_hours(5);
  const Traced traced = TraceOver(*daemon_, request);
  const Refused refused = RefusalOf(traced.status);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "OPTIONS_INVALID");
  EXPECT_EQ(refused.faults,
            (std::map<std::string, std::string>{{"most_hours", "got 3, want more than least_hours, 5"}}));
  EXPECT_TRUE(traced.points.empty());
}

// One end is given and lies beyond where the other one comes to be.
TEST_F(FrontierCalls, EndBeyondTheOneThatIsNotGivenIsRefused) {
  Request request = Sweep(TinyShot(), 4);
  request.set_least_hours(1e6);
  const Refused refused = RefusalOf(TraceOver(*daemon_, request).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "OPTIONS_INVALID");
  EXPECT_EQ(refused.faults.size(), 1u);
  EXPECT_TRUE(refused.faults.contains("least_hours"));
}

TEST_F(FrontierCalls, MissingShotIsRefusedNotCrashedOn) {
  const Refused refused = RefusalOf(TraceOver(*daemon_, Request()).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(refused.reason, "SHOT_INVALID");
}

TEST_F(FrontierCalls, CrowdThatMustStayAndMustGoLeavesNoPlanAtAnyBudget) {
  v1::Shot shot = TinyShot();
  v1::Directive& directive = *shot.add_directives();
  directive.set_class_name("person");
  directive.set_bound(v1::Directive::EXACTLY);
  directive.set_tier(v1::OMITTED);
  v1::Crowd& crowd = *shot.add_crowds();
  crowd.set_name("quay_crowd");
  crowd.add_class_names("person");
  crowd.set_keep_share(1);
  const Refused refused = RefusalOf(TraceOver(*daemon_, Sweep(shot, 3)).status);
  EXPECT_EQ(refused.code, grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(refused.reason, "NO_PLAN_FITS");
}

// A daemon of the test's own, whose log holds no calls but the test's.
class EndingFrontiers : public ::testing::Test {
 protected:
  DaemonProcess daemon_{{"--listen", "127.0.0.1:0", "--threads", "2"}};

  bool Logged(const std::string& words) {
    return WaitUntil(seconds(30), [&] { return daemon_.Log().find(words) != std::string::npos; });
  }
};

// Four thousand frames of a crowd that stands still: the measuring alone takes seconds.
v1::Shot LongShot() {
  v1::Shot shot = Crowd(20'000, 1);
  shot.mutable_frames()->set_last(1000 + 4000);
  for (auto& object : *shot.mutable_objects()) *object.mutable_transform() = shot.objects(0).transform();
  return shot;
}

TEST_F(EndingFrontiers, LogHasItsLine) {
  ASSERT_TRUE(TraceOver(daemon_, Sweep(TinyShot(), 3)).status.ok());
  EXPECT_TRUE(Logged("call method=TraceFrontier status=OK shot=qy_010 objects=5 frames=24")) << daemon_.Log();
  EXPECT_TRUE(Logged("solving_ms=")) << daemon_.Log();
}

TEST_F(EndingFrontiers, CancelInMidStreamEndsTheCall) {
  const auto planner = v1::ShotPlanner::NewStub(daemon_.NarrowChannel());
  grpc::ClientContext context;
  const auto stream = planner->TraceFrontier(&context, Sweep(TinyShot(), 1024));
  v1::TraceFrontierResponse answer;
  while (stream->Read(&answer) && !answer.has_point()) continue;
  ASSERT_EQ(answer.point().index(), 0);
  context.TryCancel();
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::CANCELLED);
  EXPECT_TRUE(Logged("call method=TraceFrontier status=CANCELLED")) << daemon_.Log();
}

TEST_F(EndingFrontiers, CancelOfPointsThatWaitForTheirReaderEndsTheCall) {
  const auto planner = v1::ShotPlanner::NewStub(daemon_.NarrowChannel());
  grpc::ClientContext context;
  const auto stream = planner->TraceFrontier(&context, Sweep(TinyShot(), 1024));
  v1::TraceFrontierResponse answer;
  ASSERT_TRUE(stream->Read(&answer));
  std::this_thread::sleep_for(milliseconds(300));  // all points are found by now; if not, the cancel only comes early
  context.TryCancel();
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::CANCELLED);
  EXPECT_TRUE(Logged("call method=TraceFrontier status=CANCELLED")) << daemon_.Log();
}

TEST_F(EndingFrontiers, DeadlineEndsTheCall) {
  const auto planner = daemon_.Planner();
  grpc::ClientContext context;
  const Request request = Sweep(LongShot(), 1024);
  context.set_deadline(std::chrono::system_clock::now() + milliseconds(1000));
  Traced traced;
  ReadOn(*planner->TraceFrontier(&context, request), traced);
  EXPECT_EQ(traced.status.error_code(), grpc::StatusCode::DEADLINE_EXCEEDED);
  EXPECT_EQ(traced.summaries, 0);
  EXPECT_TRUE(Logged("call method=TraceFrontier status=DEADLINE_EXCEEDED")) << daemon_.Log();
}

TEST_F(EndingFrontiers, SlowReaderGetsEveryPoint) {
  const auto planner = v1::ShotPlanner::NewStub(daemon_.NarrowChannel());
  grpc::ClientContext context;
  const auto stream = planner->TraceFrontier(&context, Sweep(TinyShot(), 1024));
  std::this_thread::sleep_for(milliseconds(300));
  EXPECT_EQ(daemon_.Log().find("call method="), std::string::npos) << "ended before its answer was taken";
  Traced traced;
  ReadOn(*stream, traced);
  ExpectWhole(traced, 1024);
}

TEST_F(EndingFrontiers, DrainLetsARunningFrontierFinish) {
  const auto planner = v1::ShotPlanner::NewStub(daemon_.NarrowChannel());
  grpc::ClientContext context;
  const auto stream = planner->TraceFrontier(&context, Sweep(TinyShot(), 1024));
  v1::TraceFrontierResponse answer;
  while (stream->Read(&answer) && !answer.has_point()) continue;
  daemon_.Signal(SIGTERM);
  ASSERT_TRUE(Logged("draining"));
  Traced traced;
  ReadOn(*stream, traced);
  EXPECT_TRUE(traced.status.ok()) << traced.status.error_message();
  EXPECT_EQ(traced.points.size(), 1023u);  // and the one read before
  EXPECT_EQ(traced.summaries, 1);
  EXPECT_EQ(daemon_.WaitForEnd(), 0);
}

}  // namespace
}  // namespace scantling::testing
