// The same daemon through another language's client: python_client.py does the asking and the judging.

#include <gtest/gtest.h>

#include <cstdlib>

#include "tests/contract/daemon_process.h"

namespace scantling::testing {
namespace {

TEST(PythonClient, PlansAndReadsRichErrors) {
  DaemonProcess daemon({"--listen", "127.0.0.1:0"});
  ASSERT_FALSE(daemon.Address().empty()) << daemon.Log();
  const std::string command = std::string("PYTHONPATH='" PYTHON_MESSAGES "' '" PYTHON_PROGRAM "' '") +
                              SCANTLING_SOURCE_DIR "/tests/contract/python_client.py' " + daemon.Address();
  EXPECT_EQ(std::system(command.c_str()), 0);
}

}  // namespace
}  // namespace scantling::testing
