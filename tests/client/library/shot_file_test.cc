// Shot files in both forms: what is written reads back, and what cannot be read says why.

#include "client/library/shot_file.h"

#include <gmock/gmock.h>
#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fstream>

#include "client/library/faults.h"

namespace scantling::client {
namespace {

using google::protobuf::util::MessageDifferencer;
using testing::HasSubstr;

v1::Shot SmallShot() {
  v1::Shot shot;
  shot.set_shot_id("qy_0100");
  shot.mutable_frames()->set_first(1001);
  shot.mutable_frames()->set_last(1002);
  shot.add_objects()->set_id("lamplighter");
  return shot;
}

class ShotFiles : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = testing::TempDir() + "shot_files_XXXXXX";
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    folder_ = pattern;
  }
  void TearDown() override {
    for (const char* name : {"shot.json", "shot.pb", "shot"}) unlink(Path(name).c_str());
    EXPECT_EQ(rmdir(folder_.c_str()), 0) << "something was left in " << folder_;
  }
  std::string Path(const std::string& name) const { return folder_ + "/" + name; }

  std::string folder_;
};

TEST_F(ShotFiles, BothFormsReadBackTheSame) {
  for (const auto& [name, form] : {std::pair("shot.json", ShotForm::kJson), {"shot.pb", ShotForm::kBinary}}) {
    const absl::StatusOr<std::string> content = SerializeShot(SmallShot(), form);
    ASSERT_TRUE(content.ok());
    ASSERT_TRUE(WriteContent(*content, Path(name)).ok());
    const absl::StatusOr<v1::Shot> back = ReadShot(Path(name));
    ASSERT_TRUE(back.ok()) << back.status();
    EXPECT_TRUE(MessageDifferencer::Equals(*back, SmallShot()));
  }
}

TEST_F(ShotFiles, WritingReplacesTheWholeFile) {
  ASSERT_TRUE(WriteContent("a longer content than the next", Path("shot")).ok());
  ASSERT_TRUE(WriteContent("short", Path("shot")).ok());
  std::ifstream file(Path("shot"));
  std::string content;
  std::getline(file, content);
  EXPECT_EQ(content, "short");
}

TEST_F(ShotFiles, WritingIntoNoFolderSaysWhyAndLeavesNothing) {
  const absl::Status status = WriteContent("x", folder_ + "/none/shot");
  EXPECT_EQ(status.code(), absl::StatusCode::kNotFound);
  EXPECT_THAT(std::string(status.message()), HasSubstr("No such file or directory"));
}

TEST_F(ShotFiles, MissingFileIsNotFound) {
  EXPECT_EQ(ReadShot(Path("none.json")).status().code(), absl::StatusCode::kNotFound);
}

TEST_F(ShotFiles, FolderIsNoShot) {
  const absl::Status status = ReadShot(folder_).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(std::string(status.message()), HasSubstr("Is a directory"));
}

TEST(FormByName, EndingsTell) {
  EXPECT_EQ(FormByName("a.json"), ShotForm::kJson);
  EXPECT_EQ(FormByName("a.pb"), ShotForm::kBinary);
  EXPECT_EQ(FormByName("a.bin"), ShotForm::kBinary);
  EXPECT_EQ(FormByName("a.binpb"), ShotForm::kBinary);
  EXPECT_EQ(FormByName("json"), std::nullopt);
}

TEST(FormOf, ContentTellsWhereTheNameDoesNot) {
  EXPECT_EQ(FormOf("", " \n{}"), ShotForm::kJson);
  EXPECT_EQ(FormOf("", SmallShot().SerializeAsString()), ShotForm::kBinary);
  EXPECT_EQ(FormOf("a.pb", "{}"), ShotForm::kBinary);
}

// A sequence id of ten bytes is written as "\n\n" or so: blanks and then no "{" must not be taken for JSON.
TEST(FormOf, BinaryThatBeginsWithBlanksIsBinary) {
  v1::Shot shot;
  shot.set_shot_id("0123456789");  // 0x0A (field 1), 0x0A (ten bytes)
  EXPECT_EQ(FormOf("", shot.SerializeAsString()), ShotForm::kBinary);
}

TEST(ParseShot, EmptyContentIsRefusedInBothForms) {
  for (const ShotForm form : {ShotForm::kJson, ShotForm::kBinary}) {
    EXPECT_EQ(ParseShot("", form, "f").status().code(), absl::StatusCode::kInvalidArgument);
  }
}

TEST(ParseShot, JsonFaultsNameFileLineAndField) {
  const absl::Status status = ParseShot("{\"frames\":\n 3}", ShotForm::kJson, "quay.json").status();
  const google::rpc::BadRequest faults = FaultsOf(status);
  ASSERT_EQ(faults.field_violations_size(), 1);
  EXPECT_EQ(faults.field_violations(0).field(), "quay.json:2:2: frames");
  EXPECT_EQ(faults.field_violations(0).description(), "got a number, want an object");
}

TEST(ParseShot, WhatOnlyProtobufRefusesHasItsLineToo) {
  const absl::Status status =
      ParseShot("{\"directives\":[\n {\"object_id\":\"a\",\"asset_id\":\"b\"}]}", ShotForm::kJson, "f").status();
  const google::rpc::BadRequest faults = FaultsOf(status);
  ASSERT_EQ(faults.field_violations_size(), 1);
  EXPECT_EQ(faults.field_violations(0).field(), "f:2:2: directives[0]");
  EXPECT_THAT(faults.field_violations(0).description(), HasSubstr("already set"));
}

TEST(ParseShot, BinaryFaultsNameTheByte) {
  const absl::Status status = ParseShot("\x7F\x45LF", ShotForm::kBinary, "f.pb").status();
  ASSERT_EQ(FaultsOf(status).field_violations_size(), 1);
  const google::rpc::BadRequest faults = FaultsOf(status);
  EXPECT_THAT(faults.field_violations(0).description(), HasSubstr("at byte 1: got field number 15"));
}

TEST(ParseShot, HostileNameCannotSteerTheTerminal) {
  EXPECT_THAT(std::string(ParseShot("", ShotForm::kJson, "\x1B[2J").status().message()), HasSubstr("\\x1b[2J"));
}

}  // namespace
}  // namespace scantling::client
