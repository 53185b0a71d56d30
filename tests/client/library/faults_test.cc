// Rich errors survive the way from gRPC to absl::Status.

#include "client/library/faults.h"

#include <gtest/gtest.h>

#include "google/rpc/status.pb.h"

namespace scantling::client {
namespace {

grpc::Status RichStatus() {
  google::rpc::BadRequest faults;
  faults.add_field_violations()->set_field("objects[3].box");
  faults.mutable_field_violations(0)->set_description("got none, want a box");
  google::rpc::ErrorInfo info;
  info.set_reason("SHOT_INVALID");
  (*info.mutable_metadata())["least_anim_hours"] = "12.5";
  google::rpc::Status details;
  details.add_details()->PackFrom(faults);
  details.add_details()->PackFrom(info);
  return {grpc::StatusCode::INVALID_ARGUMENT, "1 fault", details.SerializeAsString()};
}

TEST(StatusFromGrpc, KeepsCodeMessageAndDetails) {
  const absl::Status status = StatusFromGrpc(RichStatus());
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(status.message(), "1 fault");
  const google::rpc::BadRequest faults = FaultsOf(status);
  ASSERT_EQ(faults.field_violations_size(), 1);
  EXPECT_EQ(faults.field_violations(0).field(), "objects[3].box");
  ASSERT_TRUE(ErrorInfoOf(status).has_value());
  EXPECT_EQ(ErrorInfoOf(status)->reason(), "SHOT_INVALID");
  EXPECT_EQ(ErrorInfoOf(status)->metadata().at("least_anim_hours"), "12.5");
}

TEST(StatusFromGrpc, KeepsTheMessageWhereDetailsAreJunk) {
  const absl::Status status = StatusFromGrpc({grpc::StatusCode::INTERNAL, "broke", "\xFF\xFF\xFF"});
  EXPECT_EQ(status.message(), "broke");
  EXPECT_FALSE(ErrorInfoOf(status).has_value());
  EXPECT_EQ(FaultsOf(status).field_violations_size(), 0);
}

TEST(StatusFromGrpc, OkIsOk) { EXPECT_TRUE(StatusFromGrpc(grpc::Status::OK).ok()); }

}  // namespace
}  // namespace scantling::client
