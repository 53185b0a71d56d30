// The last step: what could not be known before all objects were there.
//
// Names become rows: containers, targets of directives, points of interest, crowds (crowds.cc). Where some objects
// could not be read (too many of them, or a block whose sizes disagree) a name that is not found may well be theirs, so
// it is not reported. Then cycles of containers, then the canonical order.

#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/canonical.h"
#include "server/scene/containers.h"
#include "server/scene/faults.h"
#include "server/scene/header.h"

namespace scantling {
void SceneBuilder::State::ResolveContainers() {
  std::vector<uint32_t> row_of_name(container_column.size());
  for (size_t i = 0; i < row_of_name.size(); ++i) row_of_name[i] = ids.Find(container_column[i]);
  std::vector<uint32_t>& container = scene.objects.container;
  for (uint32_t row = 0; row < container.size(); ++row) {
    const uint32_t name = container[row];
    if (name == kNone) continue;
    container[row] = row_of_name[name];
    if (container[row] != kNone || incomplete) continue;
    AddFault(
        violations, [&] { return places.Of(row).Field("container_id", "container_of"); },
        [&] { return GotText(container_column[name], "the id of an object of the shot"); });
  }
}

void SceneBuilder::State::RefuseCycles() {
  std::vector<uint32_t>& container = scene.objects.container;
  for (const std::vector<uint32_t>& cycle : FindCycles(container)) {
    AddFault(
        violations, [&] { return places.Of(cycle[0]).Field("container_id", "container_of"); },
        [&] { return CycleFault(cycle, scene.objects.id); });
    container[cycle[0]] = kNone;  // whoever walks the containers of a refused scene still comes to an end
  }
}

void SceneBuilder::State::ResolveDirectives(const Scene& of, const NameLookup& names) {
  if (incomplete) return;
  for (size_t i = 0; i < of.directives.size(); ++i) {
    const Directive& directive = of.directives[i];
    if (directive.target.empty()) continue;  // reported with the header
    const bool object = directive.scope == DirectiveScope::kObject;
    const bool asset = directive.scope == DirectiveScope::kAsset;
    if (object && names.object(directive.target) == kNone) {
      violations.Add(TargetField(directive, i), GotText(directive.target, "the id of an object of the shot"));
    } else if (asset && names.asset(directive.target) == kNone) {
      violations.Add(TargetField(directive, i), GotText(directive.target, "an asset that an object of the shot names"));
    }
  }
}

void SceneBuilder::State::ResolveInterest(Scene& of, const NameLookup& names) {
  for (PendingInterest& pending : interest) {
    if (!pending.object_id.empty()) {
      pending.point.object = names.object(pending.object_id);
      if (pending.point.object == kNone && !incomplete) {
        violations.Add(pending.path + ".object_id", GotText(pending.object_id, "the id of an object of the shot"));
      }
    }
    of.interest.push_back(pending.point);
  }
}

Scene SceneBuilder::Finish() {
  State& s = *state_;
  if (s.sent > s.limits.objects) {
    s.violations.Add("objects", GotCount(static_cast<size_t>(s.sent), absl::StrCat("at most ", s.limits.objects)));
  }
  const NameLookup names = {[&](std::string_view id) { return s.ids.Find(id); },
                            [&](std::string_view name) { return s.assets.Find(name); }};
  s.ResolveContainers();
  s.RefuseCycles();
  s.ResolveDirectives(s.scene, names);
  s.ResolveInterest(s.scene, names);
  s.ResolveCrowds(s.scene, names);
  s.scene.objects.canonical = CanonicalOrder(s.scene.objects.id);
  s.scene.chunks = s.chunks.Take();
  return std::move(s.scene);
}

}  // namespace scantling
