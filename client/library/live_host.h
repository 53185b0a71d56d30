// What differs between a host's stage and the API's: units, up axis, the number of the first frame, and names that
// change.
//
// The API: metres, +Y up, cameras looking down -Z with +Y up, frames numbered as in Shot.frames.
// All but StableIds is pure and thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_HOST_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_HOST_H_

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {

enum class UpAxis { kY, kZ };  // right-handed either way

struct HostConventions {
  double metres_per_unit = 1;  // 0.01: the host works in centimetres
  UpAxis up_axis = UpAxis::kY;
  int32_t first_frame = 1;       // the host's number of the shot's first frame
  int32_t shot_first_frame = 1;  // Shot.frames.first
};

// INVALID_ARGUMENT where the scale is not a finite number above 0.
absl::Status Check(const HostConventions& host);

int32_t ToShotFrame(const HostConventions& host, int32_t frame);
int32_t ToHostFrame(const HostConventions& host, int32_t frame);

// From the host's units, axes and frames to the API's, in place.
void ToShot(const HostConventions& host, v1::Vector3& point);  // a place, not a size
void ToShot(const HostConventions& host, v1::Box& box);        // stays well-ordered
// Where an object stands: its own axes are turned with the world's.
void ObjectTrackToShot(const HostConventions& host, v1::TransformTrack& track);
// Where a camera stands: it looks down its own -Z in every host.
void CameraTrackToShot(const HostConventions& host, v1::TransformTrack& track);
void ToShot(const HostConventions& host, v1::Mesh& mesh);
void ToShot(const HostConventions& host, v1::FrameRange& frames);
// Box, transform, measured depths, mesh, openings; frames of sights, replacements and beats.
void ToShot(const HostConventions& host, v1::SceneObject& object);
// Transform, near, far, focus; an orthographic window and its offset; frames of masks. Film stays in millimetres.
void ToShot(const HostConventions& host, v1::ShotCamera& camera);

// Ids that objects keep while their names change. Not thread-safe.
class StableIds {
 public:
  // The id of what the host knows by `handle` (whatever it never changes: a pointer's text, a node's uuid). Given once,
  // from the name it has now: that name, with "_2", "_3", ... where another has it; never an id that was ever given to
  // another handle. At most 1,024 bytes of UTF-8; what is not UTF-8 becomes \xNN. O(log ids).
  const std::string& IdOf(const std::string& handle, std::string_view name);

  // The handle an id was given to; nothing where it was not.
  std::optional<std::string> HandleOf(const std::string& id) const;

  // The handle's object is gone: it is forgotten, and its id is not given again.
  void Forget(const std::string& handle);

 private:
  std::map<std::string, std::string> id_of_;      // by handle
  std::map<std::string, std::string> handle_of_;  // by id
  std::set<std::string> given_;
  std::map<std::string, int64_t> next_;  // by name: the number to try next
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_HOST_H_
