// Puts the demonstration shot together: the shot's own facts, its camera, then every object, role by role.
//
// Nothing is kept but the message being filled: each object is staged from its own random stream and written at once.
// Objects stand in role order, containers before what they hold; a lone object is the lamplighter.

#include "client/sample/sample.h"

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "client/sample/camera.h"
#include "client/sample/particulars.h"
#include "client/sample/staging.h"
#include "client/sample/write.h"

namespace scantling {
namespace {

constexpr int kFirstFrame = 1001;
constexpr int kMostPixels = 65'536;

void CheckRange(const char* name, int got, int most, std::vector<std::string>& faults) {
  if (got < 1 || got > most) faults.push_back(absl::StrCat(name, ": got ", got, ", want 1 to ", most));
}

void SetFacts(const SampleOptions& options, v1::Shot* shot) {
  shot->set_shot_id("qy_0100");
  shot->set_sequence_id("qy");
  shot->mutable_frames()->set_first(kFirstFrame);
  shot->mutable_frames()->set_last(kFirstFrame + options.frames - 1);
  shot->mutable_rate()->set_numerator(static_cast<int>(sample::kFramesPerSecond));
  shot->mutable_rate()->set_denominator(1);
  shot->mutable_backdrop_colour()->set_red(58);  // the sky at dusk
  shot->mutable_backdrop_colour()->set_green(66);
  shot->mutable_backdrop_colour()->set_blue(98);
  shot->add_interest()->set_object_id("lamplighter");
  sample::AddBeats(shot->frames(), shot);
}

// Starting values, invented: low enough to say no more than that market and deck are not emptied, and in no corner of
// the picture. A shot too small for one of the classes has no crowd of it.
void AddCrowds(const sample::RoleCounts& counts, v1::Shot* shot) {
  const auto add = [&](const char* name, sample::Role role, double keep_share) -> v1::Crowd* {
    if (counts[static_cast<size_t>(role)] == 0) return nullptr;
    v1::Crowd* crowd = shot->add_crowds();
    crowd->set_name(name);
    crowd->add_class_names(sample::TraitsOf(role).class_name);
    crowd->set_keep_share(keep_share);
    return crowd;
  };
  if (v1::Crowd* market = add("quay_crowd", sample::Role::kPerson, 0.25)) {
    market->set_cell_columns(4);
    market->set_cell_rows(2);
    market->set_least_covered_share(0.1);
  }
  if (v1::Crowd* deck = add("ferry_passengers", sample::Role::kPassenger, 0.25)) {
    deck->set_cell_columns(2);
    deck->set_cell_rows(1);
  }
}

}  // namespace

absl::Status CheckSampleOptions(const SampleOptions& options) {
  std::vector<std::string> faults;
  CheckRange("objects", options.objects, kMostSampleObjects, faults);
  CheckRange("frames", options.frames, kMostSampleFrames, faults);
  CheckRange("width_px", options.width_px, kMostPixels, faults);
  CheckRange("height_px", options.height_px, kMostPixels, faults);
  if (faults.empty()) return absl::OkStatus();
  return absl::InvalidArgumentError(absl::StrJoin(faults, "; "));
}

v1::Shot MakeSample(const SampleOptions& options) {
  v1::Shot shot;
  if (!CheckSampleOptions(options).ok()) return shot;
  SetFacts(options, &shot);
  *shot.add_cameras() = sample::MakeCamera(options);
  const sample::Set set = sample::PlanSet(options);
  AddCrowds(set.counts, &shot);
  const bool blocks = options.blocks || options.objects > kMostSampleRows;
  sample::BlockWriter writer(options.frames, &shot);
  for (int r = 0; r < sample::kRoles; ++r) {
    for (int index = 0; index < set.counts[r]; ++index) {
      const sample::Staged object = sample::Stage(set, static_cast<sample::Role>(r), index);
      v1::Particulars particulars;
      const bool has_some = sample::FillParticulars(set, object, index, shot.frames(), &particulars);
      if (blocks) {
        writer.Add(object);
        if (has_some) writer.SetParticulars(particulars);
      } else {
        v1::SceneObject* row = sample::AddRow(object, options.frames, &shot);
        if (has_some) *row->mutable_particulars() = particulars;
      }
    }
  }
  return shot;
}

}  // namespace scantling
