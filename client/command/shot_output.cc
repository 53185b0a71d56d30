// JSON is for people and small shots, and packed columns in JSON are neither small nor readable: so blocks go in the
// binary form unless the reader says otherwise.
//
// Binary bytes are not put on a terminal.

#include "client/command/shot_output.h"

#include <unistd.h>

#include "client/command/command.h"
#include "client/library/shot_file.h"

namespace scantling::client {
namespace {

ShotForm FormFor(const v1::Shot& shot, const OutputFlags& flags) {
  if (flags.format == "json") return ShotForm::kJson;
  if (flags.format == "binary") return ShotForm::kBinary;
  return FormByName(flags.file).value_or(shot.blocks().empty() ? ShotForm::kJson : ShotForm::kBinary);
}

}  // namespace

void AddOutputFlags(CLI::App& app, OutputFlags& flags) {
  app.add_option("--output", flags.file, "File to write, whole or not at all; -: standard output")
      ->type_name("FILE")
      ->capture_default_str();
  app.add_option(
         "--format", flags.format,
         "json, binary, or auto: by the file's name (.json; .pb, .bin, .binpb), else JSON for rows and binary for "
         "blocks")
      ->check(CLI::IsMember({"auto", "json", "binary"}))
      ->type_name("FORMAT")
      ->capture_default_str();
}

ExitCode PutShot(const v1::Shot& shot, const OutputFlags& flags) {
  const ShotForm form = FormFor(shot, flags);
  if (form == ShotForm::kBinary && flags.file == "-" && isatty(STDOUT_FILENO) == 1) {
    return Fail(absl::InvalidArgumentError("got a terminal for a shot in binary form, want --output FILE or a pipe"));
  }
  const absl::StatusOr<std::string> content = SerializeShot(shot, form);
  if (!content.ok()) return Fail(content.status());
  const absl::Status written = WriteContent(*content, flags.file);
  if (written.ok()) return ExitCode::kDone;
  Fail(written);
  return ExitCode::kFault;
}

}  // namespace scantling::client
