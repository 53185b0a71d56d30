// The shot as it was sent, in columns: what every later stage reads and none changes.
//
// Layout. Object i of a shot is row i of the columns in Objects. Where it stands is kept as *folded boxes*: the centre
// of its local box and the three half-axes of that box, both carried into the world, so that corner = centre +- a +- b
// +- c. Folded boxes live in chunks of kChunkLanes objects. A static chunk holds one pose of each, a moving chunk
// one pose per frame, frame-major, so that one frame of one chunk is a run of contiguous floats for the view kernel:
//
//   chunk.centre_x[frame_index * kChunkLanes + lane]      (frame_index = 0 in a static chunk)
//
// 60 bytes a pose. A million static objects are 60 MB; 10,000 moving ones over 240 frames are 144 MB.
//
// Order. Rows keep the order in which they came; Objects::canonical lists them by id (bytewise), and everything that
// could depend on order (forest, solver, answer) goes by it, so that the order of sending changes no byte of an answer.

#ifndef SCANTLING_SERVER_SCENE_SCENE_H_
#define SCANTLING_SERVER_SCENE_SCENE_H_

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/policy/types.h"
#include "server/scene/shared_column.h"
#include "server/units/frames.h"
#include "server/units/tier.h"

namespace scantling {

using Vec3 = std::array<double, 3>;

enum class Projection : uint8_t { kPerspective, kOrthographic };

// A rectangle of the picture that is covered later. Shares of width and height from the top left.
struct Mask {
  double left = 0, top = 0, right = 1, bottom = 1;
  FrameSpans frames;  // all frames of the shot where none were given
  friend bool operator==(const Mask&, const Mask&) = default;
};

struct CameraPose {
  Vec3 position_m = {0, 0, 0};
  // World to camera rotation, row-major: rows are the camera's +X, +Y and +Z axes in the world. Scale was stripped.
  std::array<double, 9> world_to_camera = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  double focal_mm = 50;                                      // perspective only
  double focus_m = std::numeric_limits<double>::infinity();  // stage depth in focus
  friend bool operator==(const CameraPose&, const CameraPose&) = default;
};

struct Camera {
  std::string id;
  Projection projection = Projection::kPerspective;
  // Window: millimetres of film (perspective) or metres of stage (orthographic).
  double window_width = 36, window_height = 24;
  double offset_x = 0, offset_y = 0;
  int32_t width_px = 2048, height_px = 858;
  double overscan_px = 0;
  double near_m = 0.1;
  double far_m = std::numeric_limits<double>::infinity();
  double f_number = 0;  // 0: not given
  int32_t picture = 0;  // cameras of one stereo pair share a picture index; others have their own
  std::vector<Mask> masks;
  std::vector<CameraPose> poses;  // one, or one per frame

  const CameraPose& pose(int32_t frame_index) const {
    return poses[poses.size() == 1 ? 0 : static_cast<size_t>(frame_index)];
  }
  friend bool operator==(const Camera&, const Camera&) = default;
};

inline constexpr int kChunkLanes = 256;

struct PoseChunk {
  int32_t frames = 1;                                 // 1: static
  int32_t count = 0;                                  // lanes in use; the rest repeat no object and hold zeros
  std::array<uint32_t, kChunkLanes> object = {};      // row of each lane; kNone: an object left it (merged scenes only)
  SharedColumn<double> centre_x, centre_y, centre_z;  // [frames * kChunkLanes], metres
  std::array<SharedColumn<float>, 9> axis;  // a.x a.y a.z b.x ... c.z; a, b, c: half-axes along local X, Y (up), Z

  size_t at(int32_t frame_index, int32_t lane) const {
    return static_cast<size_t>(frames == 1 ? 0 : frame_index) * kChunkLanes + static_cast<size_t>(lane);
  }
};

// What a caller measured itself, for one camera and frame.
struct MeasuredFigure {
  float height_px = 0;  // 0: not in frame
  float covered_px = 0;
  float depth_m = 0;  // > 0 where in frame
};

// Strings in one blob; string i is text(i).
class StringColumn {
 public:
  void Append(std::string_view text) {
    blob_.append(text);
    ends_.push_back(blob_.size());
  }
  size_t size() const { return ends_.size(); }
  std::string_view operator[](size_t i) const {
    const size_t begin = i == 0 ? 0 : ends_[i - 1];
    return std::string_view(blob_).substr(begin, ends_[i] - begin);
  }
  void Reserve(size_t count, size_t bytes) {
    ends_.reserve(count);
    blob_.reserve(bytes);
  }

 private:
  std::string blob_;
  std::vector<uint64_t> ends_;
};

inline constexpr uint32_t kNone = 0xffffffffu;

struct Objects {
  StringColumn id;                             // unique, valid UTF-8, 1 to 1024 bytes
  std::vector<uint16_t> class_index;           // into the ClassCatalogue
  std::vector<uint32_t> asset;                 // into Scene::assets; kNone: no asset named
  std::vector<uint32_t> container;             // row of the container; kNone: none. No cycles.
  std::vector<float> importance;               // > 0; the class's where none was given
  std::vector<float> complexity;               // > 0; 1 where none was given
  std::vector<std::array<uint8_t, 4>> colour;  // sRGB 8 bit and 1; last 0: not given
  std::vector<uint32_t> chunk;                 // into Scene::chunks; kNone: no geometry, measured by the caller
  std::vector<uint16_t> lane;
  std::vector<uint32_t> measured;     // which measured object it is (see Scene::measured); kNone: not measured
  std::vector<float> inner_box;       // share of the box that is solid, 0..1; 0: hides nothing by a box. Resolved: the
                                      // class's where none was given; 0 where a mesh was.
  std::vector<uint32_t> particulars;  // into Scene::particulars; kNone: has none
  std::vector<uint32_t> canonical;    // rows by id, bytewise
  size_t size() const { return class_index.size(); }
};

// Places on an object in *box coordinates*: a place (x, y, z) is centre + x a + y b + z c, so that poses carry it
// along. The box is -1..1 on every axis; on the axis of a card's thickness (none, or under a millionth of its size) all
// are 0. Meshes lie within the box; openings reach 1e9 at most.
struct OccluderMesh {
  std::vector<std::array<float, 3>> vertices;
  std::vector<std::array<uint32_t, 3>> triangles;
};
struct Opening {
  std::array<float, 3> min = {}, max = {};
};

enum class IndirectKind : uint8_t { kShadow, kReflection, kLight };
struct IndirectSight {
  IndirectKind kind = IndirectKind::kShadow;
  FrameSpans frames;        // within the shot
  bool whole_shot = false;  // sent without frames: all of the shot, whatever its frames become
};

// What only some objects have. Frame lists lie within the shot; read them by Scene::replaced_of and beats_of.
struct Particulars {
  uint32_t object = 0;
  OccluderMesh mesh;  // no triangles: none
  std::vector<Opening> openings;
  std::vector<IndirectSight> indirect;
  uint32_t hold_group = kNone;  // into Scene::hold_groups
  FrameSpans replaced;          // by a drawing; the shot's own taken in; none: has none but the shot's
  std::vector<int32_t> beats;   // frames, rising; the same
  FrameSpans own_replaced;      // as sent, without the shot's
  std::vector<int32_t> own_beats;
};

enum class DirectiveScope : uint8_t { kObject, kAsset, kClass };
enum class DirectiveBound : uint8_t { kAtLeast, kAtMost, kExactly };

struct Directive {
  DirectiveScope scope = DirectiveScope::kObject;
  std::string target;  // id of an object or asset, or name of a class
  DirectiveBound bound = DirectiveBound::kAtLeast;
  Tier tier = Tier::kFullRig;
  std::string who, why;
};

// Hours already spent on one object at one tier: neither saved nor charged again.
struct SpentWork {
  uint32_t object = 0;
  Tier tier = Tier::kFullRig;
  double anim_hours = 0;
};

// Where the audience looks: an object (its projected centre) or a place in the picture.
struct PointOfInterest {
  uint32_t object = kNone;  // row; kNone: the place below
  double x = 0.5, y = 0.5;  // shares of picture width and height, from the top left
  FrameRange frames;
};

// A named group of which enough must stay.
struct Crowd {
  std::string name;                // unique
  std::vector<uint32_t> members;   // rows, rising, each once; not empty
  double keep_share = 0;           // 0..1; 0: not asked for
  int32_t columns = 0, rows = 0;   // cells of every picture; both 0: none. columns * rows <= 64
  double least_covered_share = 0;  // of every cell, 0..1; 0: not asked for
};

struct Scene {
  std::string shot_id;
  std::string sequence_id;
  FrameRange frames;
  FrameRate rate;
  std::vector<Camera> cameras;  // at least one
  int32_t pictures = 0;         // number of different Camera::picture values
  Objects objects;
  StringColumn assets;
  std::vector<PoseChunk> chunks;
  std::vector<MeasuredFigure> measured;  // [measured object][camera][frame_index]; they win over geometry
  std::vector<Particulars> particulars;
  StringColumn hold_groups;
  FrameSpans replaced;         // frames in which a drawing stands for the whole picture
  std::vector<int32_t> beats;  // frames at which every pose may start anew, rising
  std::vector<Directive> directives;
  std::vector<SpentWork> spent;
  std::vector<PointOfInterest> interest;
  std::vector<Crowd> crowds;
  std::optional<std::array<uint8_t, 3>> backdrop_colour;

  // Frames in which a drawing stands for the object, and frames at which its poses start anew.
  // Whether the object sent drawings or beats of its own; the shot's are then taken in.
  bool has_own_breaks(uint32_t object) const {
    const uint32_t i = objects.particulars[object];
    return i != kNone && !(particulars[i].replaced.empty() && particulars[i].beats.empty());
  }
  const FrameSpans& replaced_of(uint32_t object) const {
    const uint32_t i = objects.particulars[object];
    return i == kNone || particulars[i].replaced.empty() ? replaced : particulars[i].replaced;
  }
  const std::vector<int32_t>& beats_of(uint32_t object) const {
    const uint32_t i = objects.particulars[object];
    return i == kNone || particulars[i].beats.empty() ? beats : particulars[i].beats;
  }

  const MeasuredFigure& measured_at(uint32_t object, size_t camera, int32_t frame_index) const {
    const auto frame_count = static_cast<size_t>(frames.count());
    return measured[(objects.measured[object] * cameras.size() + camera) * frame_count +
                    static_cast<size_t>(frame_index)];
  }
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_SCENE_H_
