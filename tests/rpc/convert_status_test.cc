#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "server/rpc/convert.h"
#include "tests/rpc/trailer.h"

namespace scantling {
namespace {

struct Details {
  google::rpc::Status status;
  google::rpc::ErrorInfo info;
  google::rpc::BadRequest request;
};

Details Decode(const grpc::Status& status) {
  Details details;
  EXPECT_TRUE(details.status.ParseFromString(status.error_details()));
  EXPECT_EQ(details.status.details_size(), 2);
  EXPECT_TRUE(details.status.details(0).UnpackTo(&details.info));
  EXPECT_TRUE(details.status.details(1).UnpackTo(&details.request));
  return details;
}

TEST(InvalidArgument, CarriesEveryFaultOfAFew) {
  Violations violations;
  violations.Add("frames", "got 10 to 9, want last not below first");
  violations.Add("objects[3].id", "got nothing, want a name");
  const grpc::Status status = InvalidArgument(violations);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(status.error_message(), "frames: got 10 to 9, want last not below first (the first of 2 faults; 2 listed)");
  const Details details = Decode(status);
  EXPECT_EQ(details.status.code(), 3);  // google.rpc.Code.INVALID_ARGUMENT
  EXPECT_EQ(details.info.reason(), "SHOT_INVALID");
  EXPECT_EQ(details.info.domain(), "scantling.v1");
  EXPECT_EQ(details.info.metadata().at("violations"), "2");
  EXPECT_EQ(details.info.metadata().at("listed"), "2");
  ASSERT_EQ(details.request.field_violations_size(), 2);
  EXPECT_EQ(details.request.field_violations(1).field(), "objects[3].id");
  EXPECT_EQ(details.request.field_violations(1).description(), "got nothing, want a name");
}

TEST(InvalidArgument, OneFaultIsItsOwnMessage) {
  Violations violations;
  violations.Add("object_id", "got \"x\", want \"y\"");
  const grpc::Status status = InvalidArgument(violations, "OBJECT_UNKNOWN");
  EXPECT_EQ(status.error_message(), "object_id: got \"x\", want \"y\"");
  EXPECT_EQ(Decode(status).info.reason(), "OBJECT_UNKNOWN");
}

TEST(InvalidArgument, ManyFaultsFitAClientsTrailer) {
  for (const size_t description_bytes : {1u, 40u, 400u, 4000u}) {
    Violations violations;
    for (int i = 0; i < 20'000; ++i) violations.Add("objects[0].id", std::string(description_bytes, 'x'));
    const grpc::Status status = InvalidArgument(violations, "A_REASON_OF_SOME_LENGTH");
    EXPECT_LE(TrailerBytes(status), kClientTakes) << description_bytes;
    EXPECT_LE(status.error_details().size(), kDetailBytes) << description_bytes;
    const Details decoded = Decode(status);
    EXPECT_GE(decoded.request.field_violations_size(), 1) << description_bytes;
    EXPECT_EQ(decoded.info.metadata().at("violations"), "20000");
    EXPECT_EQ(decoded.info.metadata().at("listed"), std::to_string(decoded.request.field_violations_size()));
    EXPECT_THAT(status.error_message(), testing::HasSubstr("the first of 20000 faults"));
  }
}

TEST(InvalidArgument, ManyFaultsInOtherLettersFitToo) {
  std::string id;
  for (int i = 0; i < 200; ++i) id += "\xE7\x8C\xAB";  // U+732B: three bytes, nine on the wire
  Violations violations;
  for (int i = 0; i < 100; ++i) violations.Add("objects[0].id", id);
  const grpc::Status status = InvalidArgument(violations);
  EXPECT_LE(TrailerBytes(status), kClientTakes);
  EXPECT_GE(Decode(status).request.field_violations_size(), 1);
}

TEST(DetailRoom, ShrinksOnlyForWhatTravelsLong) {
  EXPECT_EQ(DetailRoom(""), kDetailBytes);
  EXPECT_EQ(DetailRoom(std::string(300, 'x')), kDetailBytes);
  // 8192 - 148 of names, code and entries - 3000 leave 5044 of base64: 3783 bytes.
  EXPECT_EQ(DetailRoom(std::string(1000, '%')), 3783u);
  EXPECT_EQ(DetailRoom(std::string(9000, 'x')), 0u);
}

TEST(InvalidArgument, LongMessagesAreCutBetweenCharacters) {
  std::string description;
  for (int i = 0; i < 400; ++i) description += "\xC3\xA9";  // U+00E9, two bytes each
  for (const char* field : {"a", "ab"}) {
    Violations violations;
    violations.Add(field, description);
    std::string message = InvalidArgument(violations).error_message();
    EXPECT_LE(message.size(), 300u);
    ASSERT_THAT(message, testing::EndsWith("\xC3\xA9..."));
  }
}

TEST(ToGrpc, KeepsCodeAndMessage) {
  EXPECT_TRUE(ToGrpc(absl::OkStatus()).ok());
  const grpc::Status status = ToGrpc(absl::DeadlineExceededError("late"));
  EXPECT_EQ(status.error_code(), grpc::StatusCode::DEADLINE_EXCEEDED);
  EXPECT_EQ(status.error_message(), "late");
  EXPECT_EQ(ToGrpc(absl::UnauthenticatedError("")).error_code(), grpc::StatusCode::UNAUTHENTICATED);
}

}  // namespace
}  // namespace scantling
