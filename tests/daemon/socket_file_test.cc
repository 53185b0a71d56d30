#include "server/daemon/socket_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <string>

namespace scantling {
namespace {

namespace fs = std::filesystem;

class SocketFolder : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = fs::temp_directory_path() / "scantling-test-XXXXXX";
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { fs::remove_all(folder_); }

  ListenAddress At(const std::string& path, bool own_folder) { return {"unix:" + path, path, own_folder}; }

  std::string folder_;
};

TEST_F(SocketFolder, IsMadeForTheUserAlone) {
  ASSERT_TRUE(SocketPlace::Claim(At(folder_ + "/new/s", true)).ok());
  struct stat about = {};
  ASSERT_EQ(stat((folder_ + "/new").c_str(), &about), 0);
  EXPECT_EQ(about.st_mode & 07777, 0700u);
}

TEST_F(SocketFolder, DefaultOpenToOthersIsRefused) {
  chmod(folder_.c_str(), 0755);
  const absl::Status refused = SocketPlace::Claim(At(folder_ + "/s", true)).status();
  EXPECT_EQ(refused.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(std::string(refused.message()), ::testing::HasSubstr("mode 0700"));
  EXPECT_TRUE(SocketPlace::Claim(At(folder_ + "/s", false)).ok()) << "one's own choice of folder is respected";
}

TEST_F(SocketFolder, DefaultThatIsALinkIsRefused) {
  fs::create_directory(folder_ + "/elsewhere");
  chmod((folder_ + "/elsewhere").c_str(), 0700);
  fs::create_directory_symlink(folder_ + "/elsewhere", folder_ + "/link");
  EXPECT_EQ(SocketPlace::Claim(At(folder_ + "/link/s", true)).status().code(), absl::StatusCode::kInvalidArgument);
}

TEST_F(SocketFolder, MaskIsPutBack) {
  const mode_t before = umask(0027);
  {
    const auto place = SocketPlace::Claim(At(folder_ + "/s", false));
    const mode_t meanwhile = umask(0177);
    EXPECT_EQ(meanwhile, 0177u);
  }
  EXPECT_EQ(umask(before), 0027u);
}

TEST_F(SocketFolder, NobodyAnswersWhereThereIsNoFile) {
  EXPECT_EQ(AskSocket(folder_ + "/s").code(), absl::StatusCode::kUnavailable);
}

}  // namespace
}  // namespace scantling
