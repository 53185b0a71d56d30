// A shot small enough for hand arithmetic: one class, 24 frames a second, frames 1001 to 1100.

#ifndef SCANTLING_TESTS_COSTING_WORLD_H_
#define SCANTLING_TESTS_COSTING_WORLD_H_

#include <cstdint>
#include <vector>

#include "server/costing/costing.h"

namespace scantling {

struct World {
  // Objects of class 0, complexity 1, not contained, seen by one camera over `seen` (empty: never).
  explicit World(const std::vector<FrameSpans>& seen) {
    scene.frames = {1001, 1100};
    scene.cameras.resize(1);
    legibility.span_begin.push_back(0);
    for (const FrameSpans& spans : seen) {
      scene.objects.class_index.push_back(0);
      scene.objects.complexity.push_back(1);
      scene.objects.container.push_back(kNone);
      legibility.spans.insert(legibility.spans.end(), spans.begin(), spans.end());
      legibility.span_begin.push_back(static_cast<uint32_t>(legibility.spans.size()));
      const auto frames = static_cast<int32_t>(CountFrames(spans));
      legibility.seen_frames.push_back(frames);
      legibility.seen_camera_frames.push_back(frames);
      legibility.rendered_megapixels.push_back(0);
      legibility.height_over_floor.push_back(0);  // no movement over the floor: the longest hold
    }
    style.handle_frames = 0;
    style.settle_frames = 0;
    style.holds = {1, 2};
    policy.catalogue.classes.resize(1);
    policy.rates.classes.resize(1);
    policy.rates.reference_hold = 2;
    policy.rates.renders_to_final = 2;
    policy.rates.classes[0].tier[3] = {4, 12, 36, 360, 0, 0, 0};
    policy.rates.classes[0].tier[2] = {2, 6, 18, 180, 0, 0, 0};
    policy.rates.classes[0].tier[1] = {1, 0, 9, 90, 0, 0, 0};
    policy.rates.classes[0].paint_in_hours = 0.25;
  }

  TierCosts Price() const { return PriceTiers(scene, legibility, policy, style); }

  Scene scene;
  Legibility legibility;
  Policy policy;
  Style style;
};

}  // namespace scantling

#endif  // SCANTLING_TESTS_COSTING_WORLD_H_
