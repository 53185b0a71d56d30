// A shot small enough for hand arithmetic: one class, 24 frames a second, frames 1001 to 1100.

#ifndef SCANTLING_TESTS_COSTING_WORLD_H_
#define SCANTLING_TESTS_COSTING_WORLD_H_

#include <cstdint>
#include <utility>
#include <vector>

#include "server/costing/costing.h"

namespace scantling {

struct World {
  // Objects of class 0, complexity 1, not contained, on twos, seen by one camera over `seen` (empty: never), each span
  // one section.
  explicit World(const std::vector<FrameSpans>& seen) {
    scene.frames = {1001, 1100};
    scene.cameras.resize(1);
    legibility.span_begin.push_back(0);
    legibility.section_begin.push_back(0);
    for (const FrameSpans& spans : seen) AddObject(spans);
    style.handle_frames = 0;
    style.settle_frames = 0;
    style.holds = {1, 2, 4, 8};
    policy.catalogue.classes.resize(1);
    policy.catalogue.classes[0].phi = {1, 0.5, 0.25, 0};
    policy.rates.classes.resize(1);
    policy.rates.reference_hold = 2;
    policy.rates.hold_exponent = 1;  // fours are half the hours of twos
    policy.rates.renders_to_final = 2;
    policy.rates.money_per_animator_hour = 1;
    policy.rates.money_per_core_hour = 1;
    policy.rates.classes[0].tier[3] = {4, 12, 36, 360, 0, 0, 0};
    policy.rates.classes[0].tier[2] = {2, 6, 18, 180, 0, 0, 0};
    policy.rates.classes[0].tier[1] = {1, 0, 9, 90, 0, 0, 0};
    policy.rates.classes[0].paint_in_hours = 0.25;
  }

  void AddObject(const FrameSpans& spans) {
    scene.objects.class_index.push_back(0);
    scene.objects.complexity.push_back(1);
    scene.objects.container.push_back(kNone);
    scene.objects.asset.push_back(kNone);
    scene.objects.canonical.push_back(static_cast<uint32_t>(scene.objects.canonical.size()));
    scene.objects.particulars.push_back(kNone);
    const auto frames = static_cast<int32_t>(CountFrames(spans));
    legibility.seen_frames.push_back(frames);
    legibility.seen_camera_frames.push_back(frames);
    legibility.rendered_megapixels.push_back(0);
    legibility.height_over_floor.push_back(0);
    legibility.spans.insert(legibility.spans.end(), spans.begin(), spans.end());
    legibility.span_begin.push_back(static_cast<uint32_t>(legibility.spans.size()));
    for (const FrameRange& span : spans) {
      legibility.sections.push_back({span, 0, 0});
      holds.section.push_back(2);
    }
    legibility.section_begin.push_back(static_cast<uint32_t>(legibility.sections.size()));
    holds.still.push_back(0);
    holds.pose.push_back(2);
  }

  // Its shadow is seen in `frames`.
  void Cast(uint32_t object, FrameSpans frames) {
    ParticularsOf(object).indirect.push_back({IndirectKind::kShadow, std::move(frames)});
  }
  void Replace(uint32_t object, FrameSpans frames) { ParticularsOf(object).replaced = std::move(frames); }

  PricingInput Input() const { return {scene, legibility, holds, policy, style}; }
  TierCosts Price() const { return PriceTiers(Input()); }

  Scene scene;
  Legibility legibility;
  Holds holds;
  Policy policy;
  Style style;

 private:
  Particulars& ParticularsOf(uint32_t object) {
    uint32_t& index = scene.objects.particulars[object];
    if (index == kNone) {
      index = static_cast<uint32_t>(scene.particulars.size());
      scene.particulars.emplace_back().object = object;
    }
    return scene.particulars[index];
  }
};

}  // namespace scantling

#endif  // SCANTLING_TESTS_COSTING_WORLD_H_
