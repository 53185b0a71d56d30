// Jumps and travel: places of the past, seen through the camera of the present.
//
// Lanes are looked at in groups that share a carrier and the frames at which poses begin, so that one affine map a
// group and past frame takes places of then into camera space of now: turn (X - from) + to. Within a group the seen
// lanes are gathered into strips of kStrip, whose loops run over contiguous arrays on the stack and are vectorised by
// the compiler; one place is projected for each frame a pose may have been held, and its squared distance raises the
// jumps of each hold in the one phase whose pose began then.
//
// Measured in nanoseconds, for each moving lane and frame, all 256 lanes of a chunk seen: 57 with holds 1 2 3 4 6 8,
// 30 with 1 2 3 4; with the longer list 72 where they ride on 8 carriers, 101 on 32. A chunk that stands: 0.01.

#include "server/legibility/motion_fold.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace scantling {
namespace {

constexpr size_t kStrip = 32;
constexpr uint16_t kUnseen = 0xffff;
// The "seven-second" panning rule of thumb at 24 frames a second: seven seconds a picture's width are 168 frames.
// (Rule of thumb of the trade, no primary source.)
constexpr double kFramesAcross = 168;
// Squares beyond it, of places just in front of the near plane, count as it, so that every figure stays finite.
constexpr double kLargestSquare = 1e30;

struct Places {
  std::array<double, kStrip> x, y, z;
  void Put(size_t i, const Vec3& place) {
    x[i] = place[0];
    y[i] = place[1];
    z[i] = place[2];
  }
};

// In the picture, against the place of the optical axis, v upwards: only differences are looked at.
struct Points {
  std::array<double, kStrip> u, v, depth;
};

void Project(const CameraView& view, const Affine& map, const Places& places, size_t count, Points& points) {
  const auto [m0, m1, m2, m3, m4, m5, m6, m7, m8] = map.turn;
  const auto [from_x, from_y, from_z] = map.from;
  const auto [to_x, to_y, to_z] = map.to;
  const double scale_u = view.scale_u, scale_v = view.scale_v;
  for (size_t i = 0; i < count; ++i) {
    const double x = places.x[i] - from_x, y = places.y[i] - from_y, z = places.z[i] - from_z;
    points.u[i] = scale_u * (m0 * x + m1 * y + m2 * z + to_x);
    points.v[i] = scale_v * (m3 * x + m4 * y + m5 * z + to_y);
    points.depth[i] = -(m6 * x + m7 * y + m8 * z + to_z);
  }
  if (view.projection == Projection::kOrthographic) return;
  for (size_t i = 0; i < count; ++i) {
    const double inverse = 1 / points.depth[i];
    points.u[i] *= inverse;
    points.v[i] *= inverse;
  }
}

// Squared distances in px; 0 where either lies at or behind the near plane.
void SquaredDistances(const Points& a, const Points& b, double near_m, size_t count, float* squares) {
  for (size_t i = 0; i < count; ++i) {
    const double u = a.u[i] - b.u[i], v = a.v[i] - b.v[i], nearer = std::min(a.depth[i], b.depth[i]);
    const double square = std::min(u * u + v * v, kLargestSquare);
    squares[i] = static_cast<float>(nearer > near_m ? square : 0);
  }
}

float Root(float square) { return std::min(std::sqrt(square), std::numeric_limits<float>::max()); }

// For how many frames the place has been held that is up (or that changes: `steps`) at a frame so many after poses
// began, on a hold in a phase. 0: neither held nor stepping from a hold.
struct Held {
  int32_t frames = 0;
  bool steps = false;
};
Held HeldFor(int32_t hold, int32_t phase, int32_t frames_since_start) {
  if (frames_since_start < phase) return {frames_since_start, false};
  const int32_t within = (frames_since_start - phase) % hold;
  if (within > 0) return {within, false};
  const int32_t last_hold = frames_since_start == phase ? phase : hold;  // the first may be a shorter one
  return {last_hold > 1 ? last_hold : 0, true};
}

// Lanes that move against what carries them.
std::vector<uint8_t> MovingLanes(const PoseChunk& chunk, size_t count) {
  std::vector<uint8_t> moves(count, 0);
  for (int32_t frame = 1; frame < chunk.frames; ++frame) {
    const size_t row = chunk.at(frame, 0);
    size_t moving = 0;
    for (size_t lane = 0; lane < count; ++lane) {
      const int x = chunk.centre_x[row + lane] != chunk.centre_x[lane];
      const int y = chunk.centre_y[row + lane] != chunk.centre_y[lane];
      const int z = chunk.centre_z[row + lane] != chunk.centre_z[lane];
      moves[lane] |= static_cast<uint8_t>(x | y | z);
      moving += moves[lane];
    }
    if (moving == count) break;
  }
  return moves;
}

}  // namespace

int32_t PosesBeganAt(const Scene& scene, const FrameSpans& replaced, const std::vector<int32_t>& beats,
                     int32_t frame_index) {
  const int32_t frame = scene.frames.first + frame_index;
  int32_t began = scene.frames.first;
  if (!beats.empty()) {
    const auto after = std::upper_bound(beats.begin(), beats.end(), frame);
    if (after != beats.begin()) began = std::max(began, *(after - 1));
  }
  for (const FrameRange& range : replaced) {
    if (range.first <= frame) began = std::max(began, std::min(range.last, frame) + 1);
  }
  return std::min(began, frame) - scene.frames.first;
}

// Seen lanes of one group.
struct MotionFold::Strip {
  size_t count = 0;
  std::array<uint16_t, kStrip> slot, lane;
  std::array<float, kStrip> inverse_bound, inverse_floor;  // squares
  Points now;
  // Filled anew for each past frame.
  Places places;
  Points then;
  std::array<float, kStrip> squares;

  void Add(size_t at_slot, uint16_t at_lane, double floor_px, double least_bound_px) {
    const double bound_px = std::max(floor_px, least_bound_px);
    slot[count] = static_cast<uint16_t>(at_slot);
    lane[count] = at_lane;
    inverse_bound[count] = static_cast<float>(1 / (bound_px * bound_px));
    inverse_floor[count] = static_cast<float>(1 / (floor_px * floor_px));
    ++count;
  }
  void Gather(const PoseChunk& chunk, int32_t frame_index) {
    const size_t row = chunk.at(frame_index, 0);
    for (size_t i = 0; i < count; ++i) {
      places.x[i] = chunk.centre_x[row + lane[i]];
      places.y[i] = chunk.centre_y[row + lane[i]];
      places.z[i] = chunk.centre_z[row + lane[i]];
    }
  }
  // Squared distances of the gathered places from where the lanes are now.
  void Gauge(const CameraView& view, const Affine& map) {
    Project(view, map, places, count, then);
    SquaredDistances(now, then, view.near_m, count, squares.data());
  }
};

MotionFold::MotionFold(const ShotOptics& optics, std::span<const uint32_t> rows, const PoseChunk* chunk)
    : optics_(optics), chunk_(chunk), rows_(rows.begin(), rows.end()) {
  if (chunk == nullptr) return;
  MakeGroups(rows, MovingLanes(*chunk, rows.size()));
  jump_count_ = JumpCount(*optics.style);
  paths_.resize(lane_of_slot_.size());
  jumps_.resize(lane_of_slot_.size() * jump_count_);
}

// Lanes whose frames of drawings or beats are their own make groups of their own: no two need agree.
void MotionFold::MakeGroups(std::span<const uint32_t> rows, const std::vector<uint8_t>& moves) {
  const Scene& scene = *optics_.scene;
  std::map<uint32_t, Carrier> carriers;                                  // by container
  std::map<std::pair<uint32_t, uint32_t>, std::vector<uint16_t>> lanes;  // by container and, of its own, row
  for (size_t lane = 0; lane < rows.size(); ++lane) {
    const uint32_t row = rows[lane];
    uint32_t container = scene.objects.container[row];
    if (container != kNone) {
      auto [found, is_new] = carriers.try_emplace(container);
      if (is_new) found->second = Carrier(scene, row);
      if (found->second.is_world()) container = kNone;
    }
    if (moves[lane] == 0 && container == kNone) continue;
    lanes[{container, scene.has_own_breaks(row) ? row : kNone}].push_back(static_cast<uint16_t>(lane));
  }
  if (lanes.empty()) return;
  slot_of_lane_.assign(rows.size(), kNone);
  for (const auto& [key, of_group] : lanes) {
    Group& group = groups_.emplace_back();
    if (key.first != kNone) group.carrier = carriers[key.first];
    group.replaced = key.second == kNone ? &scene.replaced : &scene.replaced_of(key.second);
    group.beats = key.second == kNone ? &scene.beats : &scene.beats_of(key.second);
    group.first = lane_of_slot_.size();
    for (const uint16_t lane : of_group) {
      slot_of_lane_[lane] = static_cast<uint32_t>(lane_of_slot_.size());
      lane_of_slot_.push_back(lane);
    }
    group.end = lane_of_slot_.size();
  }
}

void MotionFold::Add(size_t camera, int32_t frame_index, std::span<const uint16_t> lanes,
                     std::span<const double> floor_px) {
  if (groups_.empty() || lanes.empty()) return;
  std::array<uint16_t, kChunkLanes> seen;  // by slot: place in `lanes`
  std::fill_n(seen.begin(), lane_of_slot_.size(), kUnseen);
  for (size_t i = 0; i < lanes.size(); ++i) {
    const uint32_t slot = slot_of_lane_[lanes[i]];
    if (slot != kNone) seen[slot] = static_cast<uint16_t>(i);
  }
  const CameraView& view = optics_.views[optics_.at(camera, frame_index)];
  const double least_bound_px = view.width_px / kFramesAcross;
  Strip strip;
  for (const Group& group : groups_) {
    for (size_t slot = group.first; slot < group.end; ++slot) {
      if (seen[slot] != kUnseen) strip.Add(slot, lane_of_slot_[slot], floor_px[seen[slot]], least_bound_px);
      if (strip.count == kStrip || (slot + 1 == group.end && strip.count > 0)) {
        AddStrip(group, CarriedEye(view, group.carrier, frame_index), frame_index, strip);
        strip.count = 0;
      }
    }
  }
}

void MotionFold::AddStrip(const Group& group, const CarriedEye& eye, int32_t frame_index, Strip& strip) {
  strip.Gather(*chunk_, frame_index);
  Project(eye.view(), eye.Carried(frame_index), strip.places, strip.count, strip.now);
  AddTravel(group, frame_index, eye, strip);
  AddJumps(group, frame_index, eye, strip);
  LookAtFeet(frame_index, eye.view(), strip);
}

void MotionFold::AddTravel(const Group& group, int32_t frame_index, const CarriedEye& eye, Strip& strip) {
  for (size_t i = 0; i < strip.count; ++i) {
    Path& path = paths_[strip.slot[i]];
    if (!path.seen) {
      const Vec3 offset = Minus(CentreAt(*chunk_, strip.lane[i], frame_index), group.carrier.Centre(frame_index));
      path.first_place = Product(group.carrier.InverseAxes(frame_index), offset);
      path.seen = true;
    }
    strip.places.Put(i, path.first_place);
  }
  strip.Gauge(eye.view(), eye.Local());
  for (size_t i = 0; i < strip.count; ++i) {
    Path& path = paths_[strip.slot[i]];
    path.travel = std::max(path.travel, strip.squares[i]);
    path.travel_over_floor = std::max(path.travel_over_floor, strip.squares[i] * strip.inverse_floor[i]);
  }
}

// Sorted by frames held.
void MotionFold::PlanRaises(int32_t frames_since_start) {
  if (planned_for_ == frames_since_start) return;
  planned_for_ = frames_since_start;
  raises_.clear();
  uint16_t jump = 0;
  for (const int32_t hold : optics_.style->holds) {
    for (int32_t phase = 0; hold > 1 && phase < hold; ++phase, ++jump) {
      const Held held = HeldFor(hold, phase, frames_since_start);
      if (held.frames > 0) raises_.push_back({jump, static_cast<uint8_t>(held.frames), held.steps});
    }
  }
  std::stable_sort(raises_.begin(), raises_.end(),
                   [](const Raise& a, const Raise& b) { return a.frames_held < b.frames_held; });
}

void MotionFold::AddJumps(const Group& group, int32_t frame_index, const CarriedEye& eye, Strip& strip) {
  PlanRaises(frame_index - PosesBeganAt(*optics_.scene, *group.replaced, *group.beats, frame_index));
  for (auto raise = raises_.begin(); raise != raises_.end();) {
    const int32_t held = raise->frames_held, since = frame_index - held;
    strip.Gather(*chunk_, since);
    strip.Gauge(eye.view(), eye.Carried(since));
    for (; raise != raises_.end() && raise->frames_held == held; ++raise) {
      const float slips = raise->steps ? 0 : 1;
      for (size_t i = 0; i < strip.count; ++i) {
        Jump& jump = jumps_[strip.slot[i] * jump_count_ + raise->jump];
        const float square = strip.squares[i], slip = square * slips;
        jump.over_bound = std::max(jump.over_bound, square * strip.inverse_bound[i]);
        jump.px = std::max(jump.px, square);
        jump.slip_px = std::max(jump.slip_px, slip);
        jump.slip_over_floor = std::max(jump.slip_over_floor, slip * strip.inverse_floor[i]);
      }
    }
  }
}

// Most feet are seen in the first frame and never looked at again.
void MotionFold::LookAtFeet(int32_t frame_index, const CameraView& view, const Strip& strip) {
  for (size_t i = 0; i < strip.count; ++i) {
    Path& path = paths_[strip.slot[i]];
    if (path.feet_seen) continue;
    const size_t at = chunk_->at(frame_index, strip.lane[i]);
    const Vec3 up = {chunk_->axis[3][at], chunk_->axis[4][at], chunk_->axis[5][at]};
    const Vec3 base =
        Product(view.world_to_camera, Minus(Minus(CentreAt(*chunk_, strip.lane[i], frame_index), view.position_m), up));
    const double depth = -base[2];
    const double by = view.projection == Projection::kPerspective ? depth : 1;
    const double u = view.centre_u + view.scale_u * base[0] / by, v = view.centre_v - view.scale_v * base[1] / by;
    const double over = view.overscan_px;
    path.feet_seen =
        depth > view.near_m && -over <= u && u <= view.width_px + over && -over <= v && v <= view.height_px + over;
  }
}

std::vector<Jump> MotionFold::Finish(size_t lane, Legibility& columns) {
  Motion& motion = columns.motion;
  const uint32_t row = rows_[lane];
  const uint32_t slot = slot_of_lane_.empty() ? kNone : slot_of_lane_[lane];
  const Path path = slot == kNone ? Path{} : paths_[slot];
  motion.travel_px[row] = Root(path.travel);
  motion.travel_over_floor[row] = Root(path.travel_over_floor);
  motion.feet_unseen[row] = path.seen && !path.feet_seen ? 1 : 0;
  if (slot == kNone) return {};
  const auto first = jumps_.begin() + static_cast<std::ptrdiff_t>(slot * jump_count_);
  std::vector<Jump> jumps(first, first + static_cast<std::ptrdiff_t>(jump_count_));
  bool moves = false;
  for (Jump& jump : jumps) {
    jump = {Root(jump.over_bound), Root(jump.px), Root(jump.slip_px), Root(jump.slip_over_floor)};
    moves |= jump.px > kNoJumpPx;
  }
  if (!moves) jumps.clear();
  return jumps;
}

double PathStepPx(const ShotOptics& optics, uint32_t object, size_t camera, int32_t frame_index,
                  std::pair<int32_t, int32_t> hold_and_phase) {
  const Scene& scene = *optics.scene;
  if (scene.objects.chunk[object] == kNone) return 0;
  const int32_t began = PosesBeganAt(scene, scene.replaced_of(object), scene.beats_of(object), frame_index);
  const Held held = HeldFor(hold_and_phase.first, hold_and_phase.second, frame_index - began);
  if (!held.steps || held.frames == 0) return 0;
  const PoseChunk& chunk = scene.chunks[scene.objects.chunk[object]];
  const int32_t lane = scene.objects.lane[object];
  const CameraView& view = optics.views[optics.at(camera, frame_index)];
  const Carrier carrier(scene, object);
  const CarriedEye eye(view, carrier, frame_index);
  Places now_place, then_place;
  Points now, then;
  now_place.Put(0, CentreAt(chunk, lane, frame_index));
  then_place.Put(0, CentreAt(chunk, lane, frame_index - held.frames));
  Project(view, eye.Carried(frame_index), now_place, 1, now);
  Project(view, eye.Carried(frame_index - held.frames), then_place, 1, then);
  float square = 0;
  SquaredDistances(now, then, view.near_m, 1, &square);
  return Root(square);
}

}  // namespace scantling
