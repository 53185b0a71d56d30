// The daemon's settings: defaults, every refusal, addresses, and relative folders.

#include "server/policy/daemon_config.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "tests/policy/faults.h"

namespace scantling {
namespace {

using testing::ElementsAre;

std::vector<std::string> FaultsOf(std::string_view text) {
  Violations violations;
  const bool read = ParseDaemonConfig(text, "d", violations).has_value();
  EXPECT_EQ(read, violations.empty());
  return Texts(violations);
}

TEST(ParseDaemonConfig, EmptyTextTakesEveryDefault) {
  Violations violations;
  const std::optional<DaemonConfig> config = ParseDaemonConfig("", "d", violations);
  ASSERT_TRUE(config.has_value());
  EXPECT_EQ(config->listen, "");
  EXPECT_EQ(config->log_format, LogFormat::kHuman);
  EXPECT_EQ(config->log_level, LogLevel::kInfo);
  EXPECT_EQ(config->threads, 0);
  EXPECT_EQ(config->max_message_bytes, 268435456);
  EXPECT_EQ(config->max_objects, 4000000);
  EXPECT_EQ(config->max_frames, 20000);
  EXPECT_EQ(config->max_cameras, 16);
  EXPECT_EQ(config->drain_pause_ms, 1000);
  EXPECT_EQ(config->drain_deadline_ms, 30000);
  EXPECT_EQ(config->ping_after_s, 20);
  EXPECT_EQ(config->live_sessions, 64);
  EXPECT_EQ(config->live_objects, 4000000);
  EXPECT_EQ(config->live_memory_mb, 12288);
  EXPECT_EQ(config->live_keep_s, 300);
  EXPECT_EQ(config->live_maps_mb, 256);
  EXPECT_EQ(config->live_final_after_ms, 150);
  EXPECT_EQ(config->policy_directory, ".");
  EXPECT_EQ(config->default_style, "ink");
}

TEST(ParseDaemonConfig, ReadsEveryKey) {
  Violations violations;
  const std::optional<DaemonConfig> config = ParseDaemonConfig(
      "listen: unix:/run/s.sock\nlog_format: json\nlog_level: error\nthreads: 3\nmax_message_bytes: 2147483647\n"
      "max_objects: 5\nmax_frames: 6\nmax_cameras: 7\ndrain_pause_ms: 8\ndrain_deadline_ms: 9\npolicy_directory: p/q\n"
      "default_style: oil\nping_after_s: 10\nlive_sessions: 11\nlive_objects: 12\nlive_memory_mb: 13\nlive_keep_s: 14\n"
      "live_maps_mb: 15\nlive_final_after_ms: 16\n",
      "d", violations);
  ASSERT_TRUE(config.has_value()) << testing::PrintToString(Texts(violations));
  EXPECT_EQ(config->listen, "unix:/run/s.sock");
  EXPECT_EQ(config->log_format, LogFormat::kJson);
  EXPECT_EQ(config->log_level, LogLevel::kError);
  EXPECT_EQ(config->threads, 3);
  EXPECT_EQ(config->max_message_bytes, 2147483647);
  EXPECT_EQ(config->max_objects, 5);
  EXPECT_EQ(config->max_frames, 6);
  EXPECT_EQ(config->max_cameras, 7);
  EXPECT_EQ(config->drain_pause_ms, 8);
  EXPECT_EQ(config->drain_deadline_ms, 9);
  EXPECT_EQ(config->ping_after_s, 10);
  EXPECT_EQ(config->live_sessions, 11);
  EXPECT_EQ(config->live_objects, 12);
  EXPECT_EQ(config->live_memory_mb, 13);
  EXPECT_EQ(config->live_keep_s, 14);
  EXPECT_EQ(config->live_maps_mb, 15);
  EXPECT_EQ(config->live_final_after_ms, 16);
  EXPECT_EQ(config->policy_directory, "p/q");
  EXPECT_EQ(config->default_style, "oil");
}

TEST(ParseDaemonConfig, AllFaultsComeAtOnce) {
  EXPECT_THAT(
      FaultsOf("listen: nowhere\nlog_format: xml\nlog_level: loud\nthreads: 2000\nmax_message_bytes: 1\n"
               "max_objects: 0\npolicy_directory: \"\"\nthread: 2\n"),
      ElementsAre("d:1:9: listen: got \"nowhere\", want unix:PATH, HOST:PORT or [IPv6]:PORT with a port from 0 to "
                  "65535",
                  "d:2:13: log_format: got \"xml\", want human or json",
                  "d:3:12: log_level: got \"loud\", want debug, info, warning or error",
                  "d:4:10: threads: got \"2000\", want a whole number from 0 to 1024",
                  "d:5:20: max_message_bytes: got \"1\", want a whole number from 65536 to 2147483647",
                  "d:6:14: max_objects: got \"0\", want a whole number from 1 to 100000000",
                  "d:7:19: policy_directory: got the text \"\", want text that is not empty of at most 4096 bytes",
                  "d:8:1: got the unknown key \"thread\", want \"threads\" perhaps"));
}

TEST(ListenAddressFault, TakesSocketsHostsAndBracketedAddresses) {
  for (const char* good :
       {"unix:a", "unix:/run/x.sock", "localhost:0", "127.0.0.1:50151", "[::1]:65535", "a-b.example:1"}) {
    EXPECT_EQ(ListenAddressFault(good), std::nullopt) << good;
  }
  for (const char* bad : {"", "unix:", "localhost", "localhost:", ":1", "::1:5", "[]:1", "localhost:65536",
                          "localhost:-1", "localhost:1x", "a b:1", "http://x:1"}) {
    EXPECT_NE(ListenAddressFault(bad), std::nullopt) << bad;
  }
}

TEST(ListenAddressFault, SocketPathMustFitTheKernel) {
  EXPECT_EQ(ListenAddressFault("unix:" + std::string(107, 'x')), std::nullopt);
  EXPECT_EQ(ListenAddressFault("unix:" + std::string(108, 'x')), "got a socket path of 108 bytes, want 1 to 107");
}

TEST(LoadDaemonConfig, RelativePolicyDirectoryStartsAtTheFile) {
  const std::string folder = testing::TempDir() + "daemon_config";
  std::filesystem::create_directories(folder);
  const std::string file = folder + "/scantlingd.yaml";
  Violations violations;
  std::ofstream(file) << "policy_directory: sub/../show\n";
  EXPECT_EQ(LoadDaemonConfig(file, violations)->policy_directory, folder + "/show");
  std::ofstream(file) << "policy_directory: /abs\n";
  EXPECT_EQ(LoadDaemonConfig(file, violations)->policy_directory, "/abs");
  std::filesystem::remove_all(folder);
  EXPECT_FALSE(LoadDaemonConfig(file, violations).has_value());
  EXPECT_THAT(Texts(violations), ElementsAre(file + ": got no file, want a readable YAML file"));
}

}  // namespace
}  // namespace scantling
