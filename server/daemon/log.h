// The daemon's log: events with fields, as readable lines or as JSON lines, on standard error.
//
//   log.Write(LogLevel::kInfo, "listening", {{"address", "unix:/run/scantling/scantlingd.sock"}});
//   human   2026-03-01 09:30:12.345 info  listening address=unix:/run/scantling/scantlingd.sock
//   json    {"time":"2026-03-01T09:30:12.345Z","level":"info","event":"listening","address":"unix:/run/..."}
//
// Whatever a caller sent is escaped in both forms: no field can break a line or forge another.

#ifndef SCANTLING_SERVER_DAEMON_LOG_H_
#define SCANTLING_SERVER_DAEMON_LOG_H_

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "server/policy/daemon_config.h"

namespace spdlog {
class logger;
}

namespace scantling {

using LogValue = std::variant<std::string, int64_t, double>;

// Insertion order is kept. Names are the code's own: letters and underscores.
using LogFields = std::vector<std::pair<std::string_view, LogValue>>;

struct LogEvent {
  std::chrono::system_clock::time_point time;
  LogLevel level = LogLevel::kInfo;
  std::string_view event;
  LogFields fields;
};

// One line without its end, in UTC. Bytes that are no UTF-8 become U+FFFD.
std::string HumanLine(const LogEvent& event);
std::string JsonLine(const LogEvent& event);

// Thread-safe. Copies write to the same place.
class Log {
 public:
  Log(LogFormat format, LogLevel least);

  void Write(LogLevel level, std::string_view event, LogFields fields) const;

 private:
  LogFormat format_;
  LogLevel least_;
  std::shared_ptr<spdlog::logger> logger_;
};

// Routes what gRPC and protobuf report into `log`, which must outlive the process's use of them: one line each, of the
// log's own form. gRPC's errors are warnings here; a daemon goes on after them. What protobuf says of messages sent is
// for debugging.
void RouteGrpcLog(const Log* log);

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_LOG_H_
