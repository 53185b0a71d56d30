#include "server/rpc/refusal.h"

#include <gtest/gtest.h>

#include <new>
#include <stdexcept>

#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/call.h"

namespace scantling {
namespace {

google::rpc::ErrorInfo InfoOf(const grpc::Status& status) {
  google::rpc::Status details;
  google::rpc::ErrorInfo info;
  EXPECT_TRUE(details.ParseFromString(status.error_details()));
  EXPECT_EQ(details.details_size(), 1);
  EXPECT_TRUE(details.details(0).UnpackTo(&info));
  return info;
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
