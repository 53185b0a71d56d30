// What a SceneBuilder holds while a scene grows. Private to the builder's sources.

#ifndef SCANTLING_SERVER_SCENE_BUILDER_STATE_H_
#define SCANTLING_SERVER_SCENE_BUILDER_STATE_H_

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/chunks.h"
#include "server/scene/id_index.h"
#include "server/scene/object_input.h"
#include "server/scene/particulars.h"
#include "server/scene/places.h"

namespace scantling {

// Names that many objects share, each once; number i is text i of the column.
class NameTable {
 public:
  explicit NameTable(StringColumn& names) : names_(names), index_(names) {}

  uint32_t Intern(std::string_view name) {
    const uint32_t known = index_.Find(name);
    if (known != kNone) return known;
    names_.Append(name);
    const auto number = static_cast<uint32_t>(names_.size() - 1);
    index_.Insert(number);
    return number;
  }
  uint32_t Find(std::string_view name) const { return index_.Find(name); }

 private:
  StringColumn& names_;
  IdIndex index_;
};

// Row of an object and number of an asset by name; kNone: there is none.
struct NameLookup {
  std::function<uint32_t(std::string_view)> object, asset;
};

// A point of interest until the objects are all known.
struct PendingInterest {
  std::string path, object_id;
  PointOfInterest point;
};

// The part of an object that the sender names: resolved by AddRow and AddBlock, each from its own form.
struct ObjectNames {
  uint16_t class_index = 0;
  bool class_known = false;  // else a violation was recorded
  uint32_t asset = kNone;
  uint32_t container = kNone;  // number of the name in `container_names`
  std::array<uint8_t, 4> colour = {};
};

struct SceneBuilder::State {
  State(const ClassCatalogue& catalogue_in, const SceneLimits& limits_in, Violations& violations_in)
      : catalogue(catalogue_in), limits(limits_in), violations(violations_in) {}

  const ClassCatalogue& catalogue;
  const SceneLimits limits;
  Violations& violations;

  Scene scene;
  ShotShape shape;
  ChunkWriter chunks;
  IdIndex ids{scene.objects.id};
  NameTable assets{scene.assets};
  StringColumn container_column;
  NameTable container_names{container_column};
  NameTable hold_groups{scene.hold_groups};
  ParticularsTally particulars;
  Places places;
  std::vector<PendingInterest> interest;
  std::vector<CrowdSpec> crowds;
  int64_t sent = 0;         // objects, those beyond the limit included
  bool odd_class = false;   // some objects' class is not known: it may be any
  bool incomplete = false;  // some objects could not be read: what is not found may be among them

  bool RoomFor(int64_t count);
  // Adds the object: names are resolved already; checks everything else. Columns and places grow by one.
  void AddObject(const ObjectInput& input, const ObjectNames& names);
  bool AddId(const ObjectInput& input);
  void AddColumns(const ObjectInput& input, const ObjectNames& names, bool good);
  // The object's inner box and particulars; false where they are faulty.
  bool AddParticulars(const ObjectInput& input, Geometry geometry, const ObjectNames& names);
  void AddPoses(const ObjectInput& input, uint32_t row);
  // Number of the asset or container name; kNone where it is empty or faulty (then a violation was recorded).
  uint32_t InternName(NameTable& table, std::string_view name, const std::string& field);

  void ResolveContainers();
  void RefuseCycles();

  // What names objects and assets of `of`, the scene being built or the one it is merged into. Crowds and points of
  // interest go there; faults to `violations`.
  void ResolveDirectives(const Scene& of, const NameLookup& names);
  void ResolveInterest(Scene& of, const NameLookup& names);
  void ResolveCrowds(Scene& of, const NameLookup& names);
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_BUILDER_STATE_H_
