// One line per call, as JSON that any parser takes and as text that nothing sent can break.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"

namespace scantling::testing {
namespace {

using nlohmann::json;

constexpr char kHostileId[] = "qy\"010\"\n{\"level\":\"error\"} \\ \x01 \xc3\xa9";

void PlanNamed(DaemonProcess& daemon, const std::string& shot_id, const std::string& class_name) {
  grpc::ClientContext context;
  v1::PlanShotRequest request;
  *request.mutable_shot() = TinyShot();
  request.mutable_shot()->set_shot_id(shot_id);
  request.mutable_shot()->mutable_objects(1)->set_class_name(class_name);
  v1::PlanShotResponse response;
  daemon.Planner()->PlanShot(&context, request, &response);
}

std::vector<std::string> Lines(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::vector<json> CallLines(const DaemonProcess& daemon) {
  std::vector<json> calls;
  for (const std::string& line : Lines(daemon.Log())) {
    json parsed = json::parse(line, nullptr, false);
    EXPECT_TRUE(parsed.is_object()) << line;
    if (parsed.is_object() && parsed["event"] == "call") calls.push_back(parsed);
  }
  return calls;
}

TEST(JsonLog, EveryLineParsesAndTellsOfTheCall) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--log-format", "json", "--log-level", "debug"});
  PlanNamed(daemon, "qy_010", "person");
  PlanNamed(daemon, kHostileId, "person");
  PlanNamed(daemon, "qy_020", "no_such_class");
  const std::vector<json> calls = CallLines(daemon);
  ASSERT_EQ(calls.size(), 3u);
  EXPECT_EQ(calls[0]["method"], "PlanShot");
  EXPECT_EQ(calls[0]["status"], "OK");
  EXPECT_EQ(calls[0]["shot"], "qy_010");
  EXPECT_EQ(calls[0]["objects"], 5);
  EXPECT_EQ(calls[0]["frames"], 24);
  for (const char* field :
       {"ms", "wait_ms", "measuring_ms", "pricing_ms", "choosing_ms", "solving_ms", "answering_ms"}) {
    ASSERT_TRUE(calls[0].contains(field)) << field;
    EXPECT_GE(calls[0][field].get<double>(), 0) << field;
  }
  EXPECT_EQ(calls[1]["shot"], kHostileId);  // refused for its control characters, and logged as it was sent
  EXPECT_EQ(calls[1]["status"], "INVALID_ARGUMENT");
  EXPECT_EQ(calls[2]["status"], "INVALID_ARGUMENT");
  EXPECT_TRUE(calls[2].contains("message"));
}

TEST(JsonLog, BytesThatAreNoUtf8LeaveNoLineOfAnotherForm) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--log-format", "json", "--log-level", "debug"});
  PlanNamed(daemon, "qy_\xff", "person");
  PlanNamed(daemon, "qy_010", "person");
  const std::vector<json> calls = CallLines(daemon);  // fails where a line is no JSON
  ASSERT_FALSE(calls.empty());
  EXPECT_EQ(calls.back()["status"], "OK");
}

TEST(HumanLog, NothingSentBreaksALine) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0"});
  PlanNamed(daemon, kHostileId, "person");
  const std::vector<std::string> lines = Lines(daemon.Log());
  ASSERT_EQ(lines.size(), 2u) << daemon.Log();  // listening, call
  EXPECT_THAT(lines[1], ::testing::HasSubstr("call method=PlanShot status=INVALID_ARGUMENT shot=\"qy\\\"010\\\"\\n{"));
}

TEST(HumanLog, LevelHoldsBackWhatIsBelow) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0", "--log-level", "warning"});
  PlanNamed(daemon, "qy_010", "person");
  EXPECT_EQ(daemon.Log(), "");
}

}  // namespace
}  // namespace scantling::testing
