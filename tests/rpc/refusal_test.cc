#include "server/rpc/refusal.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <new>
#include <stdexcept>
#include <string>
#include <utility>

#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/call.h"
#include "server/rpc/convert.h"
#include "tests/rpc/trailer.h"

namespace scantling {
namespace {

using Kind = NoPlanFits::Demand::Kind;

google::rpc::ErrorInfo InfoOf(const grpc::Status& status, int details_size = 1) {
  google::rpc::Status details;
  google::rpc::ErrorInfo info;
  EXPECT_TRUE(details.ParseFromString(status.error_details()));
  EXPECT_EQ(details.details_size(), details_size);
  EXPECT_TRUE(details.details(0).UnpackTo(&info));
  return info;
}

google::rpc::PreconditionFailure FailureOf(const grpc::Status& status) {
  google::rpc::Status details;
  google::rpc::PreconditionFailure failure;
  EXPECT_TRUE(details.ParseFromString(status.error_details()));
  EXPECT_TRUE(details.details_size() == 2 && details.details(1).UnpackTo(&failure));
  return failure;
}

TEST(NoPlanFitsStatus, SentenceRoundsUpAndMetadataIsExact) {
  NoPlanFits no_plan;
  no_plan.least_anim_hours = 12.341;
  no_plan.least_core_hours = 4;
  no_plan.fitting_anim_hours = 0.1 + 0.2;  // 0.30000000000000004: seventeen digits
  no_plan.fitting_core_hours = 8;
  no_plan.factor_at_least = 1.25;
  const grpc::Status status = NoPlanFitsStatus(no_plan, {10.0, 5.5});
  EXPECT_EQ(status.error_code(), grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(status.error_message(),
            "no plan fits 10 animator-hours and 5.5 core-hours; what must be made takes at least 12.35 animator-hours "
            "and 4.00 core-hours, each on its own; a plan was found for 0.31 animator-hours and 8.00 core-hours");
  const google::rpc::ErrorInfo info = InfoOf(status);
  EXPECT_EQ(info.reason(), "NO_PLAN_FITS");
  EXPECT_EQ(info.domain(), "scantling.v1");
  EXPECT_EQ(info.metadata().at("least_anim_hours"), "12.341");
  EXPECT_EQ(info.metadata().at("least_core_hours"), "4");
  EXPECT_EQ(std::stod(info.metadata().at("fitting_anim_hours")), 0.1 + 0.2);
  EXPECT_EQ(info.metadata().at("fitting_core_hours"), "8");
  EXPECT_EQ(info.metadata().at("factor_at_least"), "1.25");
}

TEST(NoPlanFitsStatus, SpeaksOfTheBudgetGivenOnly) {
  const grpc::Status status = NoPlanFitsStatus({}, {10.0, std::nullopt});
  EXPECT_EQ(status.error_message(),
            "no plan fits 10 animator-hours; what must be made takes at least 0.00 animator-hours and 0.00 core-hours, "
            "each on its own");
  EXPECT_EQ(InfoOf(status).metadata().count("fitting_anim_hours"), 0u);
}

TEST(NoPlanFitsStatus, TellsOfEveryKindOfBudget) {
  NoPlanFits no_plan;
  no_plan.least_anim_hours = 1;
  no_plan.least_core_hours = 2;
  no_plan.least_other_hours = 3.25;
  no_plan.fitting_other_hours = 6.5;
  no_plan.fitting_memory_mb = 1024.125;
  Budgets asked;
  asked.other_hours = 2;
  asked.memory_mb = 512;
  const grpc::Status status = NoPlanFitsStatus(no_plan, asked);
  EXPECT_EQ(status.error_message(),
            "no plan fits 2 hours of the third department and 512 MB a frame; what must be made takes at least 1.00 "
            "animator-hours, 2.00 core-hours and 3.25 hours of the third department, each on its own; a plan was found "
            "for 6.50 hours of the third department and 1024.13 MB a frame");
  const auto metadata = InfoOf(status).metadata();
  EXPECT_EQ(metadata.at("least_other_hours"), "3.25");
  EXPECT_EQ(metadata.at("fitting_other_hours"), "6.5");
  EXPECT_EQ(metadata.at("fitting_memory_mb"), "1024.125");
  EXPECT_EQ(metadata.count("fitting_anim_hours"), 0u);
  EXPECT_EQ(metadata.at("in_the_way"), "0");
  EXPECT_EQ(metadata.at("in_the_way_is_irreducible"), "false");
}

TEST(NoPlanFitsStatus, NamesEveryKindOfDemandThatStandsInTheWay) {
  NoPlanFits no_plan;
  no_plan.in_the_way = {{Kind::kDirective, "directives[3]", "object ada at least PROXY"},
                        {Kind::kIndirectSight, "ada", "its shadow is seen"},
                        {Kind::kWorstOctaves, "ben", "no more than 3 octaves"},
                        {Kind::kKeepShare, "quay_crowd", "50 % stay"},
                        {Kind::kCoveredShare, "hill_crowd", "60 % of column 2, row 1"}};
  no_plan.in_the_way_is_irreducible = true;
  // Crowds alone may stand against a directive: then no budget was asked for.
  const grpc::Status status = NoPlanFitsStatus(no_plan, {});
  EXPECT_EQ(
      status.error_message(),
      "no plan fits; what must be made takes at least 0.00 animator-hours and 0.00 core-hours, each on its own; in "
      "the way stand directives[3] (object ada at least PROXY), quay_crowd (50 % stay), hill_crowd (60 % of column "
      "2, row 1) and 2 more");
  EXPECT_EQ(InfoOf(status, 2).metadata().at("in_the_way"), "5");
  EXPECT_EQ(InfoOf(status, 2).metadata().at("in_the_way_is_irreducible"), "true");
  const google::rpc::PreconditionFailure failure = FailureOf(status);
  ASSERT_EQ(failure.violations_size(), 5);
  // What somebody asked for, then what is asked of single objects.
  const std::pair<const char*, size_t> order[] = {
      {"DIRECTIVE", 0}, {"KEEP_SHARE", 3}, {"COVERED_SHARE", 4}, {"INDIRECT_SIGHT", 1}, {"WORST_OCTAVES", 2}};
  for (int i = 0; i < 5; ++i) {
    const auto& [type, at] = order[i];
    EXPECT_EQ(failure.violations(i).type(), type);
    EXPECT_EQ(failure.violations(i).subject(), no_plan.in_the_way[at].subject);
    EXPECT_EQ(failure.violations(i).description(), no_plan.in_the_way[at].description);
  }
}

TEST(NoPlanFitsStatus, OneDemandAloneStands) {
  NoPlanFits no_plan;
  no_plan.in_the_way = {{Kind::kDirective, "directives[0]", "object ada exactly FULL_RIG"}};
  EXPECT_THAT(NoPlanFitsStatus(no_plan, {}).error_message(),
              testing::HasSubstr("; in the way stands directives[0] (object ada exactly FULL_RIG)"));
}

TEST(NoPlanFitsStatus, AsManyDemandsAsATrailerHolds) {
  // U+732B: three bytes, nine on the wire.
  std::string other_letters;
  for (int i = 0; i < 1000; ++i) other_letters += "\xE7\x8C\xAB";
  for (const std::string& text : {std::string("short"), std::string(300, 'x'), std::string(4096, 'x'), other_letters}) {
    NoPlanFits no_plan;
    for (int i = 0; i < 20'000; ++i) no_plan.in_the_way.push_back({Kind::kWorstOctaves, text, text});
    const grpc::Status status = NoPlanFitsStatus(no_plan, {10.0, 5.5});
    EXPECT_LE(TrailerBytes(status), kClientTakes);
    EXPECT_EQ(InfoOf(status, 2).metadata().at("in_the_way"), "20000");
    EXPECT_THAT(status.error_message(), testing::HasSubstr("and 19997 more"));
    const google::rpc::PreconditionFailure failure = FailureOf(status);
    EXPECT_GE(failure.violations_size(), 1);
    // Not one more would have fitted: an entry takes at most 16 bytes besides its text, and the packed message 80.
    const google::rpc::PreconditionFailure::Violation& one = failure.violations(0);
    const size_t entry = one.type().size() + one.subject().size() + one.description().size() + 16;
    EXPECT_GT(status.error_details().size() + entry + 80 + 16 * static_cast<size_t>(failure.violations_size()),
              DetailRoom(status.error_message()));
  }
}

TEST(StreamOrder, CarriesItsReason) {
  const grpc::Status status = StreamOrder("got two, want one");
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(InfoOf(status).reason(), "STREAM_ORDER");
}

TEST(PlanRefused, OverflowIsALimit) {
  const grpc::Status status = PlanRefused(absl::InvalidArgumentError("totals overflow"), {}, {});
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(status.error_message(), "totals overflow");
  EXPECT_EQ(InfoOf(status).reason(), "LIMIT_EXCEEDED");
}

TEST(PlanRefused, StopsKeepTheirCode) {
  EXPECT_EQ(PlanRefused(absl::CancelledError("x"), {}, {}).error_code(), grpc::StatusCode::CANCELLED);
  EXPECT_EQ(PlanRefused(absl::DeadlineExceededError("x"), {}, {}).error_code(), grpc::StatusCode::DEADLINE_EXCEEDED);
}

TEST(Guarded, ExceptionsEndHere) {
  EXPECT_EQ(Guarded([]() -> grpc::Status { throw std::bad_alloc(); }).error_code(),
            grpc::StatusCode::RESOURCE_EXHAUSTED);
  const grpc::Status status = Guarded([]() -> grpc::Status { throw std::runtime_error("why"); });
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INTERNAL);
  EXPECT_EQ(status.error_message(), "why");
  EXPECT_TRUE(Guarded([] { return grpc::Status::OK; }).ok());
}

}  // namespace
}  // namespace scantling
