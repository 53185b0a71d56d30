// Idea: one edit is filled until it is full, and emitted when the next object comes, so that the last one is known to
// be the last. Objects of blocks are joined to one block a part.
//
//   part 1: header, cameras, directives, options, current frame, objects ...   continues
//   part n: objects ...

#include "client/library/live_parts.h"

#include <limits>
#include <string>

#include "client/library/live_cut.h"

namespace scantling::client {
namespace {

// What an object adds to a part besides its own bytes.
constexpr int64_t kFrameBytes = 8;

void SetAboveObjects(const ShotChange& change, v1::ShotEdit& edit) {
  if (change.header) *edit.mutable_header() = *change.header;
  for (const auto& [id, camera] : change.cameras) *edit.add_cameras() = camera;
  if (change.directives) *edit.mutable_directives() = *change.directives;
  if (change.options) *edit.mutable_options() = *change.options;
  if (change.options && change.keep_earlier) {
    edit.mutable_options()->clear_earlier();
    edit.set_keep_earlier(true);
  }
  if (change.current_frame) edit.set_current_frame(*change.current_frame);
}

void AddObject(const std::string& id, const LiveObject* object, v1::ShotEdit& edit) {
  if (object == nullptr) {
    edit.add_removed_ids(id);
  } else if (!object->in_block) {
    edit.add_objects()->ParseFromString(object->bytes);
  } else {
    v1::ObjectBlock one;
    one.ParseFromString(object->bytes);
    AppendBlock(one, edit.blocks_size() == 0 ? *edit.add_blocks() : *edit.mutable_blocks(0));
  }
}

}  // namespace

bool EditParts(const ShotChange& change, int64_t revision, int64_t part_bytes,
               const std::function<bool(v1::ShotEdit&)>& emit) {
  v1::ShotEdit part;
  part.set_revision(revision);
  SetAboveObjects(change, part);
  int64_t bytes = 0;
  bool has_objects = false;
  for (const auto& [id, object] : change.objects) {
    const int64_t own = kFrameBytes + static_cast<int64_t>(object ? object->bytes.size() : id.size());
    if (has_objects && bytes + own > part_bytes) {
      part.set_continues(true);
      if (!emit(part)) return false;
      part.Clear();
      part.set_revision(revision);
      bytes = 0;
    }
    AddObject(id, object.get(), part);
    has_objects = true;
    bytes += own;
  }
  return emit(part);
}

v1::ShotEdit WhatIfEdit(const ShotChange& change) {
  v1::ShotEdit edit;
  EditParts(change, 0, std::numeric_limits<int64_t>::max(), [&edit](v1::ShotEdit& all) {
    edit.Swap(&all);
    return true;
  });
  return edit;
}

v1::Begin BeginOf(const ShotChange& first) {
  v1::Begin begin;
  if (first.header) *begin.mutable_header() = *first.header;
  begin.mutable_header()->clear_directives();
  begin.mutable_header()->clear_interest();
  begin.mutable_header()->clear_crowds();
  if (first.options) *begin.mutable_options() = *first.options;
  if (first.current_frame) begin.set_current_frame(*first.current_frame);
  return begin;
}

}  // namespace scantling::client
