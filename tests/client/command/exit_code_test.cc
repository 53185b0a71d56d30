// How refusals end, and what they say.

#include "client/command/exit_code.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "client/library/faults.h"
#include "google/rpc/status.pb.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;

absl::Status NoPlanFits() {
  google::rpc::ErrorInfo info;
  info.set_reason("NO_PLAN_FITS");
  for (const auto& [name, hours] : {std::pair("least_anim_hours", 12.341),
                                    {"least_core_hours", 3.0},
                                    {"fitting_anim_hours", 14.0},
                                    {"fitting_core_hours", 7.5}}) {
    info.mutable_metadata()->insert({name, absl::StrCat(hours)});
  }
  google::rpc::Status details;
  details.add_details()->PackFrom(info);
  return StatusFromGrpc({grpc::StatusCode::FAILED_PRECONDITION, "no plan fits", details.SerializeAsString()});
}

TEST(ExitCodeOf, EveryStatusHasItsCode) {
  EXPECT_EQ(ExitCodeOf(absl::OkStatus()), ExitCode::kDone);
  EXPECT_EQ(ExitCodeOf(absl::InvalidArgumentError("")), ExitCode::kBadInput);
  EXPECT_EQ(ExitCodeOf(absl::NotFoundError("")), ExitCode::kBadInput);
  EXPECT_EQ(ExitCodeOf(absl::PermissionDeniedError("")), ExitCode::kBadInput);
  EXPECT_EQ(ExitCodeOf(absl::ResourceExhaustedError("")), ExitCode::kBadInput);
  EXPECT_EQ(ExitCodeOf(absl::FailedPreconditionError("")), ExitCode::kBadInput);
  EXPECT_EQ(ExitCodeOf(NoPlanFits()), ExitCode::kNoPlanFits);
  EXPECT_EQ(ExitCodeOf(absl::UnavailableError("")), ExitCode::kUnreachable);
  EXPECT_EQ(ExitCodeOf(absl::DeadlineExceededError("")), ExitCode::kUnreachable);
  EXPECT_EQ(ExitCodeOf(absl::UnimplementedError("")), ExitCode::kUnreachable);
  EXPECT_EQ(ExitCodeOf(absl::InternalError("")), ExitCode::kFault);
}

TEST(FailureText, NoPlanFitsNamesTheSmallestBudgetsRoundedUp) {
  const std::string text = FailureText(NoPlanFits());
  EXPECT_THAT(text, HasSubstr("scantling: no plan fits\nSmallest budgets that would do:\n"));
  EXPECT_THAT(text, HasSubstr("--anim-hours 12.35\n"));  // 12.341 upwards to hundredths
  EXPECT_THAT(text, HasSubstr("--core-hours 3.00\n"));
  EXPECT_THAT(text, HasSubstr("--anim-hours 14.00 --core-hours 7.50\n"));
}

TEST(FailureText, ListsEveryFaultOnItsLine) {
  google::rpc::BadRequest faults;
  for (const char* field : {"frames", "objects[1].box"}) {
    auto* fault = faults.add_field_violations();
    fault->set_field(field);
    fault->set_description("got none, want some\x1B[2J");
  }
  EXPECT_EQ(FailureText(WithFaults(absl::InvalidArgumentError("2 faults"), faults)),
            "scantling: 2 faults\n"
            "  frames: got none, want some\\x1b[2J\n"
            "  objects[1].box: got none, want some\\x1b[2J\n");
}

TEST(FailureText, FaultsThatDidNotFitAreCounted) {
  google::rpc::ErrorInfo info;
  info.mutable_metadata()->insert({"violations", "120"});
  info.mutable_metadata()->insert({"listed", "50"});
  google::rpc::Status details;
  details.add_details()->PackFrom(info);
  const absl::Status status =
      StatusFromGrpc({grpc::StatusCode::INVALID_ARGUMENT, "120 faults", details.SerializeAsString()});
  EXPECT_EQ(FailureText(status), "scantling: 120 faults\n  and 70 more; scantling check lists them\n");
}

TEST(FailureText, KeepsTheLinesOfAMessage) {
  EXPECT_EQ(FailureText(absl::InvalidArgumentError("one\ntwo\t")), "scantling: one\ntwo\\x09\n");
}

}  // namespace
}  // namespace scantling::client
