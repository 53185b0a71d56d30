// scantling import FILE: a shot from glTF 2.0, without a daemon.
//
// The work is done by client/import; here are its flags, and its counts and warnings as sentences on standard error, so
// that standard output holds the shot alone.

#include <cstdio>
#include <memory>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "client/command/command.h"
#include "client/command/shot_output.h"
#include "client/command/units.h"
#include "client/import/import_gltf.h"
#include "client/library/shot_file.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

struct ImportFlags {
  std::string file;
  GltfImportOptions options;
  std::string rate = "24";
  int last_frame = 0;
  CLI::Option* has_last_frame = nullptr;
  bool list_cameras = false;
  OutputFlags output;
};

// "24" or "24000/1001" into a fraction with both parts above 0.
bool ParseRate(const std::string& text, int& numerator, int& denominator) {
  const size_t slash = text.find('/');
  denominator = 1;
  return absl::SimpleAtoi(text.substr(0, slash), &numerator) && numerator > 0 &&
         (slash == std::string::npos || (absl::SimpleAtoi(text.substr(slash + 1), &denominator) && denominator > 0));
}

std::string RateFault(const std::string& text) {
  int numerator = 0, denominator = 0;
  if (ParseRate(text, numerator, denominator)) return "";
  return absl::StrCat("got \"", Printable(text), "\", want whole frames a second or a fraction, as 24 or 24000/1001");
}

void AddShotFlags(CLI::App& app, GltfImportOptions& options) {
  constexpr char kGroup[] = "Shot";
  app.add_option("--shot-id", options.shot_id, "The shot's id. Default: the file's name without its ending")
      ->type_name("ID")
      ->group(kGroup);
  app.add_option("--sequence-id", options.sequence_id, "The id of its sequence. Default: none")
      ->type_name("ID")
      ->group(kGroup);
  app.add_option("--style", options.style, "Style of the film by its name with the daemon. Default: the daemon's")
      ->type_name("NAME")
      ->group(kGroup);
  app.add_option("--default-class", options.default_class, "Class of objects whose own is absent or unknown")
      ->type_name("NAME")
      ->capture_default_str()
      ->group(kGroup);
  app.add_option("--known-class", options.known_classes,
                 "A class that is known; may be repeated. Other classes become the default with a warning. Without it "
                 "every class named in the file is taken as known")
      ->type_name("NAME")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_flag("--blocks", options.blocks, "Objects in packed columns instead of rows; always so for many")
      ->group(kGroup);
}

void AddFrameFlags(CLI::App& app, ImportFlags& flags) {
  constexpr char kGroup[] = "Frames";
  app.add_option("--rate", flags.rate, "Frames a second, whole or as a fraction: 24, 25, 24000/1001")
      ->check(RateFault)
      ->type_name("RATE")
      ->capture_default_str()
      ->group(kGroup);
  app.add_option("--first-frame", flags.options.first_frame, "The frame at time 0 of the animation")
      ->type_name("FRAME")
      ->capture_default_str()
      ->group(kGroup);
  flags.has_last_frame =
      app.add_option("--last-frame", flags.last_frame, "Default: the frame that reaches the animation's last key")
          ->type_name("FRAME")
          ->group(kGroup);
}

void AddCameraFlags(CLI::App& app, ImportFlags& flags) {
  constexpr char kGroup[] = "Cameras";
  app.add_option("--camera", flags.options.cameras,
                 "A shot camera by its name, where its picture is delivered; may be repeated. Default: the first")
      ->type_name("NAME")
      ->expected(1)
      ->take_all()
      ->group(kGroup);
  app.add_flag("--list-cameras", flags.list_cameras, "Print the cameras of the file, one a line, and make no shot")
      ->group(kGroup);
  app.add_option("--width", flags.options.width_px, "Width of the delivered picture, pixels")
      ->check(CLI::Range(1, 65536))
      ->type_name("PX")
      ->capture_default_str()
      ->group(kGroup);
  app.add_option("--height", flags.options.height_px,
                 "Height of the delivered picture, pixels; 0: from the first camera's aspect, or 858 where it has none")
      ->check(CLI::Range(0, 65536))
      ->type_name("PX")
      ->capture_default_str()
      ->group(kGroup);
}

absl::StatusOr<GltfImport> Import(const ImportFlags& flags) {
  GltfImportOptions options = flags.options;
  ParseRate(flags.rate, options.rate_numerator, options.rate_denominator);
  if (flags.has_last_frame->count() > 0) options.last_frame = flags.last_frame;
  if (flags.file != "-") return ImportGltf(flags.file, options);
  const absl::StatusOr<std::string> content = ReadContent(flags.file);
  if (!content.ok()) return content.status();
  return ImportGltfBytes(*content, options);
}

std::string CamerasText(const std::vector<GltfCamera>& cameras) {
  std::string text;
  for (const GltfCamera& camera : cameras) {
    absl::StrAppend(&text, Printable(camera.name), "  ", camera.perspective ? "perspective" : "orthographic",
                    camera.animated ? ", moves" : ", stays", "\n");
  }
  return text;
}

std::string CountsText(const GltfImport& import) {
  const GltfCounts& counts = import.counts;
  std::string text =
      absl::StrCat("scantling: ", Count(counts.objects), " objects from ", Count(counts.nodes), " nodes and ",
                   Count(counts.meshes), " meshes, ", import.shot.cameras_size(), " of ", counts.cameras, " camera(s)");
  if (counts.instances > 0) absl::StrAppend(&text, "; ", Count(counts.instances), " objects by instancing");
  if (counts.without_mesh > 0)
    absl::StrAppend(&text, "; left out ", Count(counts.without_mesh), " nodes without a mesh");
  if (counts.without_extent > 0) absl::StrAppend(&text, "; left out ", Count(counts.without_extent), " without extent");
  text += "\n";
  for (const std::string& warning : import.warnings) absl::StrAppend(&text, "scantling: ", Printable(warning), "\n");
  return text;
}

ExitCode RunImport(const ImportFlags& flags) {
  if (flags.list_cameras && flags.file != "-") {
    const absl::StatusOr<std::vector<GltfCamera>> cameras = ListGltfCameras(flags.file);
    return cameras.ok() ? Print(CamerasText(*cameras)) : Fail(cameras.status());
  }
  const absl::StatusOr<GltfImport> import = Import(flags);
  if (!import.ok()) return Fail(import.status());
  if (flags.list_cameras) return Print(CamerasText(import->cameras));
  std::fputs(CountsText(*import).c_str(), stderr);
  return PutShot(import->shot, flags.output);
}

}  // namespace

Command AddImportCommand(CLI::App& root) {
  auto flags = std::make_shared<ImportFlags>();
  CLI::App* app =
      root.add_subcommand("import",
                          "Make a shot from glTF 2.0 (.gltf with its .bin files, or .glb): every node with a "
                          "mesh becomes an object. Extras of a node, of its mesh or of the nearest node above may "
                          "say class, asset, importance, inner_box (share of its box that hides, 0 to 1) and "
                          "hold_group, each also as scantling_class and so on. Counts and warnings go to standard "
                          "error. Needs no daemon");
  app->add_option("FILE", flags->file, "File in glTF 2.0, metres; - reads standard input")
      ->required()
      ->type_name("FILE");
  AddOutputFlags(*app, flags->output);
  AddCameraFlags(*app, *flags);
  AddFrameFlags(*app, *flags);
  AddShotFlags(*app, flags->options);
  return {app, [flags] { return RunImport(*flags); }};
}

}  // namespace scantling::client
