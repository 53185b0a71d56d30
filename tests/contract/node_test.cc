// The same daemon through Node's client: node/client.js does the asking and the judging, one case a process.

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "tests/contract/daemon_process.h"

namespace scantling::testing {
namespace {

std::string WordsOf(const std::string& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

class NodeClient : public ::testing::Test {
 protected:
  void SetUp() override {
    ASSERT_TRUE(std::filesystem::exists(NODE_PACKAGES "/done"))
        << "Node's packages are not there. Building contract_node fetches them from the npm registry, once; that needs "
           "a "
           "network. It said:\n"
        << WordsOf(NODE_PACKAGES "/log");
  }

  static void Run(const std::string& name, const std::string& listen = "127.0.0.1:0") {
    DaemonProcess daemon({"--listen", listen});
    ASSERT_FALSE(daemon.Address().empty()) << daemon.Log();
    const std::string command = "NODE_PATH='" NODE_PACKAGES "/node_modules' '" NODE_PROGRAM "' '" SCANTLING_SOURCE_DIR
                                "/tests/contract/node/client.js' " +
                                name + " '" + daemon.Address() + "'";
    EXPECT_EQ(std::system(command.c_str()), 0) << daemon.Log();
  }
};

TEST_F(NodeClient, PlansAShot) { Run("plan"); }

TEST_F(NodeClient, PlansAShotOverAUnixSocket) {
  const TemporaryFolder folder;
  Run("plan", "unix:" + folder.path() + "/socket");
}

TEST_F(NodeClient, ChecksAShot) { Run("check"); }

TEST_F(NodeClient, TracesAFrontier) { Run("frontier"); }

TEST_F(NodeClient, GetsTheSamePlanByStream) { Run("large"); }

TEST_F(NodeClient, ReadsRichErrors) { Run("refusal"); }

TEST_F(NodeClient, SeesItsDeadlinePass) { Run("deadline"); }

TEST_F(NodeClient, AssemblesAShot) { Run("assemble"); }

TEST_F(NodeClient, AssemblesAShotOverAUnixSocket) {
  const TemporaryFolder folder;
  Run("assemble", "unix:" + folder.path() + "/socket");
}

TEST_F(NodeClient, AssemblesAShotWithinABudget) { Run("assemble_in_budget"); }

TEST_F(NodeClient, SeesAnEditRefusedAndGoesOn) { Run("assemble_refuses"); }

TEST_F(NodeClient, ResumesASessionWhoseStreamEnded) { Run("assemble_resumes"); }

}  // namespace
}  // namespace scantling::testing
