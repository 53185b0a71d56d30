// Merging by columns. First every row of the merged scene gets its place: rows of the base keep their order, those of
// removed objects close up, new objects come last; an object that was sent again keeps its row. Then each column is put
// together from base and change by those places.
//
// Names that rows share (assets, hold groups) are numbered anew where some of them may have gone out of use, so that a
// long session does not collect names nobody bears, and a ruling on an asset that has gone is a fault, as it is in a
// scene built at once.
//
// Poses, measured figures and lists of frames, which hang on the frames of the shot, stand in retrack.cc.

#include "server/scene/merge.h"

#include <algorithm>
#include <memory>
#include <unordered_map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/canonical.h"
#include "server/scene/containers.h"
#include "server/scene/faults.h"
#include "server/scene/retrack.h"

namespace scantling {

std::optional<uint32_t> RowOfId(const Objects& objects, std::string_view id) {
  const auto& order = objects.canonical;
  const auto found = std::lower_bound(order.begin(), order.end(), id,
                                      [&](uint32_t row, std::string_view wanted) { return objects.id[row] < wanted; });
  if (found == order.end() || objects.id[*found] != id) return std::nullopt;
  return *found;
}

struct SceneBuilder::Merger {
  State& state;
  const Scene& base;
  std::span<const std::string> removed_ids;
  const Scene& patch = state.scene;
  MergedScene merged = {};
  Scene& scene = merged.scene;
  MergePlaces places = {};

  size_t rows() const { return merged.was.size(); }

  // Who goes, who is replaced, who is new.
  void FindPlaces() {
    places.of_base.assign(base.objects.size(), 0);
    places.of_patch.assign(patch.objects.size(), kNone);
    places.replaced.assign(base.objects.size(), 0);
    for (uint32_t i = 0; i < patch.objects.size(); ++i) {
      const std::optional<uint32_t> row = RowOfId(base.objects, patch.objects.id[i]);
      if (!row) continue;
      places.of_patch[i] = *row;
      places.replaced[*row] = 1;
    }
    FindRemoved();
    uint32_t next = 0;
    for (uint32_t row = 0; row < base.objects.size(); ++row) {
      const bool goes = places.of_base[row] == kNone;
      merged.rows_moved |= goes;
      if (goes) continue;
      places.of_base[row] = next++;
      merged.was.push_back(row);
    }
    merged.changed.assign(next, 0);
    for (uint32_t& place : places.of_patch) {
      if (place == kNone) {
        place = next++;
        merged.was.push_back(kNone);
        merged.changed.push_back(1);
      } else if (places.of_base[place] != kNone) {  // else sent and removed, which was a fault
        place = places.of_base[place];
        merged.changed[place] = 1;
      }
    }
  }

  void FindRemoved() {
    for (size_t i = 0; i < removed_ids.size(); ++i) {
      const auto fault = [&](const char* want) {
        AddFault(
            state.violations, [&] { return absl::StrCat("removed_ids[", i, "]"); },
            [&] { return GotText(removed_ids[i], want); });
      };
      const std::optional<uint32_t> row = RowOfId(base.objects, removed_ids[i]);
      if (!row) {
        fault("the id of an object that is in the shot");
      } else if (places.replaced[*row] != 0) {
        fault("an object that is not sent in the same edit");
      } else if (places.of_base[*row] == kNone) {
        fault("each object once");
      } else {
        places.of_base[*row] = kNone;
      }
    }
  }

  template <typename T>
  void Column(const std::vector<T>& of_base, const std::vector<T>& of_patch, std::vector<T>& to) const {
    if (merged.rows_moved) {
      to.resize(rows());
      for (size_t row = 0; row < of_base.size(); ++row) {
        if (places.of_base[row] != kNone) to[places.of_base[row]] = of_base[row];
      }
    } else {
      to = of_base;
      to.resize(rows());
    }
    for (size_t i = 0; i < of_patch.size(); ++i) to[places.of_patch[i]] = of_patch[i];
  }

  void MergeColumns() {
    const Objects &b = base.objects, &p = patch.objects;
    Objects& to = scene.objects;
    MergeIds();
    Column(b.class_index, p.class_index, to.class_index);
    Column(b.importance, p.importance, to.importance);
    Column(b.complexity, p.complexity, to.complexity);
    Column(b.colour, p.colour, to.colour);
    Column(b.inner_box, p.inner_box, to.inner_box);
    MergeAssets();
    MergeContainers();
    MergeSpent();
    MergeOrder();
  }

  void MergeIds() {
    StringColumn& id = scene.objects.id;
    if (merged.rows_moved) {
      id.Reserve(rows(), 0);
      for (const uint32_t row : merged.was) {
        if (row != kNone) id.Append(base.objects.id[row]);
      }
    } else {
      id = base.objects.id;
    }
    for (size_t i = 0; i < patch.objects.size(); ++i) {
      if (places.of_patch[i] >= id.size()) id.Append(patch.objects.id[i]);
    }
  }

  // Numbers of the patch's names stand behind the base's until only those that are used are left.
  void MergeAssets() {
    const auto shift = static_cast<uint32_t>(base.assets.size());
    std::vector<uint32_t> of_patch = patch.objects.asset;
    for (uint32_t& asset : of_patch) asset = asset == kNone ? kNone : asset + shift;
    Column(base.objects.asset, of_patch, scene.objects.asset);
    if (patch.assets.size() == 0 && !merged.rows_moved && patch.objects.size() == 0) {
      scene.assets = base.assets;
      return;
    }
    const auto name_of = [&](uint32_t asset) {
      return asset < shift ? base.assets[asset] : patch.assets[asset - shift];
    };
    std::vector<uint32_t> number(shift + patch.assets.size(), kNone);
    std::unordered_map<std::string_view, uint32_t> number_of_name;
    for (uint32_t& asset : scene.objects.asset) {
      if (asset == kNone) continue;
      uint32_t& known = number[asset];
      if (known == kNone) {
        const auto [at, is_new] = number_of_name.emplace(name_of(asset), static_cast<uint32_t>(scene.assets.size()));
        if (is_new) scene.assets.Append(name_of(asset));
        known = at->second;
      }
      asset = known;
    }
  }

  void MergeContainers() {
    std::vector<uint32_t>& container = scene.objects.container;
    container.assign(rows(), kNone);
    std::vector<uint32_t> holds_on(base.objects.size(), kNone);  // a row that a removed object still holds
    for (uint32_t row = 0; row < base.objects.size(); ++row) {
      const uint32_t held_by = base.objects.container[row];
      if (held_by == kNone || places.of_base[row] == kNone || places.replaced[row] != 0) continue;
      if (places.of_base[held_by] == kNone) holds_on[held_by] = row;
      container[places.of_base[row]] = places.of_base[held_by];
    }
    for (uint32_t i = 0; i < patch.objects.size(); ++i) ResolveContainer(i, container[places.of_patch[i]]);
    for (size_t i = 0; merged.rows_moved && i < removed_ids.size(); ++i) {
      const std::optional<uint32_t> row = RowOfId(base.objects, removed_ids[i]);
      if (!row || holds_on[*row] == kNone) continue;
      AddFault(
          state.violations, [&] { return absl::StrCat("removed_ids[", i, "]"); },
          [&] {
            return absl::StrCat("got ", QuotedText(removed_ids[i]), ", which holds ",
                                QuotedText(base.objects.id[holds_on[*row]]),
                                ", want what it holds removed or put elsewhere in the same edit");
          });
    }
    RefuseCycles(container);
  }

  // The builder keeps numbers of containers' names until it finishes.
  void ResolveContainer(uint32_t i, uint32_t& container) {
    const uint32_t name = patch.objects.container[i];
    if (name == kNone) return;
    const std::string_view id = state.container_column[name];
    if (const uint32_t sent = state.ids.Find(id); sent != kNone) {
      container = places.of_patch[sent];
    } else if (const std::optional<uint32_t> row = RowOfId(base.objects, id); row && places.of_base[*row] != kNone) {
      container = places.of_base[*row];
    } else {
      AddFault(
          state.violations, [&] { return state.places.Of(i).Field("container_id", "container_of"); },
          [&] { return GotText(id, "the id of an object of the shot"); });
    }
  }

  // A cycle that was not there before goes through an object that was sent.
  void RefuseCycles(std::vector<uint32_t>& container) {
    if (std::all_of(patch.objects.container.begin(), patch.objects.container.end(),
                    [](uint32_t name) { return name == kNone; })) {
      return;
    }
    for (const std::vector<uint32_t>& cycle : FindCycles(container)) {
      uint32_t sent = 0;
      for (uint32_t i = 0; i < places.of_patch.size(); ++i) {
        if (std::find(cycle.begin(), cycle.end(), places.of_patch[i]) != cycle.end()) sent = i;
      }
      AddFault(
          state.violations, [&] { return state.places.Of(sent).Field("container_id", "container_of"); },
          [&] { return CycleFault(cycle, scene.objects.id); });
      container[cycle[0]] = kNone;
    }
  }

  void MergeSpent() {
    for (const SpentWork& spent : base.spent) {
      if (places.of_base[spent.object] == kNone || places.replaced[spent.object] != 0) continue;
      scene.spent.push_back({places.of_base[spent.object], spent.tier, spent.anim_hours});
    }
    for (const SpentWork& spent : patch.spent) {
      scene.spent.push_back({places.of_patch[spent.object], spent.tier, spent.anim_hours});
    }
  }

  void MergeOrder() {
    const StringColumn& id = scene.objects.id;
    std::vector<uint32_t> kept, added;
    kept.reserve(rows());
    for (const uint32_t row : base.objects.canonical) {
      if (places.of_base[row] != kNone) kept.push_back(places.of_base[row]);
    }
    for (uint32_t row = 0; row < rows(); ++row) {
      if (merged.was[row] == kNone) added.push_back(row);
    }
    if (kept.empty()) {
      scene.objects.canonical = CanonicalOrder(id);
      return;
    }
    const auto before = [&](uint32_t a, uint32_t b) { return id[a] < id[b]; };
    std::sort(added.begin(), added.end(), before);
    scene.objects.canonical.resize(kept.size() + added.size());
    std::merge(kept.begin(), kept.end(), added.begin(), added.end(), scene.objects.canonical.begin(), before);
  }

  void TakeHeader() {
    Scene& from = state.scene;
    scene.shot_id = std::move(from.shot_id);
    scene.sequence_id = std::move(from.sequence_id);
    scene.frames = from.frames;
    scene.rate = from.rate;
    scene.cameras = from.cameras;
    scene.pictures = from.pictures;
    scene.replaced = from.replaced;
    scene.beats = from.beats;
    scene.directives = std::move(from.directives);
    scene.backdrop_colour = from.backdrop_colour;
  }

  void ResolveNames() {
    std::unordered_map<std::string_view, uint32_t> assets;
    for (uint32_t i = 0; i < scene.assets.size(); ++i) assets.emplace(scene.assets[i], i);
    const NameLookup names = {[&](std::string_view id) { return RowOfId(scene.objects, id).value_or(kNone); },
                              [&](std::string_view name) {
                                const auto found = assets.find(name);
                                return found == assets.end() ? kNone : found->second;
                              }};
    state.ResolveDirectives(scene, names);
    state.ResolveInterest(scene, names);
    state.ResolveCrowds(scene, names);
  }

  MergedScene Run() {
    FindPlaces();
    if (static_cast<int64_t>(rows()) > state.limits.objects) {
      state.violations.Add("objects", GotCount(rows(), absl::StrCat("at most ", state.limits.objects)));
    }
    if (!state.violations.empty()) return {};
    TakeHeader();
    MergeColumns();
    Retrack({base, patch, places, merged.rows_moved, state.limits, state.violations}, state.chunks.Take(), scene);
    ResolveNames();
    return std::move(merged);
  }
};

MergedScene SceneBuilder::FinishOnto(const Scene& base, std::span<const std::string> removed_ids) {
  return Merger{*state_, base, removed_ids}.Run();
}

}  // namespace scantling
