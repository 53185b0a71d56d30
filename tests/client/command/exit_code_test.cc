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

using Figures = std::vector<std::pair<const char*, std::string>>;

const Figures kTwoBudgets = {{"least_anim_hours", "12.341"},
                             {"least_core_hours", "3"},
                             {"least_other_hours", "2"},
                             {"fitting_anim_hours", "14"},
                             {"fitting_core_hours", "7.5"}};

// With so many demands listed in the details.
absl::Status NoPlanFits(const Figures& figures = kTwoBudgets, int listed = 0) {
  google::rpc::ErrorInfo info;
  info.set_reason("NO_PLAN_FITS");
  for (const auto& [name, figure] : figures) info.mutable_metadata()->insert({name, figure});
  google::rpc::Status details;
  details.add_details()->PackFrom(info);
  google::rpc::PreconditionFailure failure;
  for (int i = 0; i < listed; ++i) {
    auto* violation = failure.add_violations();
    violation->set_subject(absl::StrCat("directives[", i, "]"));
    violation->set_description("object x at least PROXY\x1B[2J");
  }
  if (listed > 0) details.add_details()->PackFrom(failure);
  return StatusFromGrpc({grpc::StatusCode::FAILED_PRECONDITION, "no plan fits; and more", details.SerializeAsString()});
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
  // 12.341 upwards to hundredths. The third department was not limited: what it takes stands in nobody's way.
  EXPECT_EQ(FailureText(NoPlanFits()),
            "scantling: no plan fits\n"
            "Smallest budgets that would do:\n"
            "  alone, with the others unlimited:  --anim-hours 12.35\n"
            "  alone, with the others unlimited:  --core-hours 3.00\n"
            "  raised in proportion:              --anim-hours 14.00 --core-hours 7.50\n");
}

TEST(FailureText, OneBudgetThatDoesIsOneLine) {
  EXPECT_EQ(FailureText(NoPlanFits({{"least_anim_hours", "12"}, {"fitting_anim_hours", "12"}})),
            "scantling: no plan fits\nSmallest budget that would do: --anim-hours 12.00\n");
}

TEST(FailureText, EveryKindOfBudgetIsNamed) {
  EXPECT_THAT(FailureText(NoPlanFits({{"fitting_core_hours", "1"},
                                      {"fitting_other_hours", "2"},
                                      {"fitting_memory_mb", "4096"},
                                      {"fitting_anim_hours", "3"}})),
              HasSubstr(" --anim-hours 3.00 --core-hours 1.00 --other-hours 2.00 --memory-mb 4096.00\n"));
}

TEST(FailureText, WithoutATogetherEveryLeastIsTold) {
  EXPECT_EQ(FailureText(NoPlanFits({{"least_anim_hours", "12"}, {"least_core_hours", "0"}})),
            "scantling: no plan fits\nSmallest budgets that would do:\n"
            "  alone, with the others unlimited:  --anim-hours 12.00\n");
  EXPECT_EQ(FailureText(NoPlanFits({})), "scantling: no plan fits; and more\n");
}

TEST(FailureText, WhatStandsInTheWayIsListedAndTheRestCounted) {
  const std::string few = FailureText(NoPlanFits({{"in_the_way", "2"}, {"in_the_way_is_irreducible", "true"}}, 2));
  EXPECT_EQ(few,
            "scantling: no plan fits\n"
            "In the way, all of it together (without any one of these a plan fits):\n"
            "  directives[0]: object x at least PROXY\\x1b[2J\n"
            "  directives[1]: object x at least PROXY\\x1b[2J\n");
  const std::string many = FailureText(NoPlanFits({{"in_the_way", "120"}, {"in_the_way_is_irreducible", "false"}}, 30));
  EXPECT_THAT(many, HasSubstr("In the way (perhaps less of it would be enough):\n"));
  EXPECT_THAT(many, HasSubstr("  directives[9]: "));
  EXPECT_THAT(many, testing::Not(HasSubstr("  directives[10]: ")));
  EXPECT_THAT(many, HasSubstr("  and 110 more\n"));  // 120 - 10
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
