// What goes wrong, how it ends, and that standard output stays empty.

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>

#include <fstream>

#include "scantling/v1/shot_planner.pb.h"
#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

class Failing : public EndToEnd {};

TEST_F(Failing, FileThatIsNoShotIsBadInput) {
  for (const char* input : {"", "{", "[1]", "{\"frame\":1}", "\x01\x02\x03", "{\"objects\":{}}"}) {
    const Outcome outcome = Scantling({"plan", "-"}, {.input = input});
    EXPECT_EQ(outcome.exit_code, 3) << input;
    EXPECT_THAT(outcome.out, IsEmpty()) << input;
    EXPECT_THAT(outcome.err, HasSubstr("standard input")) << input;
  }
  EXPECT_EQ(Scantling({"plan", Folder() + "/none.json"}).exit_code, 3);
}

TEST_F(Failing, ShotWithFaultsIsBadInputWithAllOfThem) {
  const char* shot = R"({"shot_id":"x","frames":{"first":2,"last":1},"objects":[{"id":"a"},{"id":"a"}]})";
  const Outcome plan = Scantling({"plan", "-"}, {.input = shot});
  EXPECT_EQ(plan.exit_code, 3);
  EXPECT_THAT(plan.out, IsEmpty());
  for (const char* field : {"frames", "rate", "cameras", "objects[1].id"}) EXPECT_THAT(plan.err, HasSubstr(field));
  const Outcome check = Scantling({"check", "-"}, {.input = shot});
  EXPECT_EQ(check.exit_code, 3);
  for (const char* field : {"frames", "rate", "cameras", "objects[1].id"}) EXPECT_THAT(check.out, HasSubstr(field));
}

TEST_F(Failing, UnknownStyleAndUnknownObjectAreBadInput) {
  const std::string shot = Sample(20);
  const Outcome style = Scantling({"plan", "-", "--style", "no_such_style"}, {.input = shot});
  EXPECT_EQ(style.exit_code, 3);
  EXPECT_THAT(style.err, HasSubstr("no_such_style"));
  const Outcome object = Scantling({"explain", "-", "no_such_object"}, {.input = shot});
  EXPECT_EQ(object.exit_code, 3);
  EXPECT_THAT(object.err, HasSubstr("no_such_object"));
}

TEST_F(Failing, NoPlanFitsTellsABudgetThatDoes) {
  const std::string shot = Sample(300);
  const Outcome outcome = Scantling({"plan", "-", "--anim-hours", "0"}, {.input = shot});
  ASSERT_EQ(outcome.exit_code, 4) << outcome.err;
  EXPECT_THAT(outcome.out, IsEmpty());
  EXPECT_THAT(outcome.err, HasSubstr("scantling: no plan fits 0 animator-hours\n"));
  EXPECT_THAT(outcome.err, HasSubstr("\nIn the way"));
  const std::string option = "--anim-hours ";
  const size_t at = outcome.err.find(option);
  ASSERT_NE(at, std::string::npos) << outcome.err;
  const std::string hours = outcome.err.substr(at + option.size(), outcome.err.find('\n', at) - at - option.size());
  EXPECT_EQ(Scantling({"plan", "-", "--anim-hours", hours}, {.input = shot}).exit_code, 0) << hours;
  // A tenth less than the least does not.
  EXPECT_EQ(Scantling({"plan", "-", "--anim-hours", std::to_string(std::stod(hours) * 0.9)}, {.input = shot}).exit_code,
            4);
}

TEST_F(Failing, NoPlanFitsNamesTheRulingsThatStandInTheWay) {
  // One lead that must be made in full, and no hours for it: that ruling alone stands in the way.
  const std::string shot = Sample(20);
  const std::string ruled = R"({"directives":[{"object_id":"lamplighter","bound":"EXACTLY","tier":"FULL_RIG",)"
                            R"("who":"the supervisor"}],)" +
                            shot.substr(shot.find('{') + 1);
  const Outcome outcome = Scantling({"plan", "-", "--anim-hours", "1"}, {.input = ruled});
  ASSERT_EQ(outcome.exit_code, 4) << outcome.err;
  EXPECT_THAT(outcome.err, HasSubstr("  directives[0]: object lamplighter exactly FULL_RIG"));
  EXPECT_THAT(outcome.err, HasSubstr("the supervisor"));
}

TEST_F(Failing, EarlierPlanThatIsNoneIsBadInputWithItsLines) {
  const std::string file = Folder() + "/plan.csv";
  std::ofstream(file) << "object_id,tier\r\na,half\r\n,PROXY\r\n";
  for (const std::vector<std::string>& command : {std::vector<std::string>{"plan", "-"}, {"explain", "-", "a"}}) {
    std::vector<std::string> arguments = command;
    arguments.insert(arguments.end(), {"--earlier", file});
    const Outcome outcome = Scantling(arguments, {.input = Sample(5)});
    EXPECT_EQ(outcome.exit_code, 3);
    EXPECT_THAT(outcome.out, IsEmpty());
    EXPECT_THAT(outcome.err, HasSubstr("plan.csv:2: tier: got \"half\", want FULL_RIG"));
    EXPECT_THAT(outcome.err, HasSubstr("plan.csv:3: object_id: got nothing"));
  }
  EXPECT_EQ(Scantling({"plan", "-", "--earlier", Folder() + "/none.json"}, {.input = Sample(5)}).exit_code, 3);
}

TEST_F(Failing, NobodyThereIsUnreachable) {
  const std::string shot = Sample(5);
  for (const char* address : {"unix:/no/such.sock", "127.0.0.1:1"}) {
    const Outcome outcome = Scantling({"plan", "-", "--address", address}, {.input = shot});
    EXPECT_EQ(outcome.exit_code, 5) << address;
    EXPECT_THAT(outcome.out, IsEmpty());
    EXPECT_EQ(outcome.err, std::string("scantling: no daemon answers at ") + address + "\n");
  }
}

TEST_F(Failing, PrivateDaemonThatDoesNotComeUpIsUnreachableWithItsWords) {
  const Outcome outcome = Scantling({"plan", "-", "--daemon-config", Folder() + "/none.yaml"}, {.input = Sample(5)});
  EXPECT_EQ(outcome.exit_code, 5);
  EXPECT_THAT(outcome.err, HasSubstr("did not start; it said: "));
  EXPECT_THAT(outcome.err, HasSubstr("none.yaml"));
  EXPECT_THAT(Leftovers(), IsEmpty());
}

}  // namespace
}  // namespace scantling::client
