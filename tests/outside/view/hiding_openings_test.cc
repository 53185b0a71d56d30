// Openings against ray casting: walls with a hole, for the map a card with an opening, for the rays four cards about
// the hole. Turned walls, so that holes are slanted in the picture; 40 scenes of 5 walls and 300 objects, 100 rays an
// object: 1.2 million rays.

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/outside/view/embree_rays.h"
#include "tests/view/hiding_shot.h"

namespace scantling {
namespace {

using view_test::Box;
using view_test::EmbreeRays;
using view_test::HidingShot;
using view_test::Random;
using view_test::Uniform;

struct Hole {
  double left, right, low, high;  // box coordinates
};

// The part of a card between two places on each of its axes.
Box PartOf(const Box& card, const Hole& part) {
  Box box = card;
  for (size_t k = 0; k < 3; ++k) {
    box.centre[k] += card.a[k] * (part.left + part.right) / 2 + card.b[k] * (part.low + part.high) / 2;
    box.a[k] *= (part.right - part.left) / 2;
    box.b[k] *= (part.high - part.low) / 2;
  }
  return box;
}

struct BothScenes {
  HidingShot map, rays;
  std::vector<std::array<uint32_t, 2>> objects;  // rows in either

  void AddWall(Random& random) {
    const double depth = Uniform(random, 6, 12);
    Box wall = view_test::RandomlyTurned(random, {Uniform(random, -4, 4), Uniform(random, -4, 4), -depth},
                                         {Uniform(random, 2, 6), Uniform(random, 2, 6), 0});
    const Hole hole = {Uniform(random, -0.9, -0.1), Uniform(random, 0, 0.9), Uniform(random, -0.9, -0.1),
                       Uniform(random, 0, 0.9)};
    const uint32_t row = map.Add(wall, 1);
    const auto at = [](double x) { return static_cast<float>(x); };
    map.particulars(row).openings.push_back({{at(hole.left), at(hole.low), 0}, {at(hole.right), at(hole.high), 0}});
    rays.Add(PartOf(wall, {-1, hole.left, -1, 1}), 1);
    rays.Add(PartOf(wall, {hole.right, 1, -1, 1}), 1);
    rays.Add(PartOf(wall, {hole.left, hole.right, -1, hole.low}), 1);
    rays.Add(PartOf(wall, {hole.left, hole.right, hole.high, 1}), 1);
  }

  void AddObject(Random& random) {
    const double depth = Uniform(random, 10, 40);
    const Box box = view_test::Upright({depth * Uniform(random, -0.8, 0.8), depth * Uniform(random, -0.8, 0.8), -depth},
                                       Uniform(random, 0.05, 0.8), Uniform(random, 0.05, 0.8), 0.1);
    objects.push_back({map.Add(box), rays.Add(box)});
  }
};

TEST(HidingAgainstRays, OpeningsShowWhateverRaysReachThroughThem) {
  int hidden = 0, seen_through_holes = 0;
  for (uint64_t seed = 1; seed <= 40; ++seed) {
    Random random(seed);
    BothScenes scenes;
    for (int i = 0; i < 5; ++i) scenes.AddWall(random);
    for (int i = 0; i < 300; ++i) scenes.AddObject(random);
    const std::vector<double> visible = scenes.map.Visible();
    const EmbreeRays rays(scenes.rays.scene());
    for (const auto& [ours, theirs] : scenes.objects) {
      if (visible[ours] < 0) continue;
      const EmbreeRays::Count count = rays.Look(theirs, 100, random);
      hidden += visible[ours] == 0;
      seen_through_holes += count.reached > 0;
      if (visible[ours] == 0) {
        EXPECT_EQ(count.reached, 0) << "object " << ours << " of seed " << seed;
      }
    }
  }
  EXPECT_GT(hidden, 500);
  EXPECT_GT(seen_through_holes, 500);
}

}  // namespace
}  // namespace scantling
