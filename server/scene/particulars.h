// What only some objects have, checked and turned into what stages read: occluders, openings, indirect sight, drawings
// that stand for frames, beats.

#ifndef SCANTLING_SERVER_SCENE_PARTICULARS_H_
#define SCANTLING_SERVER_SCENE_PARTICULARS_H_

#include <cstdint>
#include <string>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/faults.h"
#include "server/scene/object_input.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Of all objects so far: what a small message could otherwise make large.
struct ParticularsTally {
  int64_t mesh_vertices = 0, mesh_triangles = 0, openings = 0;
  int64_t frame_marks = 0;  // beats and ranges of frames, with the shot's own
};

enum class Geometry : uint8_t {
  kNone,    // measured only: there is no box to place anything in
  kGood,    //
  kFaulty,  // and reported: what depends on it is not checked
};

// One object under check.
struct ParticularsCheck {
  const ObjectInput& input;
  Geometry geometry;
  const ClassCatalogue& catalogue;
  const ObjectClass* object_class;  // nullptr: unknown, and reported
  const Scene& scene;               // its frames, replaced, beats
  const SceneLimits& limits;
  ParticularsTally& tally;
  Violations& violations;

  // True where nothing was wrong; else every fault went to `violations`, under "objects[3].particulars..." or
  // "blocks[0].particulars[2].particulars...".

  // The object's inner box resolved.
  bool InnerBox(float& inner_box) const;
  // All of `out` but its object and hold_group. The input has particulars.
  bool Read(Particulars& out) const;

 private:
  std::string At(const std::string& field) const;
  template <typename Description>
  bool Fault(const std::string& field, const Description& description) const;
  // Records a fault where `so_far` is beyond `most`, of the things `what`.
  bool Within(const std::string& field, int64_t so_far, int64_t most, const char* what) const;
  bool SeenThrough(const std::string& field, const std::string& got) const;
  bool HasGeometry(const std::string& field, const std::string& got) const;

  bool Share(const std::string& field, double sent, const char* want) const;
  bool ColumnBesideOccluder() const;
  bool Indirect(std::vector<IndirectSight>& indirect) const;
  bool Breaks(Particulars& out) const;

  // In occluder.cc.
  bool Mesh(OccluderMesh& mesh) const;
  bool MeshSizes(const MeshSpec& sent) const;
  bool MeshVertices(const MeshSpec& sent, OccluderMesh& mesh) const;
  bool MeshTriangles(const MeshSpec& sent, OccluderMesh& mesh) const;
  bool Openings(std::vector<Opening>& openings) const;
  bool OneOpening(size_t number, const OpeningSpec& sent, Opening& opening) const;
  bool OpeningNumbers(const std::string& here, const OpeningSpec& sent) const;
};

template <typename Description>
bool ParticularsCheck::Fault(const std::string& field, const Description& description) const {
  AddFault(
      violations, [&] { return At(field); }, description);
  return false;
}

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_PARTICULARS_H_
