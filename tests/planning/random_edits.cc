// Edits are made on the shot and noted in the message at once, so both say the same. What an edit must not do (remove
// what others name or stand in, hold itself) is avoided here; refusals have tests of their own.

#include "tests/planning/random_edits.h"

#include <algorithm>
#include <set>
#include <utility>

#include "client/sample/sample.h"

namespace scantling::testing {
namespace {

void Shift(int matrix, double dx, double dy, double dz, v1::TransformTrack& track) {
  track.set_matrices(16 * matrix + 12, track.matrices(16 * matrix + 12) + dx);
  track.set_matrices(16 * matrix + 13, track.matrices(16 * matrix + 13) + dy);
  track.set_matrices(16 * matrix + 14, track.matrices(16 * matrix + 14) + dz);
}

void CutRanges(int last, google::protobuf::RepeatedPtrField<v1::FrameRange>& ranges) {
  for (int i = ranges.size() - 1; i >= 0; --i) {
    if (ranges.Get(i).first() > last) {
      ranges.DeleteSubrange(i, 1);
    } else if (ranges.Get(i).last() > last) {
      ranges.Mutable(i)->set_last(last);
    }
  }
}

void CutBeats(int last, google::protobuf::RepeatedField<int32_t>& beats) {
  beats.erase(std::remove_if(beats.begin(), beats.end(), [&](int32_t beat) { return beat > last; }), beats.end());
}

// Tracks of one pose stay.
template <typename Number>
void CutTrack(google::protobuf::RepeatedField<Number>& track, int per_frame) {
  if (track.size() > per_frame) track.Truncate(track.size() - per_frame);
}

}  // namespace

v1::Shot Pool(int objects, int frames, uint64_t seed) {
  SampleOptions options;
  options.objects = objects;
  options.frames = frames;
  options.seed = seed;
  options.width_px = 640;
  options.height_px = 268;
  return MakeSample(options);
}

RandomEdits::RandomEdits(v1::Shot pool, uint64_t seed) : pool_(std::move(pool)), random_(seed) {
  shot_ = pool_;
  shot_.clear_objects();
  std::set<std::string> taken;
  std::set<std::string> named;
  for (const v1::Directive& directive : shot_.directives()) named.insert(directive.object_id());
  for (const v1::PointOfInterest& point : shot_.interest()) named.insert(point.object_id());
  for (const v1::SceneObject& object : pool_.objects()) {
    const bool housed = object.container_id().empty() || taken.contains(object.container_id());
    if (!housed || (!named.contains(object.id()) && Below(2) == 0 && object.container_id().empty() == false)) continue;
    taken.insert(object.id());
    *shot_.add_objects() = object;
  }
  if (shot_.crowds().empty()) return;
  shot_.clear_crowds();
  v1::Crowd& crowd = *shot_.add_crowds();
  crowd.set_name("people");
  crowd.add_class_names("person");
  crowd.set_keep_share(0.25);
  crowd.set_cell_columns(3);
  crowd.set_cell_rows(2);
  crowd.set_least_covered_share(0.1);
}

v1::Shot RandomEdits::Header() const {
  v1::Shot header = shot_;
  header.clear_objects();
  return header;
}

v1::ShotEdit RandomEdits::First() const {
  v1::ShotEdit edit;
  *edit.mutable_objects() = shot_.objects();
  return edit;
}

int RandomEdits::Find(const std::string& id) const {
  for (int i = 0; i < shot_.objects_size(); ++i) {
    if (shot_.objects(i).id() == id) return i;
  }
  return -1;
}

int RandomEdits::People() const {
  return static_cast<int>(std::count_if(shot_.objects().begin(), shot_.objects().end(),
                                        [](const v1::SceneObject& object) { return object.class_name() == "person"; }));
}

// Something else names it: it must stay.
bool RandomEdits::IsNamed(const std::string& id) const {
  const auto is_it = [&](const auto& named) { return named.object_id() == id; };
  if (std::any_of(shot_.directives().begin(), shot_.directives().end(), is_it)) return true;
  if (std::any_of(shot_.interest().begin(), shot_.interest().end(), is_it)) return true;
  for (const v1::Crowd& crowd : shot_.crowds()) {
    for (const std::string& named : crowd.object_ids()) {
      if (named == id) return true;
    }
    for (const std::string& named : crowd.container_ids()) {
      if (named == id) return true;
    }
  }
  return std::any_of(shot_.objects().begin(), shot_.objects().end(),
                     [&](const v1::SceneObject& object) { return object.container_id() == id; });
}

// Object i of the shot as it now is, in the edit in place of what the edit said of it before.
void RandomEdits::Put(const v1::SceneObject& object, v1::ShotEdit& edit) {
  for (v1::SceneObject& sent : *edit.mutable_objects()) {
    if (sent.id() != object.id()) continue;
    sent = object;
    return;
  }
  *edit.add_objects() = object;
}

void RandomEdits::MoveObject(v1::ShotEdit& edit) {
  v1::SceneObject& object = *shot_.mutable_objects(Below(shot_.objects_size()));
  v1::TransformTrack& track = *object.mutable_transform();
  const int poses = track.matrices_size() / 16;
  if (poses == 0) return;
  const double dx = Between(-4, 4), dz = Between(-6, 6);
  const int way = Below(5);
  if (way == 0 && poses == 1) {  // begins to move
    const int frames = shot_.frames().last() - shot_.frames().first() + 1;
    const std::vector<double> first(track.matrices().begin(), track.matrices().begin() + 16);
    for (int f = 1; f < frames; ++f) track.mutable_matrices()->Add(first.begin(), first.end());
    for (int f = 0; f < frames; ++f) Shift(f, dx * f / frames, 0, dz * f / frames, track);
  } else if (way == 1 && poses > 1) {  // stops
    track.mutable_matrices()->Truncate(16);
  } else {
    for (int f = 0; f < poses; ++f) Shift(f, dx, 0, dz, track);
  }
  Put(object, edit);
}

void RandomEdits::AlterObject(v1::ShotEdit& edit) {
  v1::SceneObject& object = *shot_.mutable_objects(Below(shot_.objects_size()));
  switch (Below(6)) {
    case 0:
      object.set_importance(Between(0.3, 4));
      break;
    case 1:
      object.set_complexity(Between(0.5, 3));
      break;
    case 2:
      object.mutable_colour()->set_red(static_cast<uint32_t>(Below(256)));
      break;
    case 3: {
      object.clear_spent();
      v1::SpentWork& spent = *object.add_spent();
      spent.set_tier(Below(2) == 0 ? v1::PROXY : v1::FULL_RIG);
      spent.set_anim_hours(Between(0, 30));
      break;
    }
    case 4: {
      const double grown = Between(0.5, 1.6);
      v1::Vector3& top = *object.mutable_box()->mutable_max_m();
      top.set_y(object.box().min_m().y() + (top.y() - object.box().min_m().y()) * grown);
      object.mutable_particulars()->clear_openings();
      if (object.particulars().occluder().has_mesh()) object.mutable_particulars()->clear_occluder();
      break;
    }
    default:
      object.set_asset_id(pool_.objects(Below(pool_.objects_size())).asset_id());
  }
  Put(object, edit);
}

void RandomEdits::AddObjects(v1::ShotEdit& edit) {
  const int count = 1 + Below(4);
  for (int i = 0; i < count; ++i) {
    const v1::SceneObject& object = pool_.objects(Below(pool_.objects_size()));
    const bool housed = object.container_id().empty() || Find(object.container_id()) >= 0;
    const auto& removed = edit.removed_ids();
    if (!housed || Find(object.id()) >= 0 || std::find(removed.begin(), removed.end(), object.id()) != removed.end()) {
      continue;
    }
    v1::SceneObject added = object;
    // The pool's tracks are of the frames the series began with.
    const int frames = shot_.frames().last() - shot_.frames().first() + 1;
    if (added.transform().matrices_size() > 16) {
      added.mutable_transform()->mutable_matrices()->Truncate(frames == 1 ? 16 : 16 * frames);
    }
    added.clear_measured();
    added.mutable_particulars()->clear_replaced();
    added.mutable_particulars()->clear_beats();
    for (v1::IndirectSight& sight : *added.mutable_particulars()->mutable_indirect()) sight.clear_frames();
    if (added.transform().matrices_size() == 0) continue;
    *shot_.add_objects() = added;
    Put(added, edit);
  }
}

void RandomEdits::RemoveObjects(v1::ShotEdit& edit) {
  const int count = 1 + Below(3);
  for (int i = 0; i < count && shot_.objects_size() > 8; ++i) {
    const int at = Below(shot_.objects_size());
    const std::string id = shot_.objects(at).id();
    const bool sent = std::any_of(edit.objects().begin(), edit.objects().end(),
                                  [&](const v1::SceneObject& object) { return object.id() == id; });
    const bool person = shot_.objects(at).class_name() == "person";
    if (sent || IsNamed(id) || (person && People() < 5)) continue;
    edit.add_removed_ids(id);
    shot_.mutable_objects()->DeleteSubrange(at, 1);
  }
}

// Into another container, or out of one.
void RandomEdits::Rehouse(v1::ShotEdit& edit) {
  v1::SceneObject& object = *shot_.mutable_objects(Below(shot_.objects_size()));
  const v1::SceneObject& to = shot_.objects(Below(shot_.objects_size()));
  bool holds_itself = to.id() == object.id();
  for (std::string at = to.container_id(); !at.empty() && !holds_itself; at = shot_.objects(Find(at)).container_id()) {
    holds_itself = at == object.id();
  }
  for (const v1::Crowd& crowd : shot_.crowds()) {
    for (const std::string& named : crowd.container_ids()) {
      if (named == object.container_id()) return;  // it might be its last
    }
  }
  object.set_container_id(holds_itself || Below(3) == 0 ? "" : to.id());
  Put(object, edit);
}

void RandomEdits::AlterParticulars(v1::ShotEdit& edit) {
  v1::SceneObject& object = *shot_.mutable_objects(Below(shot_.objects_size()));
  if (object.transform().matrices_size() == 0) return;
  v1::Particulars& particulars = *object.mutable_particulars();
  const int first = shot_.frames().first(), last = shot_.frames().last();
  switch (Below(5)) {
    case 0:
      if (object.class_name() != "dwelling" && object.class_name() != "wall") return;
      particulars.mutable_occluder()->set_inner_box(Below(2) == 0 ? 0 : Between(0.5, 1));
      break;
    case 1: {
      particulars.clear_indirect();
      v1::IndirectSight& sight = *particulars.add_indirect();
      sight.set_kind(v1::IndirectSight::SHADOW);
      if (Below(2) == 0) break;
      v1::FrameRange& frames = *sight.add_frames();
      frames.set_first(first + Below(last - first + 1));
      frames.set_last(last);
      break;
    }
    case 2:
      particulars.set_hold_group(Below(2) == 0 ? "" : Below(2) == 0 ? "rowers" : "walkers");
      break;
    case 3: {
      particulars.clear_replaced();
      v1::FrameRange& frames = *particulars.add_replaced();
      frames.set_first(first);
      frames.set_last(first + Below(last - first + 1));
      break;
    }
    default:
      particulars.clear_beats();
      particulars.add_beats(first + Below(last - first + 1));
  }
  Put(object, edit);
}

void RandomEdits::MoveCamera(v1::ShotEdit& edit) {
  v1::ShotCamera& camera = *shot_.mutable_cameras(Below(shot_.cameras_size()));
  v1::TransformTrack& track = *camera.mutable_transform();
  const double dx = Between(-3, 3), dy = Between(-0.2, 0.5), dz = Between(-3, 3);
  for (int f = 0; f < track.matrices_size() / 16; ++f) Shift(f, dx, dy, dz, track);
  if (edit.has_header()) {
    *edit.mutable_header() = Header();
    return;
  }
  for (v1::ShotCamera& sent : *edit.mutable_cameras()) {
    if (sent.id() != camera.id()) continue;
    sent = camera;
    return;
  }
  *edit.add_cameras() = camera;
}

// The shot as it is when its last frame is cut off: what a session must make of it from the header alone.
void RandomEdits::CutLastFrame() {
  if (shot_.frames().last() - shot_.frames().first() < 3) return;
  const int last = shot_.frames().last() - 1;
  shot_.mutable_frames()->set_last(last);
  CutRanges(last, *shot_.mutable_replaced());
  CutBeats(last, *shot_.mutable_beats());
  for (v1::PointOfInterest& point : *shot_.mutable_interest()) point.clear_frames();
  for (v1::ShotCamera& camera : *shot_.mutable_cameras()) {
    CutTrack(*camera.mutable_transform()->mutable_matrices(), 16);
    CutTrack(*camera.mutable_focal_mm(), 1);
    CutTrack(*camera.mutable_focus_m(), 1);
    camera.clear_masks();
  }
  for (v1::SceneObject& object : *shot_.mutable_objects()) {
    CutTrack(*object.mutable_transform()->mutable_matrices(), 16);
    if (!object.has_particulars()) continue;
    v1::Particulars& particulars = *object.mutable_particulars();
    CutRanges(last, *particulars.mutable_replaced());
    CutBeats(last, *particulars.mutable_beats());
    auto& sights = *particulars.mutable_indirect();
    for (int i = sights.size() - 1; i >= 0; --i) {
      const bool whole = sights.Get(i).frames().empty();
      CutRanges(last, *sights.Mutable(i)->mutable_frames());
      if (!whole && sights.Get(i).frames().empty()) sights.DeleteSubrange(i, 1);
    }
  }
}

void RandomEdits::AlterHeader(v1::ShotEdit& edit) {
  const int first = shot_.frames().first(), last = shot_.frames().last();
  switch (Below(8)) {
    case 7:
      CutLastFrame();
      break;
    case 0:
      shot_.set_style(shot_.style() == "painted" ? "lensed" : shot_.style() == "lensed" ? "ink" : "painted");
      break;
    case 1:
      shot_.clear_beats();
      for (int i = 0; i < 3; ++i) shot_.add_beats(first + Below(last - first + 1));
      break;
    case 2: {
      shot_.clear_replaced();
      if (Below(2) == 0) break;
      v1::FrameRange& frames = *shot_.add_replaced();
      frames.set_first(first);
      frames.set_last(first + Below(last - first + 1));
      break;
    }
    case 3: {
      shot_.clear_interest();
      v1::PointOfInterest& point = *shot_.add_interest();
      if (Below(2) == 0) {
        point.mutable_place()->set_x(Between(0, 1));
        point.mutable_place()->set_y(Between(0, 1));
      } else {
        point.set_object_id(shot_.objects(Below(shot_.objects_size())).id());
      }
      break;
    }
    case 4:
      shot_.mutable_backdrop_colour()->set_blue(static_cast<uint32_t>(Below(256)));
      break;
    case 5: {
      shot_.clear_crowds();
      if (Below(3) == 0) break;
      v1::Crowd& crowd = *shot_.add_crowds();
      crowd.set_name("some");
      for (int i = 0; i < 6; ++i) crowd.add_object_ids(shot_.objects(Below(shot_.objects_size())).id());
      crowd.set_keep_share(Between(0, 0.7));
      crowd.set_cell_columns(2);
      crowd.set_cell_rows(2);
      break;
    }
    default: {
      const std::vector<int> rates = {24, 25, 30};
      shot_.mutable_rate()->set_numerator(rates[static_cast<size_t>(Below(3))]);
    }
  }
  edit.clear_cameras();
  edit.clear_directives();
  for (v1::SceneObject& sent : *edit.mutable_objects()) sent = shot_.objects(Find(sent.id()));
  *edit.mutable_header() = Header();
}

void RandomEdits::Rule(v1::ShotEdit& edit) {
  shot_.clear_directives();
  const int count = Below(4);
  std::set<std::string> ruled;
  for (int i = 0; i < count; ++i) {
    const v1::SceneObject& object = shot_.objects(Below(shot_.objects_size()));
    // Roots that hold nothing cannot contradict one another.
    if (!object.container_id().empty() || IsNamed(object.id()) || !ruled.insert(object.id()).second) continue;
    v1::Directive& directive = *shot_.add_directives();
    directive.set_object_id(object.id());
    directive.set_bound(Below(2) == 0 ? v1::Directive::AT_LEAST : v1::Directive::AT_MOST);
    directive.set_tier(Below(2) == 0 ? v1::PROXY : v1::COLOUR_PATCH);
    directive.set_who("h");
    directive.set_why("because");
  }
  if (edit.has_header()) {
    *edit.mutable_header() = Header();
  } else {
    *edit.mutable_directives()->mutable_directives() = shot_.directives();
  }
}

v1::ShotEdit RandomEdits::Next() {
  v1::ShotEdit edit;
  for (int left = 1 + Below(4); left > 0; --left) {
    switch (Below(12)) {
      case 0:
      case 1:
      case 2:
        MoveObject(edit);
        break;
      case 3:
      case 4:
        AlterObject(edit);
        break;
      case 5:
        AddObjects(edit);
        break;
      case 6:
        RemoveObjects(edit);
        break;
      case 7:
        Rehouse(edit);
        break;
      case 8:
        AlterParticulars(edit);
        break;
      case 9:
        MoveCamera(edit);
        break;
      case 10:
        AlterHeader(edit);
        break;
      default:
        Rule(edit);
    }
  }
  return edit;
}

}  // namespace scantling::testing
