// scantling check SHOT: every fault, one a line, without planning.
//
// The faults are this command's result, so they go to standard output; the exit code tells whether there were any.

#include <memory>

#include "absl/strings/str_cat.h"
#include "client/command/command.h"
#include "client/command/connection.h"
#include "client/command/units.h"
#include "client/library/faults.h"
#include "client/library/shot_file.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

struct CheckFlags {
  std::string shot;
  std::string format = "text";
  ConnectionFlags connection;
};

absl::StatusOr<v1::CheckShotResponse> Ask(const CheckFlags& flags) {
  absl::StatusOr<v1::Shot> shot = ReadShot(flags.shot);
  if (!shot.ok()) return shot.status();
  v1::CheckShotRequest request;
  request.mutable_shot()->Swap(&*shot);
  const auto session = Session::Open(flags.connection);
  if (!session.ok()) return session.status();
  return (*session)->client().Check(request);
}

std::string CheckText(const v1::CheckShotResponse& answer) {
  std::string text;
  for (const v1::FieldFault& fault : answer.faults()) {
    absl::StrAppend(&text, Printable(fault.field()), ": ", Printable(fault.description()), "\n");
  }
  const int64_t unlisted = answer.fault_count() - answer.faults_size();
  if (unlisted > 0) absl::StrAppend(&text, "and ", Count(unlisted), " more faults\n");
  absl::StrAppend(&text, answer.fault_count() == 0 ? "no faults" : Count(answer.fault_count()) + " fault(s)", ": ",
                  Count(answer.objects()), " objects, ", Count(answer.frames()), " frames, ", Count(answer.cameras()),
                  " camera(s)\n");
  return text;
}

ExitCode RunCheck(const CheckFlags& flags) {
  const absl::StatusOr<v1::CheckShotResponse> answer = Ask(flags);
  if (!answer.ok()) return Fail(answer.status());
  const ExitCode printed = Print(flags.format == "json" ? JsonOf(*answer) : CheckText(*answer));
  if (printed != ExitCode::kDone) return printed;
  return answer->fault_count() == 0 ? ExitCode::kDone : ExitCode::kBadInput;
}

}  // namespace

Command AddCheckCommand(CLI::App& root) {
  auto flags = std::make_shared<CheckFlags>();
  CLI::App* app = root.add_subcommand(
      "check",
      "Check a shot without planning it: every fault with the path of its field. Ends with 3 where there are any");
  app->add_option("SHOT", flags->shot, "File with a scantling.v1.Shot, as for plan; - reads standard input")
      ->required()
      ->type_name("FILE");
  app->add_option("--format", flags->format,
                  "text: one fault a line. json: scantling.v1.CheckShotResponse, field names as in shot_planner.proto")
      ->check(CLI::IsMember({"text", "json"}))
      ->type_name("FORMAT")
      ->capture_default_str();
  AddConnectionFlags(*app, flags->connection);
  return {app, [flags] { return RunCheck(*flags); }};
}

}  // namespace scantling::client
