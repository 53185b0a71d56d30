// Lines are made here and handed to spdlog whole ("%v"): spdlog's own patterns escape nothing, and a shot's name with a
// line break in it would otherwise forge a second event.

#include "server/daemon/log.h"

#include <cmath>
#include <ctime>
#include <iterator>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "google/protobuf/stubs/logging.h"
#include "grpc/support/log.h"
#include "nlohmann/json.hpp"
#include "spdlog/logger.h"
#include "spdlog/sinks/stdout_sinks.h"

namespace scantling {
namespace {

using Json = nlohmann::ordered_json;

std::string_view LevelName(LogLevel level) {
  switch (level) {
    case LogLevel::kDebug:
      return "debug";
    case LogLevel::kInfo:
      return "info";
    case LogLevel::kWarning:
      return "warning";
    case LogLevel::kError:
      return "error";
  }
  return "error";
}

spdlog::level::level_enum SpdlogLevel(LogLevel level) {
  switch (level) {
    case LogLevel::kDebug:
      return spdlog::level::debug;
    case LogLevel::kInfo:
      return spdlog::level::info;
    case LogLevel::kWarning:
      return spdlog::level::warn;
    case LogLevel::kError:
      return spdlog::level::err;
  }
  return spdlog::level::err;
}

// "2026-03-01T09:30:12.345", UTC, with `separator` for the T.
std::string Timestamp(std::chrono::system_clock::time_point time, char separator) {
  const auto since = std::chrono::duration_cast<std::chrono::milliseconds>(time.time_since_epoch()).count();
  const std::time_t seconds = since / 1000;
  std::tm utc = {};
  gmtime_r(&seconds, &utc);
  return absl::StrFormat("%04d-%02d-%02d%c%02d:%02d:%02d.%03d", utc.tm_year + 1900, utc.tm_mon + 1, utc.tm_mday,
                         separator, utc.tm_hour, utc.tm_min, utc.tm_sec, since % 1000);
}

// JSON knows no infinity and no NaN; they become null.
Json ToJson(const LogValue& value) {
  return std::visit([](const auto& held) { return Json(held); }, value);
}

std::string Dump(const Json& json) { return json.dump(-1, ' ', false, Json::error_handler_t::replace); }

bool NeedsQuotes(std::string_view text) {
  for (const unsigned char c : text) {
    if (c <= ' ' || c == '"' || c == '\\' || c == '=' || c >= 0x7f) return true;
  }
  return text.empty();
}

std::string HumanValue(const LogValue& value) {
  if (const auto* text = std::get_if<std::string>(&value)) return NeedsQuotes(*text) ? Dump(Json(*text)) : *text;
  if (const auto* whole = std::get_if<int64_t>(&value)) return absl::StrCat(*whole);
  return absl::StrFormat("%.3g", std::get<double>(value));
}

const Log* grpc_log = nullptr;

void WriteGrpcLine(gpr_log_func_args* args) {
  const LogLevel level = args->severity == GPR_LOG_SEVERITY_ERROR ? LogLevel::kWarning : LogLevel::kDebug;
  grpc_log->Write(level, "grpc", {{"message", std::string(args->message)}});
}

// Its complaints are about what was sent (a string that is no UTF-8); the caller is told by the refusal.
void WriteProtobufLine(google::protobuf::LogLevel, const char*, int, const std::string& message) {
  grpc_log->Write(LogLevel::kDebug, "protobuf", {{"message", message}});
}

}  // namespace

std::string HumanLine(const LogEvent& event) {
  const std::string_view level = LevelName(event.level);
  std::string line =
      absl::StrFormat("%s %-7s %s", Timestamp(event.time, ' '), absl::string_view(level.data(), level.size()),
                      absl::string_view(event.event.data(), event.event.size()));
  for (const auto& [name, value] : event.fields) {
    absl::StrAppend(&line, " ", absl::string_view(name.data(), name.size()), "=", HumanValue(value));
  }
  return line;
}

std::string JsonLine(const LogEvent& event) {
  Json line;
  line["time"] = Timestamp(event.time, 'T') + "Z";
  line["level"] = std::string(LevelName(event.level));
  line["event"] = std::string(event.event);
  for (const auto& [name, value] : event.fields) line[std::string(name)] = ToJson(value);
  return Dump(line);
}

Log::Log(LogFormat format, LogLevel least)
    : format_(format),
      least_(least),
      logger_(std::make_shared<spdlog::logger>("scantlingd", std::make_shared<spdlog::sinks::stderr_sink_mt>())) {
  logger_->set_pattern("%v");
  logger_->set_level(SpdlogLevel(least));
  logger_->flush_on(spdlog::level::trace);
}

void Log::Write(LogLevel level, std::string_view event, LogFields fields) const {
  if (level < least_) return;
  const LogEvent whole{std::chrono::system_clock::now(), level, event, std::move(fields)};
  const std::string line = format_ == LogFormat::kJson ? JsonLine(whole) : HumanLine(whole);
  logger_->log(SpdlogLevel(level), spdlog::string_view_t(line.data(), line.size()));
}

void RouteGrpcLog(const Log* log) {
  grpc_log = log;
  gpr_set_log_function(log == nullptr ? nullptr : WriteGrpcLine);
  google::protobuf::SetLogHandler(log == nullptr ? nullptr : WriteProtobufLine);
}

}  // namespace scantling
