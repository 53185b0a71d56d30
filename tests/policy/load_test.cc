// Whole directories: missing and hostile files, faults across files, all at once.

#include "server/policy/load.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>

#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

constexpr std::string_view kClasses =
    "default_class: a\nclasses: {a: {kind: figure, phi: {PROXY: 0.1, COLOUR_PATCH: 0.2}}}\n";
constexpr std::string_view kZero =
    "{setup_hours: 0, hours_per_second: 0, core_s_per_frame: 0, core_s_per_megapixel: 0, memory_mb: 0, hours_cv: 0, "
    "core_cv: 0}";

std::string Rates() {
  std::string text =
      "name: r\nmoney_per_animator_hour: 1\nmoney_per_core_hour: 1\nbase_core_s_per_frame: 1\nshow_cv_hours: 0\n"
      "shot_cv_hours: 0\nshow_cv_core: 0\nshot_cv_core: 0\nclasses:\n  a:\n";
  for (const char* tier : {"FULL_RIG", "PROXY", "COLOUR_PATCH"}) {
    text += "    " + std::string(tier) + ": " + std::string(kZero) + "\n";
  }
  return text + "    paint_in_hours: 0\n";
}

class LoadPolicyTest : public testing::Test {
 protected:
  void SetUp() override {
    directory_ = testing::TempDir() + "policy_" + testing::UnitTest::GetInstance()->current_test_info()->name();
    std::filesystem::remove_all(directory_);
    std::filesystem::create_directories(directory_ + "/style");
    Write("classes.yaml", kClasses);
    Write("rates.yaml", Rates());
    Write("style/ink.yaml", "name: ink\n");
  }
  void TearDown() override { std::filesystem::remove_all(directory_); }

  void Write(const std::string& name, std::string_view text) { std::ofstream(directory_ + "/" + name) << text; }

  std::vector<std::string> Faults(std::string_view default_style = "ink") {
    Violations violations;
    const bool read = LoadPolicy(directory_, default_style, violations).has_value();
    EXPECT_EQ(read, violations.empty());
    std::vector<std::string> texts = Texts(violations);
    for (std::string& text : texts) {
      for (size_t at; (at = text.find(directory_ + "/")) != std::string::npos;) text.erase(at, directory_.size() + 1);
    }
    return texts;
  }

  std::string directory_;
};

TEST_F(LoadPolicyTest, ReadsADirectory) {
  Write("style/b.yaml", "name: pencil\n");
  Write("style/notes.txt", "not a style");
  const absl::StatusOr<Policy> policy = LoadPolicy(directory_, "pencil");
  ASSERT_TRUE(policy.ok()) << policy.status();
  EXPECT_EQ(policy->default_style, "pencil");
  ASSERT_EQ(policy->styles.size(), 2u);
  EXPECT_EQ(policy->styles[0].name, "pencil");  // by file name
  EXPECT_EQ(policy->styles[1].name, "ink");
  EXPECT_EQ(policy->catalogue.classes.size(), 1u);
  EXPECT_EQ(policy->rates.classes.size(), 1u);
}

TEST_F(LoadPolicyTest, FaultsOfAllFilesComeAtOnce) {
  Write("classes.yaml", "default_class: a\nclasses: {a: {kind: odd, phi: {PROXY: 0.1, COLOUR_PATCH: 0.2}}}\n");
  Write("style/ink.yaml", "name: ink\nholds: 3\n");
  Write("style/zinc.yaml", "name: [\n");
  std::filesystem::remove(directory_ + "/rates.yaml");
  EXPECT_THAT(Faults(), ElementsAre("rates.yaml: got no file, want a readable YAML file",
                                    "classes.yaml:2:21: classes.a.kind: got \"odd\", want figure or set_element",
                                    "style/ink.yaml:2:8: holds: got \"3\", want a list of at most 12 whole numbers",
                                    "style/ink.yaml:2:8: holds: got another list, want frame counts that rise from 1, "
                                    "such as [1, 2, 3, 4]",
                                    HasSubstr("style/zinc.yaml:2:1: got text that is not YAML")));
}

TEST_F(LoadPolicyTest, StyleNamesAreUnique) {
  Write("style/other.yaml", "name: ink\n");
  EXPECT_THAT(Faults(), ElementsAre("style/other.yaml: name: got \"ink\", want another name than style/ink.yaml"));
}

TEST_F(LoadPolicyTest, DefaultStyleMustExist) {
  EXPECT_THAT(Faults("oil"), ElementsAre("default_style: got \"oil\", want a style of style: ink"));
}

TEST_F(LoadPolicyTest, EveryStyleOffersEveryClassAHold) {
  Write("classes.yaml",
        Replaced(std::string(kClasses), "kind: figure", "kind: figure, least_hold: 2, greatest_hold: 2"));
  Write("style/ink.yaml", "name: ink\nholds: [1, 3]\n");
  EXPECT_THAT(Faults(),
              ElementsAre("style/ink.yaml: holds: got none for class \"a\", want one from its least_hold 2 to its "
                          "greatest_hold 2"));
}

TEST_F(LoadPolicyTest, StylesHoldBoundsAreOfKnownClassesAndLeaveAHold) {
  Write("style/ink.yaml",
        "name: ink\nholds: [1, 3]\nclass_holds: {b: {least: 1, greatest: 2}, a: {least: 2, greatest: 2}}\n");
  EXPECT_THAT(Faults(),
              ElementsAre("style/ink.yaml: class_holds: got the unknown class \"b\", want one of the catalogue",
                          "style/ink.yaml: class_holds.a: got bounds that leave none of holds, want one of them from 2 "
                          "to 2"));
}

TEST_F(LoadPolicyTest, StylesHoldBoundsWinOverTheClasses) {
  // The class alone would be left without a hold, as above.
  Write("classes.yaml",
        Replaced(std::string(kClasses), "kind: figure", "kind: figure, least_hold: 2, greatest_hold: 2"));
  Write("style/ink.yaml", "name: ink\nholds: [1, 3]\nclass_holds: {a: {least: 2, greatest: 3}}\n");
  EXPECT_THAT(Faults(), ElementsAre());
}

TEST_F(LoadPolicyTest, FolderWithoutStylesIsRefused) {
  std::filesystem::remove(directory_ + "/style/ink.yaml");
  EXPECT_THAT(Faults(), ElementsAre("style: got 0 style files (*.yaml), want 1 to 1000"));
  std::filesystem::remove(directory_ + "/style");
  EXPECT_THAT(Faults(), ElementsAre(HasSubstr("style: got no readable folder (")));
}

TEST_F(LoadPolicyTest, SpecialAndLargeFilesAreRefusedWithoutBlocking) {
  std::filesystem::remove(directory_ + "/rates.yaml");
  ASSERT_EQ(mkfifo((directory_ + "/rates.yaml").c_str(), 0600), 0);
  Write("style/ink.yaml", std::string((1 << 20) + 1, '#'));
  EXPECT_THAT(Faults(), ElementsAre("rates.yaml: got something that is not a regular file, want a readable YAML file",
                                    "style/ink.yaml: got more than 1048576 bytes, want at most that many"));
}

TEST_F(LoadPolicyTest, StatusListsEveryFaultOnALine) {
  Write("style/ink.yaml", "name: ink\nhandle_frames: x\nsettle_frames: y\n");
  const absl::StatusOr<Policy> policy = LoadPolicy(directory_, "ink");
  EXPECT_EQ(policy.status().code(), absl::StatusCode::kInvalidArgument);
  const std::string file = directory_ + "/style/ink.yaml";
  EXPECT_EQ(policy.status().message(), file + ":2:16: handle_frames: got \"x\", want a whole number from 0 to 10000\n" +
                                           file +
                                           ":3:16: settle_frames: got \"y\", want a whole number from 0 to 10000");
}

TEST(StatusOf, IsOkWithoutFaultsAndCountsThoseNotListed) {
  Violations violations;
  EXPECT_TRUE(StatusOf(violations).ok());
  for (size_t i = 0; i < Violations::kListed + 3; ++i) violations.Add("f", "got it");
  EXPECT_THAT(std::string(StatusOf(violations).message()), testing::EndsWith("\nand 3 more faults"));
}

}  // namespace
}  // namespace scantling
