// Meshes that are not as they should be hide too little, never too much.
//
// Camera: SquareCamera, u = 500 + 500 x / depth. Cells are 2 px. A card of half 1 at depth 10: its box coordinate x
// falls at u = 500 + 50 x. All surfaces here end at x = 0.015, u = 500.75, inside the cell 500..502 and left of its
// middle; the object lies at depth 20 in 500.2..500.6: beside the surface, but in the same cell.

#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <vector>

#include "tests/view/hiding_shot.h"

namespace scantling {
namespace {

using view_test::BoxMesh;
using view_test::HidingShot;
using view_test::Upright;

double VisibleBesideTheEdge(const std::vector<std::array<uint32_t, 3>>& triangles) {
  HidingShot shot;
  const uint32_t card = shot.Add(Upright({0, 0, -10}, 1, 1, 0));
  OccluderMesh& mesh = shot.particulars(card).mesh;
  mesh.vertices = {{0.015f, -1, 0}, {0.015f, 1, 0}, {1, 0, 0}, {0.9f, 0.1f, 0}};
  mesh.triangles = triangles;
  const uint32_t beside = shot.Add(Upright({0.016, 0, -20}, 0.008, 0.01, 0));
  return shot.Visible()[beside];
}

TEST(MeshHides, NothingBesideASurfaceWithAnEnd) { EXPECT_EQ(VisibleBesideTheEdge({{0, 1, 2}}), 1); }

TEST(MeshHides, NothingBesideATriangleGivenTwice) { EXPECT_EQ(VisibleBesideTheEdge({{0, 1, 2}, {0, 1, 2}}), 1); }

TEST(MeshHides, NothingBesideAFold) {
  EXPECT_EQ(VisibleBesideTheEdge({{0, 1, 2}, {0, 1, 3}}), 1);  // both face one way: wound against one another
  EXPECT_EQ(VisibleBesideTheEdge({{0, 1, 2}, {1, 0, 3}}), 1);
}

// Every face with corners of its own, as meshes with hard edges come: 24 vertices.
OccluderMesh SplitAlongItsEdges(const OccluderMesh& closed) {
  OccluderMesh split;
  for (const std::array<uint32_t, 3>& triangle : closed.triangles) {
    const auto first = static_cast<uint32_t>(split.vertices.size());
    for (const uint32_t k : triangle) split.vertices.push_back(closed.vertices[k]);
    split.triangles.push_back({first, first + 1, first + 2});
  }
  return split;
}

TEST(MeshHides, AsMuchWhenItsVerticesAreSplit) {
  for (const bool split : {false, true}) {
    HidingShot shot;
    const uint32_t rock = shot.Add(Upright({3, 2, -10}, 2, 2, 1));
    shot.particulars(rock).mesh = split ? SplitAlongItsEdges(BoxMesh(0.9f)) : BoxMesh(0.9f);
    const uint32_t behind = shot.Add(Upright({4.2, 2.8, -14}, 1.5, 1.5, 1));
    EXPECT_EQ(shot.Visible()[behind], 0) << split;
  }
}

}  // namespace
}  // namespace scantling
