#include "server/daemon/request_log.h"

#include <gtest/gtest.h>

namespace scantling {
namespace {

CallRecord Record(grpc::StatusCode code) {
  CallRecord record;
  record.method = "PlanShot";
  record.peer = "unix:";
  record.shot_id = "qy_010";
  record.objects = 5;
  record.frames = 24;
  record.waited_ms = 0.5;
  record.total_ms = 12;
  record.code = code;
  record.message = code == grpc::StatusCode::OK ? "" : "why";
  record.stages = {{"measuring", 7}, {"solving", 3}};
  return record;
}

TEST(CallEvent, HoldsWhatTheCallWas) {
  const LogEvent event = CallEvent(Record(grpc::StatusCode::OK));
  EXPECT_EQ(event.event, "call");
  EXPECT_EQ(event.level, LogLevel::kInfo);
  const LogFields wanted = {{"method", "PlanShot"},  {"status", "OK"},   {"shot", "qy_010"}, {"objects", int64_t{5}},
                            {"frames", int64_t{24}}, {"peer", "unix:"},  {"ms", 12.0},       {"wait_ms", 0.5},
                            {"measuring_ms", 7.0},   {"solving_ms", 3.0}};
  EXPECT_EQ(event.fields, wanted);
}

TEST(CallEvent, RefusalIsInformationFailureOfOursIsAWarning) {
  for (const auto code : {grpc::StatusCode::INVALID_ARGUMENT, grpc::StatusCode::FAILED_PRECONDITION,
                          grpc::StatusCode::CANCELLED, grpc::StatusCode::DEADLINE_EXCEEDED}) {
    EXPECT_EQ(CallEvent(Record(code)).level, LogLevel::kInfo) << CodeName(code);
  }
  for (const auto code :
       {grpc::StatusCode::INTERNAL, grpc::StatusCode::RESOURCE_EXHAUSTED, grpc::StatusCode::UNAVAILABLE}) {
    EXPECT_EQ(CallEvent(Record(code)).level, LogLevel::kWarning) << CodeName(code);
  }
  EXPECT_EQ(CallEvent(Record(grpc::StatusCode::INTERNAL)).fields.back().first, "message");
}

}  // namespace
}  // namespace scantling
