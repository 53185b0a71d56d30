// Every edit goes through a builder of its own that is given the whole header, the old one where nothing of it changed:
// so an edit meets the same checks and words as a shot sent at once.
//
// Field paths are those of ShotEdit, counted over all parts ("objects[12].id", "removed_ids[0]"); what stands in the
// header goes by its path in Shot.

#include "server/rpc/edit_reader.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/rpc/convert.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

// Cameras in place of those with their ids; new ones come last.
void PutCameras(const google::protobuf::RepeatedPtrField<v1::ShotCamera>& cameras, v1::Shot& shot) {
  for (const v1::ShotCamera& camera : cameras) {
    auto& known = *shot.mutable_cameras();
    const auto same =
        std::find_if(known.begin(), known.end(), [&](const v1::ShotCamera& one) { return one.id() == camera.id(); });
    if (same != known.end()) {
      *same = camera;
    } else {
      *known.Add() = camera;
    }
  }
}

bool IsAboutHeader(const v1::ShotEdit& part) {
  return part.has_header() || part.cameras_size() > 0 || part.has_directives();
}

}  // namespace

struct EditReader::Edit {
  LiveHeader header;
  Violations violations;
  std::unique_ptr<SceneBuilder> builder;
  std::vector<std::string> removed_ids;
  int64_t rows = 0, blocks = 0;
  bool scene_changed = false, options_changed = false;
};

EditReader::EditReader(const Policy& policy, const SceneLimits& limits) : policy_(policy), limits_(limits) {}

EditReader::~EditReader() = default;

void EditReader::Drop() { edit_.reset(); }

grpc::Status EditReader::Begin(const v1::Begin& begin, LiveHeader& header) const {
  Violations violations;
  header.shot = begin.header();
  header.options = begin.options();
  if (begin.has_current_frame()) header.current_frame = begin.current_frame();
  if (header.shot.objects_size() > 0 || header.shot.blocks_size() > 0) {
    violations.Add("header.objects", "got objects, want a header without any: objects come with edits");
  }
  header.asked = ReadAsked(header.options, header.shot.style(), policy_, violations);
  const SceneBuilder checks(policy_.catalogue, limits_, HeaderFromProto(header.shot, violations), violations);
  if (violations.empty()) return grpc::Status::OK;
  return InvalidArgument(violations, ReasonFor(violations, header.asked));
}

void EditReader::Start(const v1::ShotEdit& part, const LiveHeader& header) {
  edit_ = std::make_unique<Edit>();
  Edit& edit = *edit_;
  edit.header = header;
  if (part.has_header()) {
    edit.header.shot = part.header();
    if (part.header().objects_size() > 0 || part.header().blocks_size() > 0) {
      edit.violations.Add("header.objects", "got objects, want them beside the header");
      edit.header.shot.clear_objects();
      edit.header.shot.clear_blocks();
    }
    for (const auto& [beside, field] :
         {std::pair{part.cameras_size() > 0, "cameras"}, std::pair{part.has_directives(), "directives"}}) {
      if (beside) edit.violations.Add(field, "got some beside a header, want them within it");
    }
  }
  PutCameras(part.cameras(), edit.header.shot);
  if (part.has_directives()) *edit.header.shot.mutable_directives() = part.directives().directives();
  edit.scene_changed = IsAboutHeader(part);
  edit.builder = std::make_unique<SceneBuilder>(policy_.catalogue, limits_,
                                                HeaderFromProto(edit.header.shot, edit.violations), edit.violations);
  AddInterests(edit.header.shot, *edit.builder, edit.violations);
}

void EditReader::Add(const v1::ShotEdit& part, const LiveHeader& header) {
  if (edit_ == nullptr) {
    Start(part, header);
  } else if (IsAboutHeader(part)) {
    edit_->violations.Add("header", "got one in a later part, want what stands above the objects in the first");
  }
  Edit& edit = *edit_;
  if (part.has_options()) {
    v1::PlanOptions options = part.options();
    if (part.keep_earlier() && options.earlier().empty()) *options.mutable_earlier() = edit.header.options.earlier();
    edit.header.options = std::move(options);
    edit.options_changed = true;
  }
  if (part.has_current_frame()) edit.header.current_frame = part.current_frame();
  edit.scene_changed |= part.objects_size() + part.blocks_size() + part.removed_ids_size() > 0;
  RowReader rows(*edit.builder, edit.violations);
  for (const v1::SceneObject& object : part.objects()) rows.Add(object, absl::StrCat("objects[", edit.rows++, "]"));
  for (const v1::ObjectBlock& block : part.blocks()) {
    AddBlock(block, absl::StrCat("blocks[", edit.blocks++, "]"), *edit.builder, edit.violations);
  }
  edit.removed_ids.insert(edit.removed_ids.end(), part.removed_ids().begin(), part.removed_ids().end());
}

grpc::Status EditReader::Finish(const Scene& base, TakenEdit& taken) {
  const std::unique_ptr<Edit> edit = std::move(edit_);
  Violations& violations = edit->violations;
  LiveHeader& header = edit->header;
  header.asked = ReadAsked(header.options, header.shot.style(), policy_, violations);
  // A shot that has taken in no edit yet has no frames: the first makes it one.
  taken.scene_changed = edit->scene_changed || base.frames.count() == 0;
  taken.options_changed = edit->options_changed;
  if (taken.scene_changed || !violations.empty()) {
    taken.merged = edit->builder->FinishOnto(base, edit->removed_ids);
  }
  const FrameRange frames = {header.shot.frames().first(), header.shot.frames().last()};
  if (header.current_frame && !frames.contains(*header.current_frame) && violations.empty()) {
    if (edit->scene_changed) {
      header.current_frame.reset();  // the frames moved away from under it
    } else {
      violations.Add(
          "current_frame",
          GotInteger(*header.current_frame, absl::StrCat("a frame of the shot, ", frames.first, " to ", frames.last)));
    }
  }
  if (!violations.empty()) {
    const std::string_view reason = ReasonFor(violations, header.asked);
    return InvalidArgument(violations, reason == "SHOT_INVALID" ? "EDIT_INVALID" : reason);
  }
  taken.header = std::move(header);
  taken.removed_ids = std::move(edit->removed_ids);
  return grpc::Status::OK;
}

}  // namespace scantling
