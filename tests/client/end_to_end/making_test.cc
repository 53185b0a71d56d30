// What needs no daemon: help, the demonstration shot, import.

#include <gmock/gmock.h>
#include <google/protobuf/util/message_differencer.h>

#include <filesystem>

#include "client/library/shot_file.h"
#include "tests/client/end_to_end/program.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

class Making : public EndToEnd {};

TEST_F(Making, EveryHelpTellsEveryExitCodeOnStandardOutput) {
  const std::vector<std::vector<std::string>> pages = {
      {"--help"},          {"plan", "--help"},   {"explain", "--help"}, {"frontier", "--help"},
      {"check", "--help"}, {"sample", "--help"}, {"import", "--help"}};
  for (const auto& page : pages) {
    const Outcome outcome = Scantling(page);
    EXPECT_EQ(outcome.exit_code, 0) << page[0];
    EXPECT_THAT(outcome.err, IsEmpty()) << page[0];
    for (const char* line : {"  0  done", "  1  a fault", "  2  wrong usage", "  3  bad input", "  4  no plan fits",
                             "  5  the daemon cannot be reached"}) {
      EXPECT_THAT(outcome.out, HasSubstr(line)) << page[0];
    }
  }
}

TEST_F(Making, VersionGoesToStandardOutput) {
  const Outcome outcome = Scantling({"--version"});
  EXPECT_EQ(outcome.exit_code, 0);
  EXPECT_THAT(outcome.out, testing::StartsWith("scantling "));
}

TEST_F(Making, WrongUsageEndsWithTwoAndSaysNothingOnStandardOutput) {
  const std::vector<std::vector<std::string>> wrong = {
      {},
      {"paint"},
      {"plan"},
      {"plan", "-", "--anim-hours", "-1"},
      {"plan", "-", "--anim-hours", "nan"},
      {"plan", "-", "--other-hours", "-1"},
      {"plan", "-", "--memory-mb", "inf"},
      {"plan", "-", "--target-gap", "nan"},
      {"plan", "-", "--change-margin", "0.1"},
      {"plan", "-", "--earlier", "-"},
      {"plan", "-", "--earlier", "p.json", "--change-margin", "2"},
      {"explain", "-", "a", "--change-margin-least", "1"},
      {"plan", "-", "--time-limit", "nan"},
      {"plan", "-", "--tier", "half"},
      {"plan", "-", "--format", "yaml"},
      {"plan", "-", "--sort", "weight"},
      {"plan", "-", "--units", "furlongs"},
      {"plan", "-", "--only", "gulls"},
      {"plan", "-", "--address", "nowhere"},
      {"plan", "-", "--address", "unix:/x", "--daemon", "/y"},
      {"explain", "-"},
      {"sample", "--objects", "0"},
      {"import", "-", "--rate", "23.976"},
  };
  for (const auto& arguments : wrong) {
    const Outcome outcome = Scantling(arguments);
    EXPECT_EQ(outcome.exit_code, 2) << testing::PrintToString(arguments);
    EXPECT_THAT(outcome.out, IsEmpty()) << testing::PrintToString(arguments);
    EXPECT_THAT(outcome.err, testing::StartsWith("scantling: ")) << testing::PrintToString(arguments);
  }
}

TEST_F(Making, SampleIsTheSameShotInRowsAndToAFile) {
  const auto piped = ParseShot(Sample(40), ShotForm::kJson, "piped");
  ASSERT_TRUE(piped.ok()) << piped.status();
  EXPECT_EQ(piped->objects_size(), 40);
  const std::string file = Folder() + "/shot.pb";
  EXPECT_THAT(Sample(40, {"--output", file}), IsEmpty());
  const auto written = ReadShot(file);
  ASSERT_TRUE(written.ok()) << written.status();
  // As numbers, not as bytes: JSON's -0 is read back as 0.
  EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*written, *piped));
}

TEST_F(Making, BlocksGoOutInBinaryForm) {
  const std::string content = Sample(40, {"--blocks"});
  EXPECT_EQ(FormOf("", content), ShotForm::kBinary);
  const auto shot = ParseShot(content, ShotForm::kBinary, "blocks");
  ASSERT_TRUE(shot.ok()) << shot.status();
  EXPECT_EQ(shot->objects_size(), 0);
}

TEST_F(Making, OutputThatCannotBeWrittenEndsWithOne) {
  const Outcome outcome = Scantling({"sample", "--objects", "3", "--output", Folder() + "/none/shot.json"});
  EXPECT_EQ(outcome.exit_code, 1);
  EXPECT_THAT(outcome.err, HasSubstr("cannot write"));
  EXPECT_EQ(Scantling({"sample", "--objects", "3", "--output", "/dev/full"}).exit_code, 1);
}

// The Khronos sample engine, as packaged with Debian's assimp-testmodels where that is installed.
TEST_F(Making, ImportKeepsTheShotOnStandardOutputAndCountsOnStandardError) {
  const std::string engine = "/usr/share/assimp/models/glTF2/2CylinderEngine-glTF-Binary/2CylinderEngine.glb";
  if (!std::filesystem::exists(engine)) GTEST_SKIP() << "assimp-testmodels is not installed";
  const Outcome outcome = Scantling({"import", engine});
  ASSERT_EQ(outcome.exit_code, 0) << outcome.err;
  const auto shot = ParseShot(outcome.out, ShotForm::kJson, "import");
  ASSERT_TRUE(shot.ok()) << shot.status();
  EXPECT_THAT(outcome.err, HasSubstr(std::to_string(shot->objects_size()) + " objects from 82 nodes and 29 meshes"));
}

TEST_F(Making, ImportOfSomethingElseIsBadInput) {
  const Outcome outcome = Scantling({"import", "-"}, {.input = "no glTF"});
  EXPECT_EQ(outcome.exit_code, 3);
  EXPECT_THAT(outcome.out, IsEmpty());
}

}  // namespace
}  // namespace scantling::client
