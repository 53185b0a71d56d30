// scantlingd: reads what is to be done, wires it up, serves until told to end.
//
// Composition root: everything is made here, in the order it is needed, and nothing is decided. The order also is the
// order of life: the server ends first, then the service with its lanes, then the policy they read.

#include <iostream>
#include <memory>
#include <optional>
#include <string>
#include <variant>

#include "server/daemon/address.h"
#include "server/daemon/command_line.h"
#include "server/daemon/drain.h"
#include "server/daemon/log.h"
#include "server/daemon/request_log.h"
#include "server/daemon/server.h"
#include "server/daemon/signals.h"
#include "server/policy/load.h"
#include "server/rpc/planner_service.h"

namespace scantling {
namespace {

int Refuse(const absl::Status& status, ExitCode code) {
  std::cerr << "scantlingd: " << status.message() << "\n";
  return code;
}

SceneLimits LimitsOf(const DaemonConfig& config) {
  SceneLimits limits;
  limits.objects = config.max_objects;
  limits.frames = config.max_frames;
  limits.cameras = config.max_cameras;
  return limits;
}

LiveSettings LiveSettingsOf(const DaemonConfig& config) {
  LiveSettings settings;
  settings.sessions.sessions = config.live_sessions;
  settings.sessions.objects = config.live_objects;
  settings.sessions.bytes = int64_t{config.live_memory_mb} << 20;
  settings.sessions.keep = std::chrono::seconds(config.live_keep_s);
  settings.map_bytes = static_cast<size_t>(config.live_maps_mb) << 20;
  settings.final_after = std::chrono::milliseconds(config.live_final_after_ms);
  return settings;
}

int Serve(const Settings& settings, const ListenAddress& listen, const Policy& policy, EndSignals& signals) {
  const DaemonConfig& config = settings.config;
  const Log log(config.log_format, config.log_level);
  RouteGrpcLog(&log);
  RunningCalls running([&log](const CallRecord& record) { WriteCall(log, record); });
  Lanes lanes(config.threads);
  LiveSessions live(policy, LimitsOf(config), lanes, LiveSettingsOf(config));
  PlannerService planner({policy, LimitsOf(config), lanes, running}, live.parts());

  const std::string name(v1::ShotPlanner::service_full_name());
  auto server = RunningServer::Start(listen, {{name, &planner}},
                                     {config.max_message_bytes, std::chrono::seconds(config.ping_after_s)});
  if (!server.ok()) {
    return Refuse(server.status(), absl::IsInvalidArgument(server.status()) ? kExitUsage : kExitCannotServe);
  }
  log.Write(LogLevel::kInfo, "listening",
            {{"address", (*server)->address()},
             {"threads", int64_t{config.threads}},
             {"policy", config.policy_directory},
             {"rate_card", policy.rates.name}});
  std::cout << "scantlingd listening on " << (*server)->address() << std::endl;

  ServeUntilDrained(
      {**server, [&] { running.CancelAll(); }, [&] { return static_cast<int64_t>(running.count()); }}, signals,
      {std::chrono::milliseconds(config.drain_pause_ms), std::chrono::milliseconds(config.drain_deadline_ms)}, log);
  server->reset();
  RouteGrpcLog(nullptr);
  return kExitDone;
}

int Main(int argc, const char* const* argv) {
  const std::variant<Settings, ExitCode> read = ReadCommandLine(argc, argv);
  if (const ExitCode* code = std::get_if<ExitCode>(&read)) return *code;
  const Settings& settings = std::get<Settings>(read);
  EndSignals signals(settings.exit_with_parent);

  const absl::StatusOr<ListenAddress> listen = ResolveListen(settings.config.listen);
  if (!listen.ok()) return Refuse(listen.status(), kExitUsage);
  const absl::StatusOr<Policy> policy = LoadPolicy(settings.config.policy_directory, settings.config.default_style);
  if (!policy.ok()) return Refuse(policy.status(), kExitUsage);
  return Serve(settings, *listen, *policy, signals);
}

}  // namespace
}  // namespace scantling

int main(int argc, char** argv) { return scantling::Main(argc, argv); }
