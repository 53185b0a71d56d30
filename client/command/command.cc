// What all subcommands share at their end: one way to fail, one way to print.
//
// Standard output holds results and nothing else; whatever is said about them goes to standard error.

#include "client/command/command.h"

#include <cstdio>

#include "client/library/shot_file.h"
#include "google/protobuf/util/json_util.h"

namespace scantling::client {
namespace {

std::string Json(const google::protobuf::Message& message, bool indented) {
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = indented;
  options.always_print_primitive_fields = true;
  options.preserve_proto_field_names = true;
  std::string out;
  // Cannot fail: the messages hold no Any, Timestamp or other kind with values that have no JSON form.
  const auto printed = google::protobuf::util::MessageToJsonString(message, &out, options);
  if (!printed.ok()) std::fprintf(stderr, "scantling: %s\n", printed.ToString().c_str());
  if (out.empty() || out.back() != '\n') out += '\n';
  return out;
}

}  // namespace

ExitCode Fail(const absl::Status& status) {
  std::fputs(FailureText(status).c_str(), stderr);
  return ExitCodeOf(status);
}

ExitCode Print(const std::string& text) {
  const absl::Status written = WriteContent(text, "-");
  if (written.ok()) return ExitCode::kDone;
  std::fputs(FailureText(written).c_str(), stderr);
  return ExitCode::kFault;
}

std::string JsonOf(const google::protobuf::Message& message) { return Json(message, true); }

std::string JsonLineOf(const google::protobuf::Message& message) { return Json(message, false); }

}  // namespace scantling::client
