// Random shots of three classes and a few assets, which can be sent in any order.

#ifndef SCANTLING_TESTS_COSTING_MIXED_SHOT_H_
#define SCANTLING_TESTS_COSTING_MIXED_SHOT_H_

#include <algorithm>
#include <cstdint>
#include <numeric>
#include <random>
#include <vector>

#include "server/costing/costing.h"
#include "tests/costing/world.h"

namespace scantling {

inline constexpr uint32_t kMixedAssets = 5;

// Object i of a shot has the i-th id.
struct MixedObject {
  FrameSpans seen, cast, replaced;  // seen leaves out what is replaced, as legibility does
  uint16_t class_index = 0;
  uint32_t asset = kNone;  // below kMixedAssets
  bool contained = false;  // in object 0
  Tier tier = Tier::kFullRig;
};
using MixedShot = std::vector<MixedObject>;

inline FrameSpans DrawSpans(std::mt19937& random) {
  FrameSpans spans;
  for (auto frame = static_cast<int32_t>(1001 + random() % 60); frame < 1100 && spans.size() < 3;) {
    const auto last = std::min(1100, static_cast<int32_t>(frame + random() % 25));
    spans.push_back({frame, last});
    frame = static_cast<int32_t>(last + 2 + random() % 25);
  }
  return spans;
}

inline MixedShot DrawShot(std::mt19937& random, size_t objects) {
  MixedShot shot(objects);
  for (size_t i = 0; i < objects; ++i) {
    MixedObject& object = shot[i];
    if (random() % 5 == 0) object.replaced = DrawSpans(random);
    if (random() % 6 != 0) object.seen = SubtractSpans(DrawSpans(random), object.replaced);
    if (random() % 4 == 0) object.cast = DrawSpans(random);
    object.class_index = static_cast<uint16_t>(random() % 3);
    if (random() % 4 != 0) object.asset = static_cast<uint32_t>(random() % kMixedAssets);
    object.contained = i > 0 && random() % 4 == 0;
    object.tier = static_cast<Tier>(random() % 4);
  }
  return shot;
}

// As it arrives where row r is object `order[r]` and asset a has the number `asset_number[a]`.
struct MixedWorld {
  World world = World(std::vector<FrameSpans>());
  std::vector<uint32_t> row_of;  // object -> row
  std::vector<Tier> tier;        // by row

  MixedWorld(const MixedShot& shot, const std::vector<uint32_t>& order, const std::vector<uint32_t>& asset_number) {
    row_of.resize(shot.size());
    for (uint32_t row = 0; row < order.size(); ++row) row_of[order[row]] = row;
    world.policy.catalogue.classes.resize(3, world.policy.catalogue.classes[0]);
    world.policy.rates.classes.resize(3, world.policy.rates.classes[0]);
    for (const uint32_t i : order) Add(shot[i], asset_number);
    for (size_t i = 0; i < shot.size(); ++i) world.scene.objects.canonical[i] = row_of[i];
  }

 private:
  void Add(const MixedObject& object, const std::vector<uint32_t>& asset_number) {
    const auto row = static_cast<uint32_t>(tier.size());
    world.AddObject(object.seen);
    tier.push_back(object.tier);
    Objects& objects = world.scene.objects;
    objects.class_index[row] = object.class_index;
    if (object.asset != kNone) objects.asset[row] = asset_number[object.asset];
    if (object.contained) objects.container[row] = row_of[0];
    if (!object.cast.empty()) world.Cast(row, object.cast);
    if (!object.replaced.empty()) world.Replace(row, object.replaced);
  }
};

inline std::vector<uint32_t> FromZero(size_t count) {
  std::vector<uint32_t> numbers(count);
  std::iota(numbers.begin(), numbers.end(), 0u);
  return numbers;
}
inline std::vector<uint32_t> Shuffled(size_t count, std::mt19937& random) {
  std::vector<uint32_t> numbers = FromZero(count);
  std::shuffle(numbers.begin(), numbers.end(), random);
  return numbers;
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_COSTING_MIXED_SHOT_H_
