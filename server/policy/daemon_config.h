// The daemon's own settings, read from scantlingd.yaml. Command-line flags win over them; that is the daemon's doing.

#ifndef SCANTLING_SERVER_POLICY_DAEMON_CONFIG_H_
#define SCANTLING_SERVER_POLICY_DAEMON_CONFIG_H_

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "server/units/violations.h"

namespace scantling {

enum class LogFormat : uint8_t { kHuman, kJson };
enum class LogLevel : uint8_t { kDebug, kInfo, kWarning, kError };

// Defaults are what a key left out means. The commented file is config/scantlingd.yaml.
struct DaemonConfig {
  // "unix:PATH", "HOST:PORT" or "[IPv6]:PORT"; port 0 takes a free one. Empty: a socket in the user's own runtime
  // folder, which the daemon and the command line both know.
  std::string listen;
  LogFormat log_format = LogFormat::kHuman;
  LogLevel log_level = LogLevel::kInfo;
  int32_t threads = 0;                            // computing threads, 0: one per core; 0..1024
  int32_t max_message_bytes = 256 * 1024 * 1024;  // largest message taken or sent; 64 KiB..2 GiB - 1
  int32_t max_objects = 4'000'000;                // per shot, 1..100,000,000
  int32_t max_frames = 20'000;                    // per shot, 1..1,000,000
  int32_t max_cameras = 16;                       // per shot, 1..1000
  int32_t ping_after_s = 20;                      // a silent connection is asked for a sign of life, 1..86,400
  int32_t drain_pause_ms = 1000;                  // NOT_SERVING before calls are refused, 0..600,000
  int32_t drain_deadline_ms = 30'000;             // then running calls have this long, 0..3,600,000
  // Live sessions. What one identity may have in all of them: sessions (1..100,000), objects (1..100,000,000), MiB of
  // memory (1..10,000,000). How long one is kept without a stream (0..86,400), MiB of depth maps one keeps
  // (0..1,000,000), and how long no edit comes before a final plan is begun (0..60,000).
  int32_t live_sessions = 64;
  int32_t live_objects = 4'000'000;
  int32_t live_memory_mb = 12'288;
  int32_t live_keep_s = 300;
  int32_t live_maps_mb = 256;
  int32_t live_final_after_ms = 150;
  std::string policy_directory = ".";  // holds classes.yaml, rates.yaml and style/
  std::string default_style = "ink";   // for shots that name none
};

// Reads text; faults as in policy/load.h. Thread-safe.
std::optional<DaemonConfig> ParseDaemonConfig(std::string_view text, std::string_view file_name,
                                              Violations& violations);

// Reads a file. A relative policy_directory is taken from the file's own folder, not from where the daemon was started.
std::optional<DaemonConfig> LoadDaemonConfig(const std::string& path, Violations& violations);

// nullopt where the address has one of the forms of DaemonConfig::listen; else what is wrong, "got ..., want ...".
std::optional<std::string> ListenAddressFault(std::string_view address);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_DAEMON_CONFIG_H_
