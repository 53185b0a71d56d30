// Flags are declared with the same names and ranges as the keys of scantlingd.yaml. A flag not given leaves an empty
// optional, so that the file's value (or the default) stands.

#include "server/daemon/command_line.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <filesystem>
#include <iostream>
#include <optional>
#include <system_error>
#include <thread>
#include <utility>
#include <vector>

#include "CLI/CLI.hpp"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "server/daemon/address.h"

namespace scantling {
namespace {

namespace fs = std::filesystem;

constexpr const char* kDescription =
    "scantlingd: budgets the level of detail of everything in an animated shot.\n"
    "Serves scantling.v1.ShotPlanner over gRPC, with health checks and reflection.";

constexpr const char* kFooter =
    "Listening: without --listen, on the unix socket $XDG_RUNTIME_DIR/scantlingd.sock, or\n"
    "/tmp/scantling-UID/scantlingd.sock where that variable is not set (folder 0700, socket 0600).\n"
    "Only sockets and loopback addresses are taken. Port 0 takes a free port. Once calls are\n"
    "answered, standard output says \"scantlingd listening on ADDRESS\"; the log goes to standard error.\n"
    "\n"
    "Ending: on SIGTERM or SIGINT health answers NOT_SERVING for the drain pause, then new calls are\n"
    "refused and running ones get the drain deadline. A second signal ends the pause, or cancels them.\n"
    "\n"
    "Exit codes: 0 drained; 1 cannot serve (address taken); 2 flags, configuration or address refused.";

struct Flags {
  std::string config_file, config_folder;
  std::optional<std::string> listen, default_style;
  std::optional<LogFormat> log_format;
  std::optional<LogLevel> log_level;
  std::optional<int32_t> threads, max_message_bytes, max_objects, max_frames, max_cameras, drain_pause_ms,
      drain_deadline_ms, ping_after_s, live_sessions, live_objects, live_memory_mb, live_keep_s, live_maps_mb,
      live_final_after_ms;
  bool exit_with_parent = false;
};

struct WholeFlag {
  const char* name;
  std::optional<int32_t> Flags::*value;
  int64_t least, most;
  const char* help;
};

constexpr std::array<WholeFlag, 14> kWholeFlags = {{
    {"--threads", &Flags::threads, 0, 1024, "threads that compute plans; 0: one per core"},
    {"--max-message-bytes", &Flags::max_message_bytes, 65536, 2147483647, "largest message taken or sent"},
    {"--max-objects", &Flags::max_objects, 1, 100'000'000, "most objects of a shot"},
    {"--max-frames", &Flags::max_frames, 1, 1'000'000, "most frames of a shot"},
    {"--max-cameras", &Flags::max_cameras, 1, 1000, "most cameras of a shot"},
    {"--drain-pause-ms", &Flags::drain_pause_ms, 0, 600'000, "NOT_SERVING this long before calls are refused"},
    {"--drain-deadline-ms", &Flags::drain_deadline_ms, 0, 3'600'000, "then running calls have this long to end"},
    {"--ping-after-s", &Flags::ping_after_s, 1, 86'400, "a silent connection is asked for a sign of life"},
    {"--live-sessions", &Flags::live_sessions, 1, 100'000, "live sessions one identity may have"},
    {"--live-objects", &Flags::live_objects, 1, 100'000'000, "objects one identity may have in live sessions"},
    {"--live-memory-mb", &Flags::live_memory_mb, 1, 10'000'000, "MiB one identity's live sessions may take"},
    {"--live-keep-s", &Flags::live_keep_s, 0, 86'400, "seconds a live session is kept without a stream"},
    {"--live-maps-mb", &Flags::live_maps_mb, 0, 1'000'000, "MiB of depth maps a live session keeps"},
    {"--live-final-after-ms", &Flags::live_final_after_ms, 0, 60'000, "without edits before a final plan is begun"},
}};

template <typename Value>
struct Word {
  const char* word;
  Value value;
};

constexpr std::array<Word<LogFormat>, 2> kLogFormats = {{{"human", LogFormat::kHuman}, {"json", LogFormat::kJson}}};
constexpr std::array<Word<LogLevel>, 4> kLogLevels = {{{"debug", LogLevel::kDebug},
                                                       {"info", LogLevel::kInfo},
                                                       {"warning", LogLevel::kWarning},
                                                       {"error", LogLevel::kError}}};

// CLI11's own mapping of words prints the enumerators behind them as raw bytes, in help and in refusals.
template <typename Value, size_t n>
void DeclareWord(CLI::App& app, const char* name, std::optional<Value>& value, const std::array<Word<Value>, n>& words,
                 const char* help) {
  std::vector<std::string> known;
  for (const Word<Value>& word : words) known.emplace_back(word.word);
  const auto take = [&value, &words](const std::string& given) {
    for (const Word<Value>& word : words) {
      if (given == word.word) value = word.value;
    }
  };
  app.add_option_function<std::string>(name, take, help)
      ->check(CLI::IsMember(known).description(""))
      ->type_name(absl::StrJoin(known, "|"));
}

void Declare(CLI::App& app, Flags& flags) {
  app.set_version_flag("--version", "scantlingd " SCANTLING_VERSION);
  app.footer(kFooter);
  app.option_defaults()->multi_option_policy(CLI::MultiOptionPolicy::TakeLast);  // a script's flags, then one's own
  app.add_option("--config", flags.config_file, "settings; default: scantlingd.yaml in the configuration folder")
      ->type_name("FILE");
  app.add_option("--config-dir", flags.config_folder,
                 "folder of classes.yaml, rates.yaml and style/; default: the one installed with the program")
      ->type_name("DIR");
  app.add_option("--listen", flags.listen, "unix:PATH, HOST:PORT or [IPv6]:PORT")->type_name("ADDRESS");
  app.add_option("--default-style", flags.default_style, "style of shots that name none")->type_name("NAME");
  DeclareWord(app, "--log-format", flags.log_format, kLogFormats, "how the log is written");
  DeclareWord(app, "--log-level", flags.log_level, kLogLevels, "least grave lines written");
  for (const WholeFlag& flag : kWholeFlags) {
    app.add_option(flag.name, flags.*flag.value, flag.help)
        ->check(CLI::Range(flag.least, flag.most).description(""))
        ->type_name(absl::StrCat(flag.least, "..", flag.most));
  }
  app.add_flag("--exit-with-parent", flags.exit_with_parent,
               "end at once when the process that started this one ends, and without a drain pause in any case");
}

// Flags over what the file said.
void Overlay(const Flags& flags, DaemonConfig& config) {
  const auto set = [](const auto& flag, auto& value) {
    if (flag) value = *flag;
  };
  if (flags.exit_with_parent) config.drain_pause_ms = 0;
  set(flags.listen, config.listen);
  set(flags.default_style, config.default_style);
  set(flags.log_format, config.log_format);
  set(flags.log_level, config.log_level);
  set(flags.threads, config.threads);
  set(flags.max_message_bytes, config.max_message_bytes);
  set(flags.max_objects, config.max_objects);
  set(flags.max_frames, config.max_frames);
  set(flags.max_cameras, config.max_cameras);
  set(flags.drain_pause_ms, config.drain_pause_ms);
  set(flags.drain_deadline_ms, config.drain_deadline_ms);
  set(flags.ping_after_s, config.ping_after_s);
  set(flags.live_sessions, config.live_sessions);
  set(flags.live_objects, config.live_objects);
  set(flags.live_memory_mb, config.live_memory_mb);
  set(flags.live_keep_s, config.live_keep_s);
  set(flags.live_maps_mb, config.live_maps_mb);
  set(flags.live_final_after_ms, config.live_final_after_ms);
  if (config.threads == 0) config.threads = static_cast<int32_t>(std::max(1u, std::thread::hardware_concurrency()));
}

ExitCode Refuse(const std::string& why) {
  std::cerr << "scantlingd: " << why << "\n";
  return kExitUsage;
}

std::variant<Settings, ExitCode> Merge(const Flags& flags) {
  const std::string folder = flags.config_folder.empty() ? DefaultConfigFolder() : flags.config_folder;
  std::string file = flags.config_file;
  std::error_code ignored;
  if (file.empty() && !folder.empty() && fs::exists(folder + "/scantlingd.yaml", ignored)) {
    file = folder + "/scantlingd.yaml";
  }
  Settings settings;
  settings.config.policy_directory = folder;
  if (!file.empty()) {
    Violations violations;
    std::optional<DaemonConfig> read = LoadDaemonConfig(file, violations);
    for (const Violation& fault : violations.listed()) Refuse(fault.field + ": " + fault.description);
    if (!read) return kExitUsage;
    settings.config = *std::move(read);
    if (!flags.config_folder.empty()) settings.config.policy_directory = flags.config_folder;
  }
  if (settings.config.policy_directory.empty()) return Refuse("found no configuration folder, want --config-dir DIR");
  Overlay(flags, settings.config);
  settings.exit_with_parent = flags.exit_with_parent;
  return settings;
}

}  // namespace

std::variant<Settings, ExitCode> ReadCommandLine(int argc, const char* const* argv) {
  Flags flags;
  CLI::App app(kDescription, "scantlingd");
  Declare(app, flags);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& end) {
    return app.exit(end) == 0 ? kExitDone : kExitUsage;
  }
  return Merge(flags);
}

std::string DefaultConfigFolder() {
  std::error_code fault;
  const fs::path program = fs::read_symlink("/proc/self/exe", fault);
  std::vector<fs::path> places;
  if (!fault) {
    const fs::path above = program.parent_path().parent_path();
    places = {above / "share" / "scantling", above / "config"};
  }
  places.emplace_back(SCANTLING_CONFIG_DIR);
  for (const fs::path& place : places) {
    if (fs::exists(place / "classes.yaml", fault)) return place.string();
  }
  return "";
}

}  // namespace scantling
