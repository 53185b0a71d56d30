// A shot small enough to reckon by hand: objects with given losses and costs, no geometry. For tests of what comes
// after legibility.

#ifndef SCANTLING_TESTS_CHOICE_SMALL_SHOT_H_
#define SCANTLING_TESTS_CHOICE_SMALL_SHOT_H_

#include <algorithm>
#include <numeric>
#include <string>
#include <vector>

#include "server/costing/costing.h"
#include "server/legibility/legibility.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"

namespace scantling::testing {

struct SmallObject {
  std::string id = "";
  std::string container = "";           // empty: none
  PerTier<double> loss = {3, 2, 1, 0};  // OMITTED .. FULL_RIG, frame-octaves
  PerTier<double> hours = {0, 1, 2, 4};
  PerTier<double> core_hours = {0, 0.5, 1, 2};
  PerTier<float> worst_octaves = {0, 0, 0, 0};
  uint16_t class_index = 0;  // 0 "figure", 1 "house" (a set element)
  std::string asset = "";
  Sight sight = Sight::kSeen;
  FrameSpans shadow = {};  // frames in which its shadow is seen
  bool still = false;
};

struct SmallShot {
  Scene scene;
  Legibility legibility;
  Holds holds;
  TierCosts costs;
  Policy policy;
  Style style;
};

inline Policy SmallPolicy() {
  Policy policy;
  policy.catalogue.classes.resize(2);
  policy.catalogue.classes[0].name = "figure";
  policy.catalogue.classes[1].name = "house";
  policy.catalogue.classes[1].kind = ClassKind::kSetElement;
  policy.rates.classes.resize(2);
  policy.rates.classes[0].tier[Index(Tier::kFullRig)].hours_per_second = 1;
  policy.rates.classes[0].tier[Index(Tier::kProxy)].hours_per_second = 0.5;
  policy.rates.money_per_animator_hour = 50;
  policy.rates.money_per_core_hour = 0.05;
  return policy;
}

inline uint32_t AssetIndex(Scene& scene, const std::string& asset) {
  if (asset.empty()) return kNone;
  for (uint32_t i = 0; i < scene.assets.size(); ++i) {
    if (scene.assets[i] == asset) return i;
  }
  scene.assets.Append(asset);
  return static_cast<uint32_t>(scene.assets.size() - 1);
}

inline uint32_t RowOf(const std::vector<SmallObject>& objects, const std::string& id) {
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects[row].id == id) return row;
  }
  return kNone;
}

// On twos, path and poses alike.
inline void AddHold(bool still, Holds& holds) {
  holds.still.push_back(still);
  holds.poses_per_cycle.push_back(6);
  holds.pose.push_back(2);
  holds.path.push_back(2);
  holds.phase.push_back(0);
  holds.split.push_back(PathSplit::kWithPoses);
  holds.path_jump_px.push_back(0);
  holds.contact_slip_px.push_back(0);
}

inline SmallShot MakeSmallShot(const std::vector<SmallObject>& objects) {
  SmallShot shot;
  shot.policy = SmallPolicy();
  shot.scene.frames = {1, 24};
  shot.scene.cameras.resize(1);
  shot.scene.pictures = 1;
  shot.legibility.Resize(objects.size());
  Objects& columns = shot.scene.objects;
  for (uint32_t row = 0; row < objects.size(); ++row) {
    const SmallObject& object = objects[row];
    columns.id.Append(object.id);
    columns.class_index.push_back(object.class_index);
    columns.asset.push_back(AssetIndex(shot.scene, object.asset));
    columns.container.push_back(object.container.empty() ? kNone : RowOf(objects, object.container));
    columns.importance.push_back(1);
    columns.complexity.push_back(1);
    columns.colour.push_back({});
    columns.chunk.push_back(kNone);
    columns.lane.push_back(0);
    columns.measured.push_back(kNone);
    columns.inner_box.push_back(0);
    columns.particulars.push_back(object.shadow.empty() ? kNone : static_cast<uint32_t>(shot.scene.particulars.size()));
    if (!object.shadow.empty()) {
      Particulars particulars;
      particulars.object = row;
      particulars.indirect.push_back({IndirectKind::kShadow, object.shadow});
      shot.scene.particulars.push_back(std::move(particulars));
    }
    AddHold(object.still, shot.holds);
    shot.legibility.sight[row] = object.sight;
    shot.legibility.loss[row].fill(object.loss);
    shot.legibility.worst_octaves[row] = object.worst_octaves;
    shot.costs.anim_hours.push_back(object.hours);
    shot.costs.core_hours.push_back(object.core_hours);
    shot.costs.animated_frames.push_back(24);
    shot.costs.kept_alive.push_back(0);
    shot.costs.full_anim_hours.push_back(object.hours[Index(Tier::kFullRig)]);
    shot.costs.full_core_hours.push_back(object.core_hours[Index(Tier::kFullRig)]);
  }
  columns.canonical.resize(objects.size());
  std::iota(columns.canonical.begin(), columns.canonical.end(), 0u);
  std::sort(columns.canonical.begin(), columns.canonical.end(),
            [&](uint32_t a, uint32_t b) { return columns.id[a] < columns.id[b]; });
  std::vector<LaneFindings> findings(objects.size());
  for (uint32_t row = 0; row < objects.size(); ++row) {
    if (objects[row].sight == Sight::kSeen) findings[row].sections = {{{1, 24}, 100, 0}};
  }
  Assemble(std::move(findings), shot.legibility);
  shot.holds.section.assign(shot.legibility.sections.size(), 2);
  return shot;
}

inline Directive Rule(DirectiveScope scope, std::string target, DirectiveBound bound, Tier tier) {
  return {scope, std::move(target), bound, tier, "the supervisor", "a test"};
}

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CHOICE_SMALL_SHOT_H_
