// Idea: walk the objects once, keeping where the next one begins in the id blob and in the poses; copy a run of them,
// and give every piece tables of its own, filled in the order of first use. A table copied whole into every piece would
// make the sum of the pieces quadratic where every object has a container of its own.
//
//   column                    entries per object
//   id_lengths, class_of      1        boxes_m          6
//   linear                    9 per pose; translation_m 3 per pose; poses: 1 or the number of frames
//   particulars               of some objects, by rising index; a piece counts its own objects from 0

#include "client/library/block_slices.h"

#include <algorithm>
#include <string>
#include <unordered_map>

namespace scantling::client {
namespace {

using google::protobuf::RepeatedField;
using google::protobuf::RepeatedPtrField;

// What an object takes besides ids, poses and particulars: six floats of box, four columns of four bytes, five of small
// numbers.
constexpr int64_t kObjectBytes = 64;
constexpr int64_t kPoseBytes = 9 * 4 + 3 * 8;

struct Cursor {
  int64_t object = 0, id_byte = 0, pose = 0;
  int particular = 0;
};

int64_t PosesOf(const v1::ObjectBlock& block, int64_t object) {
  return block.poses().empty() ? 1 : block.poses(static_cast<int>(object));
}

bool IsIndexed(const RepeatedField<uint32_t>& column, int64_t objects, int64_t limit, bool may_be_empty) {
  if (column.empty() && may_be_empty) return true;
  return column.size() == objects &&
         std::all_of(column.begin(), column.end(), [limit](uint32_t index) { return index < limit; });
}

template <typename Column>
bool IsEmptyOr(const Column& column, int64_t size) {
  return column.empty() || column.size() == size;
}

template <typename Value>
void CopyRun(const RepeatedField<Value>& from, int64_t first, int64_t count, RepeatedField<Value>& to) {
  if (from.empty()) return;
  to.Add(from.begin() + first, from.begin() + first + count);
}

// Copies a run of indices into a table, with a new table that holds what they name. `base` 1: 0 stands for none.
struct TableRun {
  const RepeatedPtrField<std::string>& table;
  const RepeatedField<uint32_t>& column;
  uint32_t base;
};

void CopyTableRun(const TableRun& from, int64_t first, int64_t count, RepeatedPtrField<std::string>& table,
                  RepeatedField<uint32_t>& column) {
  if (from.column.empty()) return;
  std::unordered_map<uint32_t, uint32_t> renumbered;
  for (int64_t i = first; i < first + count; ++i) {
    const uint32_t old = from.column[static_cast<int>(i)];
    if (from.base == 1 && old == 0) {
      column.Add(0);
      continue;
    }
    const auto [at, is_new] = renumbered.try_emplace(old, static_cast<uint32_t>(table.size()) + from.base);
    if (is_new) *table.Add() = from.table[static_cast<int>(old - from.base)];
    column.Add(at->second);
  }
}

v1::ObjectBlock Piece(const v1::ObjectBlock& block, const Cursor& from, const Cursor& to) {
  const int64_t first = from.object, count = to.object - from.object;
  v1::ObjectBlock piece;
  piece.set_id_blob(block.id_blob().substr(from.id_byte, to.id_byte - from.id_byte));
  CopyRun(block.id_lengths(), first, count, *piece.mutable_id_lengths());
  CopyTableRun({block.class_names(), block.class_of(), 0}, first, count, *piece.mutable_class_names(),
               *piece.mutable_class_of());
  CopyTableRun({block.asset_ids(), block.asset_of(), 1}, first, count, *piece.mutable_asset_ids(),
               *piece.mutable_asset_of());
  CopyTableRun({block.container_ids(), block.container_of(), 1}, first, count, *piece.mutable_container_ids(),
               *piece.mutable_container_of());
  CopyRun(block.importance(), first, count, *piece.mutable_importance());
  CopyRun(block.complexity(), first, count, *piece.mutable_complexity());
  CopyRun(block.colour(), first, count, *piece.mutable_colour());
  CopyRun(block.inner_box(), first, count, *piece.mutable_inner_box());
  for (int i = from.particular; i < to.particular; ++i) {
    v1::ObjectBlock::Particular& own = *piece.add_particulars();
    own = block.particulars(i);
    own.set_index(static_cast<uint32_t>(own.index() - first));
  }
  CopyRun(block.boxes_m(), first * 6, count * 6, *piece.mutable_boxes_m());
  CopyRun(block.poses(), first, count, *piece.mutable_poses());
  CopyRun(block.linear(), from.pose * 9, (to.pose - from.pose) * 9, *piece.mutable_linear());
  CopyRun(block.translation_m(), from.pose * 3, (to.pose - from.pose) * 3, *piece.mutable_translation_m());
  return piece;
}

// Indices of the particulars rise and lie in the block.
bool AreRising(const v1::ObjectBlock& block, int64_t objects) {
  int64_t last = -1;
  for (const v1::ObjectBlock::Particular& particular : block.particulars()) {
    if (particular.index() <= last || particular.index() >= objects) return false;
    last = particular.index();
  }
  return true;
}

// Whether the object at the cursor has particulars; they are number `at.particular`.
bool HasParticular(const v1::ObjectBlock& block, const Cursor& at) {
  return at.particular < block.particulars_size() && block.particulars(at.particular).index() == at.object;
}

}  // namespace

bool IsWellFormed(const v1::ObjectBlock& block, int64_t frames) {
  const int64_t objects = block.id_lengths_size();
  int64_t id_bytes = 0, poses = 0;
  for (const uint32_t length : block.id_lengths()) id_bytes += length;
  if (!IsEmptyOr(block.poses(), objects)) return false;
  for (int64_t i = 0; i < objects; ++i) {
    const int64_t own = PosesOf(block, i);
    if (own != 1 && own != frames) return false;
    poses += own;
  }
  return id_bytes == static_cast<int64_t>(block.id_blob().size()) &&
         IsIndexed(block.class_of(), objects, block.class_names_size(), false) &&
         IsIndexed(block.asset_of(), objects, block.asset_ids_size() + int64_t{1}, true) &&
         IsIndexed(block.container_of(), objects, block.container_ids_size() + int64_t{1}, true) &&
         IsEmptyOr(block.importance(), objects) && IsEmptyOr(block.complexity(), objects) &&
         IsEmptyOr(block.colour(), objects) && IsEmptyOr(block.inner_box(), objects) && AreRising(block, objects) &&
         block.boxes_m_size() == 6 * objects && block.linear_size() == 9 * poses &&
         block.translation_m_size() == 3 * poses;
}

bool SliceBlock(const v1::ObjectBlock& block, int64_t frames, int64_t piece_bytes,
                const std::function<bool(const v1::ObjectBlock&)>& emit) {
  if (static_cast<int64_t>(block.ByteSizeLong()) <= piece_bytes || !IsWellFormed(block, frames)) return emit(block);
  const int64_t objects = block.id_lengths_size();
  Cursor from, at;
  int64_t bytes = 0;
  while (at.object < objects) {
    const int64_t id_bytes = block.id_lengths(static_cast<int>(at.object));
    const int64_t poses = PosesOf(block, at.object);
    const bool has_particular = HasParticular(block, at);
    int64_t own_bytes = kObjectBytes + id_bytes + poses * kPoseBytes;
    if (has_particular) own_bytes += static_cast<int64_t>(block.particulars(at.particular).ByteSizeLong());
    if (at.object > from.object && bytes + own_bytes > piece_bytes) {
      if (!emit(Piece(block, from, at))) return false;
      from = at;
      bytes = 0;
    }
    bytes += own_bytes;
    at = {at.object + 1, at.id_byte + id_bytes, at.pose + poses, at.particular + (has_particular ? 1 : 0)};
  }
  return emit(Piece(block, from, at));
}

}  // namespace scantling::client
