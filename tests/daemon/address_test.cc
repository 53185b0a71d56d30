#include "server/daemon/address.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>

namespace scantling {
namespace {

using ::testing::HasSubstr;

TEST(ResolveListen, LoopbackIsTakenAsWritten) {
  for (const char* text : {"127.0.0.1:50151", "127.8.9.10:0", "[::1]:0", "[::ffff:127.0.0.1]:1", "localhost:50151"}) {
    const absl::StatusOr<ListenAddress> address = ResolveListen(text);
    ASSERT_TRUE(address.ok()) << address.status();
    EXPECT_EQ(address->text, text);
    EXPECT_FALSE(address->is_socket());
  }
}

TEST(ResolveListen, AnythingElseOnANetworkIsRefused) {
  for (const char* text :
       {"0.0.0.0:0", "[::]:0", "10.0.0.1:1", "128.0.0.1:1", "126.255.255.255:1", "[::2]:1", "[::ffff:10.0.0.1]:1"}) {
    const absl::StatusOr<ListenAddress> address = ResolveListen(text);
    EXPECT_EQ(address.status().code(), absl::StatusCode::kInvalidArgument) << text;
    EXPECT_THAT(std::string(address.status().message()), HasSubstr("needs TLS")) << text;
  }
}

TEST(ResolveListen, SocketGivesItsPath) {
  const absl::StatusOr<ListenAddress> address = ResolveListen("unix:/run/scantling/scantlingd.sock");
  ASSERT_TRUE(address.ok());
  EXPECT_EQ(address->socket_path, "/run/scantling/scantlingd.sock");
  EXPECT_FALSE(address->own_folder);
}

TEST(ResolveListen, NothingMeansTheUsersOwnSocket) {
  unsetenv("XDG_RUNTIME_DIR");
  absl::StatusOr<ListenAddress> address = ResolveListen("");
  ASSERT_TRUE(address.ok());
  EXPECT_EQ(address->socket_path, "/tmp/scantling-" + std::to_string(getuid()) + "/scantlingd.sock");
  EXPECT_TRUE(address->own_folder);
  setenv("XDG_RUNTIME_DIR", "/run/user/1", 1);
  address = ResolveListen("");
  ASSERT_TRUE(address.ok());
  EXPECT_EQ(address->text, "unix:/run/user/1/scantlingd.sock");
  EXPECT_FALSE(address->own_folder);
  setenv("XDG_RUNTIME_DIR", "relative", 1);  // counts as not set
  EXPECT_THAT(DefaultSocketPath(), HasSubstr("/tmp/scantling-"));
  unsetenv("XDG_RUNTIME_DIR");
}

TEST(ResolveListen, MalformedAddressesSayWhatIsWanted) {
  for (const char* text : {"50151", "127.0.0.1", "127.0.0.1:", "127.0.0.1:65536", "::1:50151", "unix:"}) {
    const absl::StatusOr<ListenAddress> address = ResolveListen(text);
    EXPECT_EQ(address.status().code(), absl::StatusCode::kInvalidArgument) << text;
    EXPECT_THAT(std::string(address.status().message()), HasSubstr("want ")) << text;
  }
}

}  // namespace
}  // namespace scantling
