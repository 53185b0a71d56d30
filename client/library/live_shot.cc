// Idea: what is not an object is small (a header with its cameras), and is compared and copied whole; objects are many,
// and travel as shared pointers from the caller's note through the edit into the kept shot without being copied.
//
// Serialised bytes of one message are the same for the same content within one program: the messages have no maps.

#include "client/library/live_shot.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/block_slices.h"
#include "client/library/faults.h"
#include "client/library/live_cut.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr char kBlockFault[] = "got columns that do not fit one another, want all as long as id_lengths says";

bool Same(const google::protobuf::MessageLite& a, const google::protobuf::MessageLite& b) {
  return a.SerializeAsString() == b.SerializeAsString();
}

bool IsPerFrame(const v1::SceneObject& object) {
  return object.transform().matrices_size() > 16 || !object.measured().empty();
}

LiveObjectPtr LiveObjectOf(const v1::ObjectBlock& one) {
  return std::make_shared<const LiveObject>(
      LiveObject{one.SerializeAsString(), true, !one.poses().empty() && one.poses(0) != 1});
}

void SetCamera(const v1::ShotCamera& camera, v1::Shot& header) {
  for (v1::ShotCamera& own : *header.mutable_cameras()) {
    if (own.id() != camera.id()) continue;
    own = camera;
    return;
  }
  *header.add_cameras() = camera;
}

bool HasCamera(const v1::Shot& header, const std::string& id) {
  return std::any_of(header.cameras().begin(), header.cameras().end(),
                     [&id](const v1::ShotCamera& camera) { return camera.id() == id; });
}

void SetAboveObjects(const ShotChange& change, v1::Shot& header) {
  for (const auto& [id, camera] : change.cameras) SetCamera(camera, header);
  if (change.directives) *header.mutable_directives() = change.directives->directives();
}

// Whether the cameras of both have the same ids in the same order.
bool HaveSameCameras(const v1::Shot& a, const v1::Shot& b) {
  return std::equal(a.cameras().begin(), a.cameras().end(), b.cameras().begin(), b.cameras().end(),
                    [](const v1::ShotCamera& one, const v1::ShotCamera& other) { return one.id() == other.id(); });
}

// `header` in place of `from`, in as few words as possible.
void AddHeader(const v1::Shot& from, v1::Shot header, ShotChange& change) {
  if (Same(from, header)) return;
  v1::Shot patched = from;
  if (HaveSameCameras(from, header)) *patched.mutable_cameras() = header.cameras();
  *patched.mutable_directives() = header.directives();
  if (!Same(patched, header)) {
    change.header = std::move(header);
    return;
  }
  for (int i = 0; i < header.cameras_size(); ++i) {
    if (!Same(from.cameras(i), header.cameras(i))) change.cameras[header.cameras(i).id()] = header.cameras(i);
  }
  v1::Shot with_directives = from;
  *with_directives.mutable_directives() = header.directives();
  if (Same(from, with_directives)) return;
  change.directives.emplace();
  *change.directives->mutable_directives() = header.directives();
}

bool HaveSameEarlier(const v1::PlanOptions& a, const v1::PlanOptions& b) {
  return std::equal(a.earlier().begin(), a.earlier().end(), b.earlier().begin(), b.earlier().end(),
                    [](const v1::EarlierDecision& one, const v1::EarlierDecision& other) {
                      return one.object_id() == other.object_id() && one.tier() == other.tier();
                    });
}

void AddOptions(const v1::PlanOptions& from, v1::PlanOptions options, ShotChange& change) {
  if (Same(from, options)) return;
  change.keep_earlier = !options.earlier().empty() && HaveSameEarlier(from, options);
  change.options = std::move(options);
}

// Two objects of a shot with one id: which they were.
void AddTwice(const std::string& id, const std::string& place, const std::string& first,
              google::rpc::BadRequest& faults) {
  auto* fault = faults.add_field_violations();
  fault->set_field(place);
  fault->set_description(
      absl::StrCat("got \"", Printable(id), "\" twice, first in ", first, ", want each object once"));
}

// Takes objects in one by one and finds those that come twice.
class Gatherer {
 public:
  Gatherer(LiveShot& shot, google::rpc::BadRequest& faults) : shot_(shot), faults_(faults) {}

  void Add(const std::string& id, LiveObjectPtr object, const std::string& place) {
    shot_.objects.emplace(id, std::move(object));
    const auto [first, is_new] = places_.try_emplace(id, place);
    if (!is_new) AddTwice(id, place, first->second, faults_);
  }

 private:
  LiveShot& shot_;
  google::rpc::BadRequest& faults_;
  std::map<std::string, std::string> places_;
};

}  // namespace

int64_t FrameCountOf(const v1::FrameRange& frames) { return int64_t{frames.last()} - frames.first() + 1; }

LiveObjectPtr LiveObjectOf(const v1::SceneObject& object) {
  return std::make_shared<const LiveObject>(LiveObject{object.SerializeAsString(), false, IsPerFrame(object)});
}

absl::Status AddBlock(const v1::ObjectBlock& block, int64_t frames, std::map<std::string, LiveObjectPtr>& objects) {
  if (block.id_lengths().empty() && block.ByteSizeLong() == 0) return absl::OkStatus();
  if (!IsWellFormed(block, frames)) return absl::InvalidArgumentError(kBlockFault);
  SliceBlock(block, frames, 0, [&objects](const v1::ObjectBlock& one) {
    objects[one.id_blob()] = LiveObjectOf(one);
    return true;
  });
  return absl::OkStatus();
}

absl::StatusOr<LiveShot> LiveShotOf(v1::Shot shot, v1::PlanOptions options) {
  LiveShot kept;
  kept.options = std::move(options);
  google::rpc::BadRequest faults;
  Gatherer gatherer(kept, faults);
  for (int i = 0; i < shot.objects_size(); ++i) {
    gatherer.Add(shot.objects(i).id(), LiveObjectOf(shot.objects(i)), absl::StrCat("objects[", i, "].id"));
  }
  const int64_t frames = FrameCountOf(shot.frames());
  for (int i = 0; i < shot.blocks_size(); ++i) {
    if (!IsWellFormed(shot.blocks(i), frames)) {
      auto* fault = faults.add_field_violations();
      fault->set_field(absl::StrCat("blocks[", i, "]"));
      fault->set_description(kBlockFault);
      continue;
    }
    int64_t object = 0;
    SliceBlock(shot.blocks(i), frames, 0, [&](const v1::ObjectBlock& one) {
      if (one.id_lengths_size() == 1) {
        gatherer.Add(one.id_blob(), LiveObjectOf(one), absl::StrCat("blocks[", i, "], object ", object++));
      }
      return true;
    });
  }
  shot.clear_objects();
  shot.clear_blocks();
  kept.header = std::move(shot);
  if (faults.field_violations().empty()) return kept;
  return WithFaults(absl::InvalidArgumentError(
                        absl::StrCat("the shot cannot be taken in: ", faults.field_violations_size(), " fault(s)")),
                    faults);
}

v1::Shot ShotOf(const LiveShot& shot) {
  v1::Shot out = shot.header;
  v1::ObjectBlock block;
  for (const auto& [id, object] : shot.objects) {
    if (object->in_block) {
      v1::ObjectBlock one;
      one.ParseFromString(object->bytes);
      AppendBlock(one, block);
    } else {
      out.add_objects()->ParseFromString(object->bytes);
    }
  }
  if (!block.id_lengths().empty()) out.add_blocks()->Swap(&block);
  return out;
}

void Merge(ShotChange newer, ShotChange& older) {
  for (auto& [id, object] : newer.objects) older.objects[id] = std::move(object);
  if (newer.header) {
    older.header = std::move(newer.header);
    older.cameras.clear();
    older.directives.reset();
  } else if (older.header) {
    SetAboveObjects(newer, *older.header);
  } else {
    for (auto& [id, camera] : newer.cameras) older.cameras[id] = std::move(camera);
    if (newer.directives) older.directives = std::move(newer.directives);
  }
  if (newer.options) {
    older.options = std::move(newer.options);
    older.keep_earlier = false;
  }
  if (newer.current_frame) older.current_frame = newer.current_frame;
}

void Apply(const ShotChange& change, LiveShot& shot) {
  if (change.header) {
    const v1::FrameRange before = shot.header.frames();
    shot.header = *change.header;
    CutTracks(before, shot.header.frames(), shot.objects);
  }
  SetAboveObjects(change, shot.header);
  for (const auto& [id, object] : change.objects) {
    if (object) {
      shot.objects[id] = object;
    } else {
      shot.objects.erase(id);
    }
  }
  if (change.options) shot.options = *change.options;
  if (change.current_frame) shot.current_frame = change.current_frame;
}

ShotChange Difference(const LiveShot& from, const LiveShot& to) {
  ShotChange change;
  change.header = to.header;
  change.options = to.options;
  change.current_frame = to.current_frame;
  for (const auto& [id, object] : from.objects) {
    if (!to.objects.contains(id)) change.objects.emplace(id, nullptr);
  }
  for (const auto& [id, object] : to.objects) change.objects.emplace(id, object);
  return News(from, std::move(change));
}

ShotChange News(const LiveShot& shot, ShotChange change) {
  ShotChange news;
  bool frames_differ = false;
  if (change.header) {
    frames_differ = !Same(shot.header.frames(), change.header->frames());
    AddHeader(shot.header, *std::move(change.header), news);
  }
  for (auto& [id, camera] : change.cameras) {
    v1::Shot with = shot.header;
    SetCamera(camera, with);
    if (!HasCamera(shot.header, id) || !Same(with, shot.header)) news.cameras.emplace(id, std::move(camera));
  }
  if (change.directives) {
    v1::Shot with = shot.header;
    *with.mutable_directives() = change.directives->directives();
    if (!Same(with, shot.header)) news.directives = std::move(change.directives);
  }
  for (auto& [id, object] : change.objects) {
    const auto known = shot.objects.find(id);
    const bool is_known = known != shot.objects.end();
    const bool is_news = object == nullptr ? is_known
                                           : !is_known || (frames_differ && object->per_frame) ||
                                                 (known->second != object && *known->second != *object);
    if (is_news) news.objects.emplace(id, std::move(object));
  }
  if (change.options) AddOptions(shot.options, *std::move(change.options), news);
  if (change.current_frame && change.current_frame != shot.current_frame) news.current_frame = change.current_frame;
  return news;
}

bool Touches(const ShotChange& a, const ShotChange& b) {
  const auto above = [](const ShotChange& one) { return one.header || !one.cameras.empty() || one.directives; };
  if (above(a) && above(b)) return true;
  if (a.options && b.options) return true;
  if (a.current_frame && b.current_frame) return true;
  const bool a_is_smaller = a.objects.size() < b.objects.size();
  const auto& few = a_is_smaller ? a.objects : b.objects;
  const auto& many = a_is_smaller ? b.objects : a.objects;
  return std::any_of(few.begin(), few.end(), [&many](const auto& one) { return many.contains(one.first); });
}

ShotChange WholeOf(const LiveShot& shot) {
  ShotChange change;
  change.objects = shot.objects;
  change.header = shot.header;
  change.options = shot.options;
  change.current_frame = shot.current_frame;
  return change;
}

}  // namespace scantling::client
