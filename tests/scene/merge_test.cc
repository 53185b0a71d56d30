// Merged scenes hold what one builder makes of all objects at once, and name what may not be.

#include "server/scene/merge.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <random>
#include <sstream>

#include "tests/scene/make_shot.h"

namespace scantling {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

// Rows own what they point at.
struct Sent {
  std::string id, asset, container;
  std::vector<double> matrices;
  std::vector<MeasuredFigure> measured;
  double importance = 1;
  ParticularsSpec particulars;
  std::string group;
  bool has_particulars = false;

  ObjectRow Row() const {
    ObjectRow row = MakeRow(id);
    row.asset = asset;
    row.container = container;
    row.importance = importance;
    row.transforms = matrices;
    row.measured = measured;
    row.particulars = has_particulars ? &particulars : nullptr;
    return row;
  }
};

std::vector<double> Track(int poses, double x) {
  std::vector<double> matrices;
  for (int f = 0; f < poses; ++f) {
    for (const double entry : kIdentity) matrices.push_back(entry);
    matrices[matrices.size() - 4] = x + 0.25 * f;
  }
  return matrices;
}

const ClassCatalogue& Catalogue() {
  static const ClassCatalogue catalogue = MakeCatalogue();
  return catalogue;
}

struct Merge {
  MergedScene merged;
  Violations violations;
};
Merge MergeOnto(const Scene& base, const ShotHeader& header, const std::vector<Sent>& sent,
                const std::vector<std::string>& removed = {}) {
  Merge merge;
  SceneBuilder builder(Catalogue(), SceneLimits(), header, merge.violations);
  for (size_t i = 0; i < sent.size(); ++i) builder.AddRow(sent[i].Row(), Numbered("objects[", i) + "]");
  merge.merged = builder.FinishOnto(base, removed);
  return merge;
}

std::vector<double> PosesOf(const Scene& scene, uint32_t row) {
  std::vector<double> all;
  if (scene.objects.chunk[row] == kNone) return all;
  const PoseChunk& chunk = scene.chunks[scene.objects.chunk[row]];
  EXPECT_EQ(chunk.object[scene.objects.lane[row]], row);
  for (int32_t f = 0; f < chunk.frames; ++f) {
    const size_t at = chunk.at(f, scene.objects.lane[row]);
    all.push_back(chunk.centre_x[at]);
    all.push_back(chunk.centre_y[at]);
    all.push_back(chunk.centre_z[at]);
    for (const SharedColumn<float>& axis : chunk.axis) all.push_back(axis[at]);
  }
  return all;
}

void Write(const FrameSpans& spans, std::ostream& out) {
  for (const FrameRange& span : spans) out << " " << span.first << "-" << span.last;
}

// What is known of each object, by id and in names.
std::map<std::string, std::string> Facts(const Scene& scene) {
  std::map<std::string, std::string> facts;
  const Objects& objects = scene.objects;
  const auto name = [](const StringColumn& names, uint32_t number) {
    return number == kNone ? std::string_view("-") : names[number];
  };
  for (uint32_t row = 0; row < objects.size(); ++row) {
    std::ostringstream fact;
    fact << testing::PrintToString(PosesOf(scene, row)) << " asset " << name(scene.assets, objects.asset[row]) << " in "
         << name(objects.id, objects.container[row]) << " importance " << objects.importance[row];
    for (size_t camera = 0; objects.measured[row] != kNone && camera < scene.cameras.size(); ++camera) {
      for (int32_t f = 0; f < scene.frames.count(); ++f) fact << " " << scene.measured_at(row, camera, f).height_px;
    }
    if (const uint32_t p = objects.particulars[row]; p != kNone) {
      const Particulars& particulars = scene.particulars[p];
      EXPECT_EQ(particulars.object, row);
      fact << " replaced";
      Write(particulars.replaced, fact);
      fact << " beats " << testing::PrintToString(particulars.beats) << " cast";
      for (const IndirectSight& sight : particulars.indirect) Write(sight.frames, fact);
      fact << " group " << name(scene.hold_groups, particulars.hold_group);
    }
    facts[std::string(objects.id[row])] = fact.str();
  }
  return facts;
}

std::vector<std::string> InOrder(const Scene& scene) {
  std::vector<std::string> ids;
  for (const uint32_t row : scene.objects.canonical) ids.emplace_back(scene.objects.id[row]);
  return ids;
}

Scene AtOnce(const std::map<std::string, Sent>& all, const ShotHeader& header) {
  std::vector<ObjectRow> rows;
  for (const auto& [id, sent] : all) rows.push_back(sent.Row());
  Built built = Build(rows, header);
  EXPECT_TRUE(built.violations.empty()) << testing::PrintToString(Faults(built));
  return std::move(built.scene);
}

Sent RandomSent(std::mt19937& random, const std::string& id, int frames) {
  Sent sent;
  sent.id = id;
  if (random() % 2 == 0) sent.asset = Numbered("asset", random() % 4);
  sent.matrices = Track(random() % 3 == 0 ? frames : 1, static_cast<double>(random() % 50));
  sent.importance = 1 + static_cast<double>(random() % 4);
  if (random() % 4 == 0) {
    sent.has_particulars = true;
    sent.group = random() % 2 == 0 ? "rowers" : "walkers";
    sent.particulars.replaced = {{1003, 1004 + static_cast<int32_t>(random() % 4)}};
    sent.particulars.beats = {1002, 1006};
    IndirectSpec sight;
    if (random() % 2 == 0) sight.frames = {{1002, 1005}};
    sent.particulars.indirect = {sight};
  }
  return sent;
}

TEST(FinishOnto, AnySeriesOfChangesHoldsWhatOneBuilderMakes) {
  std::mt19937 random(3);
  for (int series = 0; series < 40; ++series) {
    SCOPED_TRACE(series);
    ShotHeader header = MakeHeader();
    header.frames = {1001, 1012};
    std::map<std::string, Sent> all;
    Scene scene;
    for (int step = 0; step < 30; ++step) {
      SCOPED_TRACE(step);
      const int frames = header.frames.count();
      std::map<std::string, Sent> now = all;
      std::vector<Sent> sent;
      std::vector<std::string> removed;
      for (auto object = now.begin(); object != now.end();) {
        const bool holds = std::any_of(now.begin(), now.end(),
                                       [&](const auto& other) { return other.second.container == object->first; });
        if (!holds && random() % 12 == 0) {
          removed.push_back(object->first);
          object = now.erase(object);
        } else {
          ++object;
        }
      }
      for (uint32_t i = random() % 40; i > 0; --i) {
        const std::string id = Numbered("o", random() % 60);
        const bool taken = std::any_of(sent.begin(), sent.end(), [&](const Sent& one) { return one.id == id; });
        if (taken || std::find(removed.begin(), removed.end(), id) != removed.end()) continue;
        Sent one = RandomSent(random, id, frames);
        if (!now.empty() && random() % 4 == 0 && now.begin()->first != id && now.begin()->second.container.empty()) {
          const bool holds =
              std::any_of(now.begin(), now.end(), [&](const auto& other) { return other.second.container == id; });
          if (!holds) one.container = now.begin()->first;
        }
        if (now.contains(id) && one.container.empty()) one.container = now[id].container;
        now[id] = one;
        sent.push_back(one);
      }
      for (Sent& one : sent) one.particulars.hold_group = one.group;
      Merge merge = MergeOnto(scene, header, sent, removed);
      ASSERT_TRUE(merge.violations.empty())
          << merge.violations.listed()[0].field << merge.violations.listed()[0].description;
      for (auto& [id, one] : now) one.particulars.hold_group = one.group;
      all = now;
      const Scene fresh = AtOnce(all, header);
      ASSERT_EQ(Facts(merge.merged.scene), Facts(fresh));
      ASSERT_EQ(InOrder(merge.merged.scene), InOrder(fresh));
      EXPECT_EQ(merge.merged.scene.assets.size(), fresh.assets.size());
      // Lanes left behind stay few: eight nearly empty chunks of a kind are packed.
      EXPECT_LE(merge.merged.scene.chunks.size(), 20u);
      for (uint32_t row = 0; row < merge.merged.was.size(); ++row) {
        if (merge.merged.was[row] == kNone) continue;
        EXPECT_EQ(merge.merged.scene.objects.id[row], scene.objects.id[merge.merged.was[row]]);
      }
      scene = std::move(merge.merged.scene);
    }
  }
}

TEST(FinishOnto, TheBaseIsAsItWas) {
  const ShotHeader header = MakeHeader();
  Sent a, b;
  a.id = "a";
  a.matrices = Track(24, 0);
  b.id = "b";
  b.matrices = Track(1, 5);
  const Scene base = MergeOnto({}, header, {a, b}).merged.scene;
  const auto before = Facts(base);
  a.matrices = Track(24, 7);
  const Merge merge = MergeOnto(base, header, {a}, {"b"});
  ASSERT_TRUE(merge.violations.empty());
  EXPECT_EQ(Facts(base), before);
  EXPECT_THAT(merge.merged.was, ElementsAre(0));
  EXPECT_THAT(merge.merged.changed, ElementsAre(1));
  EXPECT_TRUE(merge.merged.rows_moved);
}

TEST(FinishOnto, FramesWithinTheOldOnesCutTracksAndLists) {
  ShotHeader header = MakeHeader();
  header.frames = {1001, 1012};
  std::mt19937 random(5);
  std::vector<Sent> sent;
  for (int i = 0; i < 30; ++i) sent.push_back(RandomSent(random, Numbered("o", static_cast<size_t>(i)), 12));
  // One that stands still in what will be left: it becomes one pose.
  Sent stops;
  stops.id = "stops";
  stops.matrices = Track(12, 0);
  for (int f = 3; f < 8; ++f) stops.matrices[static_cast<size_t>(16 * f + 12)] = 9;
  sent.push_back(stops);
  for (Sent& one : sent) one.particulars.hold_group = one.group;
  const Scene base = MergeOnto({}, header, sent).merged.scene;
  header.frames = {1004, 1008};
  const Merge cut = MergeOnto(base, header, {});
  ASSERT_TRUE(cut.violations.empty()) << cut.violations.listed()[0].description;
  std::map<std::string, Sent> all;
  for (Sent& one : sent) {
    if (one.matrices.size() > 16) {
      one.matrices = std::vector<double>(one.matrices.begin() + 16 * 3, one.matrices.begin() + 16 * 8);
    }
    if (one.has_particulars) {
      one.particulars.replaced = {{1004, std::min(one.particulars.replaced[0].last, 1008)}};
      one.particulars.beats = {1006};
      if (!one.particulars.indirect[0].frames.empty()) one.particulars.indirect[0].frames = {{1004, 1005}};
    }
    all[one.id] = one;
  }
  for (auto& [id, one] : all) one.particulars.hold_group = one.group;
  EXPECT_EQ(Facts(cut.merged.scene), Facts(AtOnce(all, header)));
  const uint32_t row = *RowOfId(cut.merged.scene.objects, "stops");
  EXPECT_EQ(cut.merged.scene.chunks[cut.merged.scene.objects.chunk[row]].frames, 1);
}

TEST(FinishOnto, MeasuredFiguresFollowTheirCameras) {
  ShotHeader header = MakeHeader();
  header.frames = {1001, 1002};
  header.cameras = {MakeCamera("left"), MakeCamera("right")};
  Sent one;
  one.id = "a";
  one.matrices = Track(1, 0);
  for (const float height : {1.0F, 2.0F, 3.0F, 4.0F}) one.measured.push_back({height, 1, 5});
  const Merge first = MergeOnto({}, header, {one});
  ASSERT_TRUE(first.violations.empty()) << first.violations.listed()[0].description;
  std::swap(header.cameras[0], header.cameras[1]);
  const Merge swapped = MergeOnto(first.merged.scene, header, {});
  ASSERT_TRUE(swapped.violations.empty());
  EXPECT_EQ(swapped.merged.scene.measured_at(0, 0, 0).height_px, 3);
  EXPECT_EQ(swapped.merged.scene.measured_at(0, 1, 1).height_px, 2);
  header.cameras[0] = MakeCamera("new");
  const Merge lost = MergeOnto(first.merged.scene, header, {});
  ASSERT_EQ(lost.violations.count(), 1u);
  EXPECT_EQ(lost.violations.listed()[0].field, "cameras[0].id");
  EXPECT_THAT(lost.violations.listed()[0].description,
              HasSubstr("\"a\" and all others that were measured (1) sent again"));
}

TEST(FinishOnto, WhatNamesAnObjectThatGoesIsAFault) {
  ShotHeader header = MakeHeader();
  Sent a, b;
  a.id = "a";
  a.asset = "crate";
  b.id = "b";
  a.matrices = b.matrices = Track(1, 0);
  const Scene base = MergeOnto({}, header, {a, b}).merged.scene;
  Directive directive;
  directive.target = "a";
  header.directives = {directive};
  directive.scope = DirectiveScope::kAsset;
  directive.target = "crate";
  header.directives.push_back(directive);
  EXPECT_TRUE(MergeOnto(base, header, {}).violations.empty());
  const Merge merge = MergeOnto(base, header, {}, {"a"});
  ASSERT_EQ(merge.violations.count(), 2u);
  EXPECT_EQ(merge.violations.listed()[0].field, "directives[0].object_id");
  EXPECT_EQ(merge.violations.listed()[1].field, "directives[1].asset_id");
}

TEST(FinishOnto, CyclesThroughOldAndNewAreFaults) {
  const ShotHeader header = MakeHeader();
  Sent a, b;
  a.id = "a";
  b.id = "b";
  b.container = "a";
  a.matrices = b.matrices = Track(1, 0);
  const Scene base = MergeOnto({}, header, {a, b}).merged.scene;
  a.container = "b";
  const Merge merge = MergeOnto(base, header, {a});
  ASSERT_EQ(merge.violations.count(), 1u);
  EXPECT_EQ(merge.violations.listed()[0].field, "objects[0].container_id");
  EXPECT_THAT(merge.violations.listed()[0].description, HasSubstr("got a cycle of containers"));
}

TEST(SharedColumn, CopiesPartWhenOneIsWrittenTo) {
  SharedColumn<double> a;
  EXPECT_TRUE(a.empty());
  a.resize(3);
  a[1] = 5;
  SharedColumn<double> b = a;
  EXPECT_EQ(a, b);
  b[1] = 6;
  const SharedColumn<double>& const_a = a;
  EXPECT_EQ(const_a[1], 5);
  EXPECT_FALSE(a == b);
}

}  // namespace
}  // namespace scantling
