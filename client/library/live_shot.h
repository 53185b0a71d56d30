// A shot as a live session keeps it, and changes of it.
//
// Every object is kept by its id as serialised bytes, so that comparing two versions of a shot is comparing texts, and
// a version shares with the next whatever did not change. Objects that came in blocks are kept as blocks of one.
// All functions are pure and thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_SHOT_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_SHOT_H_

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "scantling/v1/assembly.pb.h"

namespace scantling::client {

struct LiveObject {
  std::string bytes;       // of a v1::SceneObject, or of a v1::ObjectBlock of one object
  bool in_block = false;   // which
  bool per_frame = false;  // it has a pose or a figure for every frame: another range of frames concerns it

  bool operator==(const LiveObject&) const = default;
};
using LiveObjectPtr = std::shared_ptr<const LiveObject>;

struct LiveShot {
  v1::Shot header;  // without objects and blocks
  v1::PlanOptions options;
  std::optional<int32_t> current_frame;
  std::map<std::string, LiveObjectPtr> objects;  // by id
};

// What becomes of a shot. Later fields never contradict earlier ones: beside a header stand neither cameras nor
// directives, they are in it.
struct ShotChange {
  std::map<std::string, LiveObjectPtr> objects;  // by id; null: removed
  std::optional<v1::Shot> header;                // without objects and blocks
  std::map<std::string, v1::ShotCamera> cameras;
  std::optional<v1::DirectiveList> directives;
  std::optional<v1::PlanOptions> options;
  bool keep_earlier = false;  // the options' earlier decisions are those the session has
  std::optional<int32_t> current_frame;

  bool empty() const {
    return objects.empty() && !header && cameras.empty() && !directives && !options && !current_frame;
  }
};

LiveObjectPtr LiveObjectOf(const v1::SceneObject& object);

// The objects of a block put into `objects`, later ones over earlier ones. `frames`: of the shot. INVALID_ARGUMENT
// where the block's columns do not fit together. Linear.
absl::Status AddBlock(const v1::ObjectBlock& block, int64_t frames, std::map<std::string, LiveObjectPtr>& objects);

// A shot with its objects by id; `shot` is consumed. INVALID_ARGUMENT with every fault (faults.h) that keeps it from
// being kept so: an id twice, a block whose columns do not fit together. Other faults are the daemon's to tell.
// O(objects log objects).
absl::StatusOr<LiveShot> LiveShotOf(v1::Shot shot, v1::PlanOptions options);

// The shot in one message again: header, rows, one block. Objects by id.
v1::Shot ShotOf(const LiveShot& shot);

// `older` and then `newer`, as one change.
void Merge(ShotChange newer, ShotChange& older);

// `shot` after `change`. Where frames are cut short by a header, the tracks of objects that stay are cut with them, as
// the daemon does.
void Apply(const ShotChange& change, LiveShot& shot);

// The least change that makes `to` of `from`: only what differs. Cameras alone, or directives alone, where the header
// differs in nothing else. Whatever has a pose or figure for every frame is in it where the frames differ.
ShotChange Difference(const LiveShot& from, const LiveShot& to);

// `change` without what `shot` has already: equal objects, removals of what is not there, an equal header.
ShotChange News(const LiveShot& shot, ShotChange change);

// Whether both speak about one thing: an object, the header, options, the current frame.
bool Touches(const ShotChange& a, const ShotChange& b);

// The change that makes `shot` of nothing.
ShotChange WholeOf(const LiveShot& shot);

int64_t FrameCountOf(const v1::FrameRange& frames);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_SHOT_H_
