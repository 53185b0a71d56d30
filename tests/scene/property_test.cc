// What must hold for any shot: rows and blocks make the same scene, and the order of sending changes only row numbers.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/scene/block_maker.h"

namespace scantling {
namespace {

// One object with everything it owns; numbers are such that a float holds them exactly.
struct Thing {
  std::string id, asset, container;
  size_t class_index = 0;
  std::optional<double> importance;
  std::optional<std::array<uint8_t, 3>> colour;
  std::array<double, 3> min = {}, max = {};
  std::vector<double> matrices;
  std::optional<float> inner_box;  // of a row's occluder, or of a block's column
  bool has_particulars = false;
  std::vector<float> vertices_m;  // none: no mesh
  std::vector<uint32_t> triangles;
  std::string hold_group;
  ParticularsSpec rest;  // openings, indirect, replaced, beats

  // As sent; inner_box is the block's column unless `as_row`. Views point into the thing.
  ParticularsSpec Spec(bool as_row) const {
    ParticularsSpec spec = rest;
    if (as_row && inner_box) spec.inner_box = *inner_box;
    if (!vertices_m.empty()) spec.mesh = MeshSpec{vertices_m, triangles};
    spec.hold_group = hold_group;
    return spec;
  }
};

float Exact(std::mt19937& random) { return static_cast<float>(static_cast<int>(random() % 4096) - 2048) / 64.0f; }

std::vector<double> RandomTrack(std::mt19937& random, size_t poses) {
  std::vector<double> matrices;
  for (size_t p = 0; p < poses; ++p) {
    // Diagonal 40..72 against off-diagonal within 32 in sum: columns can never lie in one plane.
    for (size_t c = 0; c < 3; ++c) {
      for (size_t r = 0; r < 3; ++r) matrices.push_back(r == c ? 40 + Exact(random) / 2 + 16 : Exact(random) / 4);
      matrices.push_back(0);
    }
    for (int i = 0; i < 3; ++i) matrices.push_back(Exact(random) * 1000.001);
    matrices.push_back(1);
  }
  return matrices;
}

FrameRange RandomRange(std::mt19937& random) {
  const auto first = static_cast<int32_t>(1001 + random() % 24);
  return {first, static_cast<int32_t>(first + random() % (1025 - static_cast<uint32_t>(first)))};
}

// Each kind of particulars in some things, alone and together.
void AddParticulars(std::mt19937& random, Thing& thing) {
  const auto some = [&] { return random() % 3 == 0; };
  const auto inside = [&](size_t axis) {
    return thing.min[axis] + (thing.max[axis] - thing.min[axis]) * static_cast<double>(random() % 9) / 8;
  };
  thing.has_particulars = true;
  if (some()) {
    for (size_t i = 0; i < 12; ++i) thing.vertices_m.push_back(static_cast<float>(inside(i % 3)));
    for (size_t i = 0; i < 6; ++i) thing.triangles.push_back(random() % 4);
  } else if (some()) {
    thing.inner_box = static_cast<float>(random() % 9) / 8;
  }
  for (size_t i = 0; some() && i < 3; ++i) {
    OpeningSpec& opening = thing.rest.openings.emplace_back();
    for (size_t axis = 0; axis < 3; ++axis) {
      opening.min[axis] = inside(axis);
      opening.max[axis] = opening.min[axis] + static_cast<double>(random() % 3);
    }
  }
  for (size_t i = 0; some() && i < 3; ++i) {
    IndirectSpec& sight = thing.rest.indirect.emplace_back();
    sight.kind = static_cast<IndirectKind>(random() % 3);
    for (size_t k = random() % 3; k > 0; --k) sight.frames.push_back(RandomRange(random));
  }
  if (some()) thing.hold_group = Numbered("field_", random() % 4);
  for (size_t i = 0; some() && i < 3; ++i) thing.rest.replaced.push_back(RandomRange(random));
  for (size_t i = 0; some() && i < 3; ++i) thing.rest.beats.push_back(static_cast<int32_t>(1001 + random() % 24));
}

std::vector<Thing> RandomThings(uint32_t seed, size_t count) {
  std::mt19937 random(seed);
  std::vector<Thing> things(count);
  for (size_t i = 0; i < count; ++i) {
    Thing& thing = things[i];
    thing.id = Numbered(Numbered("quay/crowd_", random() % 1000) + "_", i);
    thing.class_index = random() % 3;
    if (random() % 2 == 0) thing.asset = Numbered("rig", random() % 5);
    if (i > 0 && random() % 3 == 0) thing.container = things[random() % i].id;
    if (random() % 2 == 0) thing.importance = 0.5 + static_cast<double>(random() % 8);
    if (random() % 2 == 0) thing.colour = {{uint8_t(random()), uint8_t(random()), uint8_t(random())}};
    for (size_t c = 0; c < 3; ++c) {
      thing.min[c] = Exact(random);
      thing.max[c] = thing.min[c] + 1 + static_cast<double>(random() % 8);
    }
    thing.matrices = RandomTrack(random, random() % 4 == 0 ? 24 : 1);
    if (random() % 2 == 0) AddParticulars(random, thing);
  }
  return things;
}

constexpr std::array<const char*, 3> kClassNames = {"person", "vehicle", "dwelling"};

ObjectRow RowOf(const Thing& thing) {
  ObjectRow row;
  row.id = thing.id;
  row.class_name = kClassNames[thing.class_index];
  row.asset = thing.asset;
  row.container = thing.container;
  row.importance = thing.importance;
  row.colour = thing.colour;
  row.box_min = thing.min;
  row.box_max = thing.max;
  row.transforms = thing.matrices;
  return row;
}

// Number of a name in a table, 1 + index, entered where it is new; 0 for no name.
uint32_t NumberIn(std::vector<std::string_view>& table, const std::string& name) {
  if (name.empty()) return 0;
  const auto at = std::find(table.begin(), table.end(), name);
  if (at != table.end()) return static_cast<uint32_t>(at - table.begin()) + 1;
  table.push_back(name);
  return static_cast<uint32_t>(table.size());
}

BlockMaker BlockOf(const std::vector<Thing>& things) {
  BlockMaker block;
  for (size_t i = 0; i < things.size(); ++i) {
    const Thing& thing = things[i];
    block.inner_box.push_back(thing.inner_box.value_or(-1.0f));
    if (thing.has_particulars) {
      block.particular_of.push_back(static_cast<uint32_t>(i));
      block.particulars.push_back(thing.Spec(false));
    }
    block.id_blob += thing.id;
    block.id_lengths.push_back(static_cast<uint32_t>(thing.id.size()));
    block.class_of.push_back(static_cast<uint32_t>(thing.class_index));
    block.asset_of.push_back(NumberIn(block.asset_names, thing.asset));
    block.container_of.push_back(NumberIn(block.container_ids, thing.container));
    block.importance.push_back(static_cast<float>(thing.importance.value_or(0)));
    const auto c = thing.colour.value_or(std::array<uint8_t, 3>{});
    block.colour.push_back(thing.colour ? 0x01000000u | uint32_t{c[0]} << 16 | uint32_t{c[1]} << 8 | c[2] : 0);
    for (const double v : thing.min) block.boxes.push_back(static_cast<float>(v));
    for (const double v : thing.max) block.boxes.push_back(static_cast<float>(v));
    const size_t poses = thing.matrices.size() / 16;
    block.poses.push_back(static_cast<uint32_t>(poses));
    for (size_t p = 0; p < poses; ++p) {
      for (size_t e = 0; e < 16; ++e) {
        if (e % 4 == 3) continue;
        const double value = thing.matrices[16 * p + e];
        if (e < 12) {
          block.linear.push_back(static_cast<float>(value));
        } else {
          block.translation.push_back(value);
        }
      }
    }
  }
  return block;
}

// A shot with drawings and beats of its own, so that objects have something to take in.
ShotHeader BrokenHeader() {
  ShotHeader header = MakeHeader();
  header.replaced = {{1018, 1019}};
  header.beats = {1007, 1013};
  return header;
}

Built BuildRows(const std::vector<Thing>& things) {
  std::vector<ParticularsSpec> specs;
  for (const Thing& thing : things) specs.push_back(thing.Spec(true));
  std::vector<ObjectRow> rows;
  for (size_t i = 0; i < things.size(); ++i) {
    rows.push_back(RowOf(things[i]));
    if (things[i].has_particulars) rows.back().particulars = &specs[i];
  }
  return Build(rows, BrokenHeader());
}

// One thing's particulars with names for numbers, so that scenes of different orders can be compared.
struct Found {
  std::vector<std::array<float, 3>> vertices;
  std::vector<std::array<uint32_t, 3>> triangles;
  std::vector<std::array<float, 3>> openings;  // min and max of each
  std::vector<std::pair<IndirectKind, FrameSpans>> indirect;
  std::string hold_group;
  FrameSpans replaced;
  std::vector<int32_t> beats;
  float inner_box = 0;
  friend bool operator==(const Found&, const Found&) = default;
};

Found FoundAt(const Scene& scene, uint32_t row) {
  Found found;
  found.replaced = scene.replaced_of(row);
  found.beats = scene.beats_of(row);
  found.inner_box = scene.objects.inner_box[row];
  if (scene.objects.particulars[row] == kNone) return found;
  const Particulars& particulars = scene.particulars[scene.objects.particulars[row]];
  EXPECT_EQ(particulars.object, row);
  found.vertices = particulars.mesh.vertices;
  found.triangles = particulars.mesh.triangles;
  for (const Opening& opening : particulars.openings) {
    found.openings.push_back(opening.min);
    found.openings.push_back(opening.max);
  }
  for (const IndirectSight& sight : particulars.indirect) found.indirect.push_back({sight.kind, sight.frames});
  if (particulars.hold_group != kNone) found.hold_group = scene.hold_groups[particulars.hold_group];
  return found;
}

void ExpectSameParticulars(const Scene& a, const Scene& b) {
  ASSERT_EQ(a.objects.size(), b.objects.size());
  EXPECT_EQ(a.objects.particulars, b.objects.particulars);
  EXPECT_EQ(a.particulars.size(), b.particulars.size());
  ASSERT_EQ(a.hold_groups.size(), b.hold_groups.size());
  for (size_t i = 0; i < a.hold_groups.size(); ++i) EXPECT_EQ(a.hold_groups[i], b.hold_groups[i]);
  for (uint32_t row = 0; row < a.objects.size(); ++row) EXPECT_EQ(FoundAt(a, row), FoundAt(b, row)) << row;
}

void ExpectSameChunks(const Scene& a, const Scene& b) {
  ASSERT_EQ(a.chunks.size(), b.chunks.size());
  for (size_t i = 0; i < a.chunks.size(); ++i) {
    EXPECT_EQ(a.chunks[i].frames, b.chunks[i].frames);
    EXPECT_EQ(a.chunks[i].count, b.chunks[i].count);
    EXPECT_EQ(a.chunks[i].object, b.chunks[i].object);
    EXPECT_EQ(a.chunks[i].centre_x, b.chunks[i].centre_x);
    EXPECT_EQ(a.chunks[i].centre_y, b.chunks[i].centre_y);
    EXPECT_EQ(a.chunks[i].centre_z, b.chunks[i].centre_z);
    EXPECT_EQ(a.chunks[i].axis, b.chunks[i].axis);
  }
}

TEST(SceneProperty, RowsAndBlocksOfTheSameObjectsMakeTheSameScene) {
  for (uint32_t seed = 1; seed <= 10; ++seed) {
    const std::vector<Thing> things = RandomThings(seed, 700);
    const Built rows = BuildRows(things), block = BuildBlock(BlockOf(things), BrokenHeader());
    ASSERT_TRUE(rows.violations.empty()) << rows.violations.listed()[0].description;
    ASSERT_TRUE(block.violations.empty()) << block.violations.listed()[0].description;
    const Objects &a = rows.scene.objects, &b = block.scene.objects;
    ASSERT_EQ(a.size(), b.size());
    for (size_t i = 0; i < a.size(); ++i) ASSERT_EQ(a.id[i], b.id[i]);
    EXPECT_EQ(a.class_index, b.class_index);
    EXPECT_EQ(a.asset, b.asset);
    EXPECT_EQ(a.container, b.container);
    EXPECT_EQ(a.importance, b.importance);
    EXPECT_EQ(a.complexity, b.complexity);
    EXPECT_EQ(a.colour, b.colour);
    EXPECT_EQ(a.chunk, b.chunk);
    EXPECT_EQ(a.lane, b.lane);
    EXPECT_EQ(a.measured, b.measured);
    EXPECT_EQ(a.canonical, b.canonical);
    ExpectSameChunks(rows.scene, block.scene);
    ExpectSameParticulars(rows.scene, block.scene);
    EXPECT_GT(rows.scene.particulars.size(), 100u);  // half of 700 things had some; most of those kept them
  }
}

TEST(SceneProperty, AnyOrderOfSendingGivesTheSameCanonicalSequence) {
  std::vector<Thing> things = RandomThings(42, 500);
  const Built first = BuildRows(things);
  std::mt19937 random(1);
  for (int round = 0; round < 5; ++round) {
    std::shuffle(things.begin(), things.end(), random);
    const Built again = BuildRows(things);
    ASSERT_TRUE(again.violations.empty());
    for (size_t i = 0; i < things.size(); ++i) {
      const uint32_t p = first.scene.objects.canonical[i], q = again.scene.objects.canonical[i];
      const Objects &a = first.scene.objects, &b = again.scene.objects;
      ASSERT_EQ(a.id[p], b.id[q]);
      EXPECT_EQ(FoundAt(first.scene, p), FoundAt(again.scene, q));
      EXPECT_EQ(a.class_index[p], b.class_index[q]);
      ASSERT_EQ(a.container[p] == kNone, b.container[q] == kNone);
      if (a.container[p] != kNone) {
        EXPECT_EQ(a.id[a.container[p]], b.id[b.container[q]]);
      }
      const PoseChunk &x = first.scene.chunks[a.chunk[p]], &y = again.scene.chunks[b.chunk[q]];
      EXPECT_EQ(x.centre_x[x.at(0, a.lane[p])], y.centre_x[y.at(0, b.lane[q])]);
    }
  }
}

TEST(SceneProperty, ManyBlocksMakeTheSceneOfOne) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  const std::vector<Thing> things = RandomThings(7, 300);
  Violations violations;
  SceneBuilder builder(catalogue, {}, BrokenHeader(), violations);
  for (size_t begin = 0; begin < things.size(); begin += 100) {
    const auto at = things.begin() + static_cast<std::ptrdiff_t>(begin);
    const std::vector<Thing> some(at, at + 100);  // gone, with its block, before the next comes
    const BlockMaker part = BlockOf(some);
    builder.AddBlock(part.View(), Numbered("blocks[", begin / 100) + "]");
  }
  const Scene scene = builder.Finish();
  ASSERT_TRUE(violations.empty());
  const Built whole = BuildBlock(BlockOf(things), BrokenHeader());
  EXPECT_EQ(scene.objects.canonical, whole.scene.objects.canonical);
  EXPECT_EQ(scene.objects.container, whole.scene.objects.container);
  ExpectSameChunks(scene, whole.scene);
  ExpectSameParticulars(scene, whole.scene);
}

}  // namespace
}  // namespace scantling
