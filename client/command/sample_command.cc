// scantling sample: the demonstration shot, at any size, without a daemon.
//
// The shot itself is made by client/sample; the same options give the same bytes on every machine.

#include <memory>

#include "absl/strings/str_cat.h"
#include "client/command/command.h"
#include "client/command/shot_output.h"
#include "client/sample/sample.h"

namespace scantling::client {
namespace {

struct SampleFlags {
  SampleOptions options;
  OutputFlags output;
};

}  // namespace

Command AddSampleCommand(CLI::App& root) {
  auto flags = std::make_shared<SampleFlags>();
  CLI::App* app = root.add_subcommand("sample",
                                      "Make the demonstration shot (a quay at dusk with a ferry, a night market and a "
                                      "hill town; invented) at any size. Needs no daemon");
  SampleOptions& options = flags->options;
  app->add_option("--objects", options.objects, absl::StrCat("Objects to place, 1 to ", kMostSampleObjects))
      ->check(CLI::Range(1, kMostSampleObjects))
      ->type_name("N")
      ->capture_default_str();
  app->add_option("--seed", options.seed, "Any whole number; another seed is another evening on the same quay")
      ->type_name("S")
      ->capture_default_str();
  app->add_option("--frames", options.frames,
                  absl::StrCat("Frames, from 1001 at 24 a second, 1 to ", kMostSampleFrames))
      ->check(CLI::Range(1, kMostSampleFrames))
      ->type_name("N")
      ->capture_default_str();
  app->add_option("--width", options.width_px, "Width of the delivered picture, pixels")
      ->check(CLI::Range(1, 65536))
      ->type_name("PX")
      ->capture_default_str();
  app->add_option("--height", options.height_px, "Height of the delivered picture, pixels")
      ->check(CLI::Range(1, 65536))
      ->type_name("PX")
      ->capture_default_str();
  app->add_flag(
      "--blocks", options.blocks,
      absl::StrCat("Objects in packed columns instead of rows; always so above ", kMostSampleRows, " objects"));
  AddOutputFlags(*app, flags->output);
  return {app, [flags] {
            if (absl::Status status = CheckSampleOptions(flags->options); !status.ok()) return Fail(status);
            return PutShot(MakeSample(flags->options), flags->output);
          }};
}

}  // namespace scantling::client
