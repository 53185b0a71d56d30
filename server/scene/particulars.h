// What only some objects have, checked and turned into what stages read: occluders, openings, indirect sight, hold
// groups, drawings that stand for frames, beats. Frame lists and masks of the shot too.

#ifndef SCANTLING_SERVER_SCENE_PARTICULARS_H_
#define SCANTLING_SERVER_SCENE_PARTICULARS_H_

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "server/scene/builder.h"
#include "server/scene/object_input.h"
#include "server/scene/scene.h"
#include "server/units/violations.h"

namespace scantling {

// Ranges as spans, in any order, overlapping or not: they are a set of frames. Every range must lie within the shot
// (an empty one: not known, then only its own order is checked); faults go to "<field>[i]".
FrameSpans CheckFrames(std::span<const FrameRange> ranges, FrameRange shot, const std::string& field,
                       Violations& violations);
// The same for single frames, sorted, each once; more than SceneLimits::beats are refused.
std::vector<int32_t> CheckBeats(std::span<const int32_t> beats, FrameRange shot, const std::string& field,
                                const SceneLimits& limits, Violations& violations);

// Masks of camera `path`: shares within 0..1, left below right, top below bottom, frames within the shot.
std::vector<Mask> CheckMasks(std::span<const Mask> masks, FrameRange shot, const std::string& path,
                             const SceneLimits& limits, Violations& violations);

struct ParticularsCheck {
  const ObjectInput& input;
  const ClassCatalogue& catalogue;
  const ObjectClass* object_class;  // nullptr: unknown, and reported
  const Scene& scene;               // its frames, replaced, beats
  const SceneLimits& limits;
  int64_t& vertices;  // of all meshes so far
  Violations& violations;

  // The object's inner box resolved, and `out` filled; hold_group is the caller's. True where nothing was wrong.
  bool Read(float& inner_box, Particulars& out) const;

 private:
  std::string At(const std::string& field) const;
  template <typename Description>
  bool Fault(const std::string& field, const Description& description) const;
  bool InnerBox(float& inner_box) const;
  bool SeenThrough(const std::string& field, const std::string& got) const;
  bool Mesh(OccluderMesh& mesh) const;
  bool MeshSizes(const MeshSpec& sent) const;
  bool Openings(std::vector<Opening>& openings) const;
  bool OneOpening(size_t number, const OpeningSpec& sent, Opening& opening) const;
  bool Indirect(std::vector<IndirectSight>& indirect) const;
  bool Frames(Particulars& out) const;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_PARTICULARS_H_
