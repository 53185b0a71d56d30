// Idea: a block of one is a row in packed clothes: joining it to others is appending to every column, with the value
// that means "not given" wherever one side has no such column. Names in tables are shared where one of the last few is
// the same; neighbours mostly are.
//
// Cutting follows the daemon: within the frames of before, the poses and figures of the frames that stay.

#include "client/library/live_cut.h"

#include <algorithm>
#include <utility>

namespace scantling::client {
namespace {

using google::protobuf::RepeatedField;
using google::protobuf::RepeatedPtrField;

// Entries of a table that are looked at before a name is added to it.
constexpr int kLookBack = 16;
constexpr float kClassInnerBox = -1;

// Index of `name` in `table`, added where it is not among the last ones.
uint32_t PlaceOf(const std::string& name, RepeatedPtrField<std::string>& table) {
  for (int i = table.size() - 1; i >= std::max(0, table.size() - kLookBack); --i) {
    if (table[i] == name) return static_cast<uint32_t>(i);
  }
  *table.Add() = name;
  return static_cast<uint32_t>(table.size() - 1);
}

// One more entry of an optional column of `before` entries; `unset` where `one` has none.
template <typename Value>
void AppendOptional(const RepeatedField<Value>& one, Value unset, int before, RepeatedField<Value>& column) {
  if (one.empty() && column.empty()) return;
  while (column.size() < before) column.Add(unset);
  column.Add(one.empty() ? unset : one[0]);
}

struct NameColumn {
  RepeatedPtrField<std::string>& table;
  RepeatedField<uint32_t>& column;
};

// A column of names of which 0 means none.
void AppendName(const RepeatedPtrField<std::string>& table, const RepeatedField<uint32_t>& one, int before,
                const NameColumn& to) {
  RepeatedField<uint32_t> place;
  if (!one.empty() && one[0] > 0) place.Add(1 + PlaceOf(table[static_cast<int>(one[0]) - 1], to.table));
  AppendOptional<uint32_t>(place, 0, before, to.column);
}

struct Cut {
  int64_t first = 0, count = 0, of = 0;  // frames that stay, of so many
};

template <typename Value>
void CutColumn(const Cut& cut, int64_t per_frame, RepeatedField<Value>& column) {
  if (column.size() != cut.of * per_frame) return;  // one for all frames, or none
  const RepeatedField<Value> kept(column.begin() + cut.first * per_frame,
                                  column.begin() + (cut.first + cut.count) * per_frame);
  column = kept;
}

LiveObjectPtr CutRow(const LiveObject& object, const Cut& cut) {
  v1::SceneObject row;
  row.ParseFromString(object.bytes);
  CutColumn(cut, 16, *row.mutable_transform()->mutable_matrices());
  if (row.transform().matrices().empty()) row.clear_transform();
  for (v1::MeasuredTrack& track : *row.mutable_measured()) {
    CutColumn(cut, 1, *track.mutable_height_px());
    CutColumn(cut, 1, *track.mutable_covered_px());
    CutColumn(cut, 1, *track.mutable_depth_m());
  }
  return LiveObjectOf(row);
}

LiveObjectPtr CutBlock(const LiveObject& object, const Cut& cut) {
  v1::ObjectBlock block;
  block.ParseFromString(object.bytes);
  CutColumn(cut, 9, *block.mutable_linear());
  CutColumn(cut, 3, *block.mutable_translation_m());
  block.set_poses(0, static_cast<uint32_t>(cut.count));
  return std::make_shared<const LiveObject>(LiveObject{block.SerializeAsString(), true, cut.count != 1});
}

}  // namespace

void AppendBlock(const v1::ObjectBlock& one, v1::ObjectBlock& block) {
  const int before = block.id_lengths_size();
  const int index = before;
  block.mutable_id_blob()->append(one.id_blob());
  block.add_id_lengths(one.id_lengths(0));
  block.add_class_of(PlaceOf(one.class_names(static_cast<int>(one.class_of(0))), *block.mutable_class_names()));
  AppendName(one.asset_ids(), one.asset_of(), before, {*block.mutable_asset_ids(), *block.mutable_asset_of()});
  AppendName(one.container_ids(), one.container_of(), before,
             {*block.mutable_container_ids(), *block.mutable_container_of()});
  AppendOptional<float>(one.importance(), 0, before, *block.mutable_importance());
  AppendOptional<float>(one.complexity(), 0, before, *block.mutable_complexity());
  AppendOptional<uint32_t>(one.colour(), 0, before, *block.mutable_colour());
  AppendOptional<uint32_t>(one.poses(), 1, before, *block.mutable_poses());
  AppendOptional<float>(one.inner_box(), kClassInnerBox, before, *block.mutable_inner_box());
  block.mutable_boxes_m()->MergeFrom(one.boxes_m());
  block.mutable_linear()->MergeFrom(one.linear());
  block.mutable_translation_m()->MergeFrom(one.translation_m());
  for (const v1::ObjectBlock::Particular& particular : one.particulars()) {
    *block.add_particulars() = particular;
    block.mutable_particulars(block.particulars_size() - 1)->set_index(static_cast<uint32_t>(index));
  }
}

void CutTracks(const v1::FrameRange& before, const v1::FrameRange& after,
               std::map<std::string, LiveObjectPtr>& objects) {
  const bool same = before.first() == after.first() && before.last() == after.last();
  if (same || after.first() < before.first() || after.last() > before.last()) return;
  const Cut cut = {int64_t{after.first()} - before.first(), FrameCountOf(after), FrameCountOf(before)};
  if (cut.count < 1) return;
  for (auto& [id, object] : objects) {
    if (object->per_frame) object = object->in_block ? CutBlock(*object, cut) : CutRow(*object, cut);
  }
}

}  // namespace scantling::client
