// The city is made by make_city.py (SUMO), then goes the users' way: `scantling import`, `scantling plan`. The shot
// that was imported is read once more into a Scene, for poses and cameras; that is the only part shared with the
// daemon, and has tests of its own. Rays are cast at boxes, one Embree scene a frame.
//
// A frame counts as missed only where that is beyond chance: few rays find a candidate, then 4,096 more measure the
// share of the box that is seen, and five standard deviations are taken off before it is held against the style's
// smallest area. One of some hundred thousand frames is then called missed wrongly about once in thirty runs if every
// frame stood exactly on the threshold, which hardly any does; the seed is fixed besides.

#include "tests/outside/city/city.h"

#include <google/protobuf/util/json_util.h>

#include <cmath>
#include <cstdlib>
#include <random>
#include <unordered_map>

#include "client/library/shot_file.h"
#include "server/policy/load.h"
#include "server/rpc/convert.h"
#include "server/view/view.h"
#include "tests/outside/view/embree_rays.h"

namespace scantling::city_test {
namespace {

constexpr int kSureRays = 4096;
constexpr double kDeviations = 5;

bool Succeeded(const client::Outcome& outcome, const std::string& what) {
  EXPECT_EQ(outcome.exit_code, 0) << what << "\n" << outcome.out.substr(0, 2000) << outcome.err.substr(0, 2000);
  return outcome.exit_code == 0;
}

void Link(PlannedCity& city) {
  std::unordered_map<std::string_view, const v1::Decision*> by_id;
  for (const v1::Decision& decision : city.plan.decisions()) by_id[decision.object_id()] = &decision;
  for (uint32_t row = 0; row < city.scene.objects.size(); ++row) {
    const auto found = by_id.find(city.scene.objects.id[row]);
    EXPECT_NE(found, by_id.end()) << city.scene.objects.id[row];
    city.decision_of.push_back(found == by_id.end() ? &v1::Decision::default_instance() : found->second);
  }
}

// Looks at one object in one frame and adds what is found.
class Looker {
 public:
  Looker(const PlannedCity& city, int rays) : city_(city), rays_(rays) {}

  void Look(const view_test::EmbreeRays& embree, uint32_t row, int32_t frame_index, Sighting& sighting) {
    const Scene& scene = city_.scene;
    const CameraView view = ViewOf(scene.cameras[0], frame_index);
    const PoseChunk& chunk = scene.chunks[scene.objects.chunk[row]];
    const ObjectView measured = MeasureObject(chunk, scene.objects.lane[row], frame_index, view);
    const double own_px = measured.rendered_px * city_.class_of(row).solidity;
    if ((measured.flags & kInFrame) == 0 || !(own_px > city_.style->smallest_covered_px)) return;
    const int32_t frame = scene.frames.first + frame_index;
    const bool seen = Contains(SpansOf(city_.decision_of[row]->seen()), frame);
    const int reached = embree.Look(row, rays_, random_).reached;
    sighting.reached += reached;
    sighting.seen += seen;
    sighting.seen_unmet += seen && reached == 0;
    sighting.blocked_behind += reached == 0;
    sighting.blocked_unseen += reached == 0 && !seen;
    if (seen || reached == 0) return;
    const view_test::EmbreeRays::Count sure = embree.Look(row, kSureRays, random_);
    const double share = static_cast<double>(sure.reached) / std::max(sure.met, 1);
    const double deviation = std::sqrt(share * (1 - share) / std::max(sure.met, 1));
    if (own_px * (share - kDeviations * deviation) > city_.style->smallest_covered_px) sighting.missed.push_back(frame);
  }

 private:
  const PlannedCity& city_;
  const int rays_;
  std::mt19937_64 random_{1};
};

}  // namespace

FrameSpans SpansOf(const google::protobuf::RepeatedPtrField<v1::FrameRange>& ranges) {
  FrameSpans spans;
  for (const v1::FrameRange& range : ranges) spans.push_back({range.first(), range.last()});
  return spans;
}

bool StandsIn(const Scene& scene, uint32_t row, const FrameSpans& frames) {
  const PoseChunk& chunk = scene.chunks[scene.objects.chunk[row]];
  const int32_t lane = scene.objects.lane[row];
  const auto same = [&](size_t a, size_t b) {
    bool equal = chunk.centre_x[a] == chunk.centre_x[b] && chunk.centre_y[a] == chunk.centre_y[b] &&
                 chunk.centre_z[a] == chunk.centre_z[b];
    for (const SharedColumn<float>& axis : chunk.axis) equal = equal && axis[a] == axis[b];
    return equal;
  };
  for (const FrameRange& span : frames) {
    for (int32_t frame = span.first; frame <= span.last; ++frame) {
      if (!same(chunk.at(frame - scene.frames.first, lane), chunk.at(frames[0].first - scene.frames.first, lane))) {
        return false;
      }
    }
  }
  return true;
}

std::vector<Sighting> CastRays(const PlannedCity& city, int rays) {
  std::vector<Sighting> sightings(city.scene.objects.size());
  Looker looker(city, rays);
  for (int32_t frame_index = 0; frame_index < city.scene.frames.count(); ++frame_index) {
    const view_test::EmbreeRays embree(city.scene, frame_index);
    for (uint32_t row = 0; row < sightings.size(); ++row) {
      if (city.class_of(row).name != "dwelling") looker.Look(embree, row, frame_index, sightings[row]);
    }
  }
  return sightings;
}

bool CityTest::IsLong() { return std::getenv("SCANTLING_LONG") != nullptr; }

bool CityTest::Plan(PlannedCity& city) {
  const std::string gltf = Folder() + "/city.gltf", shot_file = Folder() + "/city.pb";
  std::vector<std::string> make = {"/usr/bin/env", "python3",  SCANTLING_SOURCE_DIR "/tests/outside/city/make_city.py",
                                   gltf,           "--folder", Folder()};
  if (IsLong()) make.insert(make.end(), {"--count", "5400", "--grid", "13", "--seconds", "10"});
  if (!Succeeded(client::Program(make, {}).Wait(), "make_city.py")) return false;
  if (!Succeeded(Scantling({"import", gltf, "--camera", GetParam(), "--output", shot_file}), "import")) return false;
  const client::Outcome planned = Scantling({"plan", shot_file, "--format", "json"});
  if (!Succeeded(planned, "plan")) return false;
  EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(planned.out, &city.plan).ok());
  const absl::StatusOr<v1::Shot> shot = client::ReadShot(shot_file);
  absl::StatusOr<Policy> policy = LoadPolicy(SCANTLING_SOURCE_DIR "/config", "ink");
  EXPECT_TRUE(shot.ok() && policy.ok());
  if (!shot.ok() || !policy.ok()) return false;
  city.policy = *std::move(policy);
  city.style = city.policy.FindStyle(city.plan.style());
  Violations violations;
  city.scene = SceneFromProto(*shot, city.policy.catalogue, {}, violations);
  EXPECT_NE(city.style, nullptr);
  Link(city);
  return city.style != nullptr && violations.empty();
}

}  // namespace scantling::city_test
