// Field names are short and stable: log collectors index them.

#include "server/daemon/request_log.h"

#include <array>
#include <string>

namespace scantling {
namespace {

struct StageField {
  std::string_view stage, field;
};

constexpr std::array<StageField, 5> kStageFields = {{{"measuring", "measuring_ms"},
                                                     {"pricing", "pricing_ms"},
                                                     {"choosing", "choosing_ms"},
                                                     {"solving", "solving_ms"},
                                                     {"answering", "answering_ms"}}};

LogLevel LevelOf(grpc::StatusCode code) {
  switch (code) {
    case grpc::StatusCode::INTERNAL:
    case grpc::StatusCode::UNKNOWN:
    case grpc::StatusCode::RESOURCE_EXHAUSTED:
    case grpc::StatusCode::UNAVAILABLE:
      return LogLevel::kWarning;
    default:
      return LogLevel::kInfo;
  }
}

}  // namespace

LogEvent CallEvent(const CallRecord& record) {
  LogEvent event{std::chrono::system_clock::now(), LevelOf(record.code), "call", {}};
  event.fields = {{"method", std::string(record.method)},
                  {"status", std::string(CodeName(record.code))},
                  {"shot", record.shot_id},
                  {"objects", record.objects},
                  {"frames", int64_t{record.frames}},
                  {"peer", record.peer},
                  {"ms", record.total_ms},
                  {"wait_ms", record.waited_ms}};
  for (const StageClock& clock : record.stages) {
    for (const StageField& known : kStageFields) {
      if (clock.stage == known.stage) event.fields.emplace_back(known.field, clock.milliseconds);
    }
  }
  if (!record.message.empty()) event.fields.emplace_back("message", record.message);
  return event;
}

void WriteCall(const Log& log, const CallRecord& record) {
  LogEvent event = CallEvent(record);
  log.Write(event.level, event.event, std::move(event.fields));
}

}  // namespace scantling
