// scantlingd.yaml -> DaemonConfig.
//
// Every key may be left out, so an empty file is a good one. Bounds are there to catch slips (a thread count in the
// thousands, a pause in seconds) rather than to allow what a machine could bear.
//
// Addresses are checked for their form only; whether one can be bound is found out by binding it.

#include "server/policy/daemon_config.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <filesystem>

#include "absl/strings/str_cat.h"
#include "server/policy/read_file.h"
#include "server/policy/yaml_reader.h"

namespace scantling {
namespace {

constexpr std::array<std::string_view, 2> kLogFormats = {"human", "json"};
constexpr std::array<std::string_view, 4> kLogLevels = {"debug", "info", "warning", "error"};
constexpr std::string_view kUnixPrefix = "unix:";
// sun_path holds 108 bytes with its closing zero. Source: Linux man-pages, unix(7).
constexpr size_t kMostSocketPathBytes = 107;
// gRPC takes message sizes as int.
constexpr int32_t kMostMessageBytes = 2'147'483'647;

bool IsPort(std::string_view text) {
  int port = -1;
  const auto [stopped, error] = std::from_chars(text.data(), text.data() + text.size(), port);
  return error == std::errc() && stopped == text.data() + text.size() && port >= 0 && port <= 65535;
}

bool IsHost(std::string_view host) {
  if (host.size() > 2 && host.front() == '[' && host.back() == ']')
    host = host.substr(1, host.size() - 2);
  else if (host.find(':') != std::string_view::npos)
    return false;  // an IPv6 address goes in brackets
  return !host.empty() && host.size() <= 253 && std::all_of(host.begin(), host.end(), [](unsigned char c) {
    return (c >= '0' && c <= '9') || ((c | 0x20) >= 'a' && (c | 0x20) <= 'z') || c == '.' || c == '-' || c == ':' ||
           c == '_';
  });
}

void ReadLimits(YamlReader& reader, DaemonConfig& config) {
  config.threads = reader.Integer("threads", Between(0, 1024), config.threads);
  config.max_message_bytes =
      reader.Integer("max_message_bytes", Between(65'536, kMostMessageBytes), config.max_message_bytes);
  config.max_objects = reader.Integer("max_objects", Between(1, 1e8), config.max_objects);
  config.max_frames = reader.Integer("max_frames", Between(1, 1e6), config.max_frames);
  config.max_cameras = reader.Integer("max_cameras", Between(1, 1000), config.max_cameras);
  config.drain_pause_ms = reader.Integer("drain_pause_ms", Between(0, 600'000), config.drain_pause_ms);
  config.ping_after_s = reader.Integer("ping_after_s", Between(1, 86'400), config.ping_after_s);
  config.live_sessions = reader.Integer("live_sessions", Between(1, 100'000), config.live_sessions);
  config.live_objects = reader.Integer("live_objects", Between(1, 1e8), config.live_objects);
  config.live_memory_mb = reader.Integer("live_memory_mb", Between(1, 1e7), config.live_memory_mb);
  config.live_keep_s = reader.Integer("live_keep_s", Between(0, 86'400), config.live_keep_s);
  config.live_maps_mb = reader.Integer("live_maps_mb", Between(0, 1e6), config.live_maps_mb);
  config.live_final_after_ms = reader.Integer("live_final_after_ms", Between(0, 60'000), config.live_final_after_ms);
  config.drain_deadline_ms = reader.Integer("drain_deadline_ms", Between(0, 3'600'000), config.drain_deadline_ms);
}

void ReadListen(YamlReader& reader, DaemonConfig& config) {
  config.listen = reader.Text("listen", {4096, false, true}, config.listen);
  if (config.listen.empty()) return;
  if (std::optional<std::string> fault = ListenAddressFault(config.listen)) reader.Fault("listen", *std::move(fault));
}

}  // namespace

std::optional<std::string> ListenAddressFault(std::string_view address) {
  if (address.substr(0, kUnixPrefix.size()) == kUnixPrefix) {
    const size_t bytes = address.size() - kUnixPrefix.size();
    if (bytes >= 1 && bytes <= kMostSocketPathBytes) return std::nullopt;
    return absl::StrCat("got a socket path of ", bytes, " bytes, want 1 to ", kMostSocketPathBytes);
  }
  const size_t colon = address.rfind(':');
  if (colon != std::string_view::npos && IsHost(address.substr(0, colon)) && IsPort(address.substr(colon + 1))) {
    return std::nullopt;
  }
  return absl::StrCat("got ", Quoted(address),
                      ", want unix:PATH, HOST:PORT or [IPv6]:PORT with a port from 0 to 65535");
}

std::optional<DaemonConfig> ParseDaemonConfig(std::string_view text, std::string_view file_name,
                                              Violations& violations) {
  const size_t faults_before = violations.count();
  const std::optional<YamlNode> root = ParseYaml(text, file_name, violations);
  if (!root) return std::nullopt;
  YamlReader reader(*root, file_name, violations);
  DaemonConfig config;
  ReadListen(reader, config);
  config.log_format = static_cast<LogFormat>(reader.Choice("log_format", kLogFormats, 0));
  config.log_level = static_cast<LogLevel>(reader.Choice("log_level", kLogLevels, 1));
  ReadLimits(reader, config);
  config.policy_directory = reader.Text("policy_directory", PathRule(), config.policy_directory);
  config.default_style = reader.Text("default_style", NameRule(), config.default_style);
  reader.Finish();
  if (violations.count() != faults_before) return std::nullopt;
  return config;
}

std::optional<DaemonConfig> LoadDaemonConfig(const std::string& path, Violations& violations) {
  const std::optional<std::string> text = ReadConfigFile(path, violations);
  if (!text) return std::nullopt;
  std::optional<DaemonConfig> config = ParseDaemonConfig(*text, path, violations);
  if (!config) return std::nullopt;
  const std::filesystem::path given = config->policy_directory;
  const std::filesystem::path folder = std::filesystem::path(path).parent_path();
  if (given.is_relative()) config->policy_directory = (folder / given).lexically_normal().string();
  return config;
}

}  // namespace scantling
