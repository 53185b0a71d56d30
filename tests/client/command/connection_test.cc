// Addresses, and where a daemon is looked for.

#include "client/command/connection.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <unistd.h>

namespace scantling::client {
namespace {

TEST(AddressFault, TakesSocketsAndHostsWithPorts) {
  for (const char* address : {"unix:/run/s.sock", "localhost:50051", "127.0.0.1:1", "[::1]:65535"}) {
    EXPECT_EQ(AddressFault(address), "") << address;
  }
  for (const char* address : {"", "unix:", "localhost", ":50051", "localhost:", "localhost:0", "localhost:65536",
                              "localhost:5x", "localhost:-1"}) {
    EXPECT_THAT(AddressFault(address), testing::HasSubstr("want unix:PATH or HOST:PORT")) << address;
  }
}

TEST(DefaultAddress, FollowsTheRuntimeFolder) {
  ASSERT_EQ(setenv("XDG_RUNTIME_DIR", "/run/user/7", 1), 0);
  EXPECT_EQ(DefaultAddress(), "unix:/run/user/7/scantlingd.sock");
  // An empty or relative one counts as none. Source: XDG Base Directory Specification 0.8.
  const std::string own = "unix:/tmp/scantling-" + std::to_string(getuid()) + "/scantlingd.sock";
  for (const char* unusable : {"", "run"}) {
    ASSERT_EQ(setenv("XDG_RUNTIME_DIR", unusable, 1), 0);
    EXPECT_EQ(DefaultAddress(), own);
  }
  unsetenv("XDG_RUNTIME_DIR");
  EXPECT_EQ(DefaultAddress(), own);
}

TEST(SocketAnswers, NothingAnswersWhereNothingIs) {
  EXPECT_FALSE(SocketAnswers(testing::TempDir() + "no_such.sock"));
  EXPECT_FALSE(SocketAnswers(std::string(200, 'x')));  // longer than a socket's path can be
}

TEST(FindDaemonProgram, NamedProgramMustBeThere) {
  EXPECT_EQ(FindDaemonProgram("/bin/sh").value(), "/bin/sh");
  EXPECT_EQ(FindDaemonProgram("/no/such/program").status().code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(FindDaemonProgram("/etc/passwd").status().code(), absl::StatusCode::kNotFound);  // not executable
}

TEST(PrivateDaemonStart, ProgramThatEndsAtOnceIsReportedWithWhatItSaid) {
  const auto daemon = PrivateDaemon::Start({"/bin/ls", ""});  // refuses --listen
  ASSERT_FALSE(daemon.ok());
  EXPECT_EQ(daemon.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_THAT(std::string(daemon.status().message()), testing::HasSubstr("did not start; it said: "));
  EXPECT_THAT(std::string(daemon.status().message()), testing::HasSubstr("listen"));
}

}  // namespace
}  // namespace scantling::client
