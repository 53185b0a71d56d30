// Reading an object from a row or from a block.
//
// A row sends whole 4x4 matrices; entry e of a pose's 3x4 part (e < 9: column e / 3, row e % 3; e >= 9: translation)
// stands at 4 * (e / 3) + e % 3 of its sixteen numbers. A block packs the 3x3 parts as floats and the translations as
// doubles, all objects' poses one after another.

#include "server/scene/object_input.h"

#include <algorithm>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return absl::string_view(text.data(), text.size()); }

// Every stride-long piece equals the first.
template <typename Number>
bool Repeats(std::span<const Number> values, size_t stride) {
  return values.size() <= stride ||
         std::equal(values.begin() + static_cast<std::ptrdiff_t>(stride), values.end(), values.begin());
}

}  // namespace

Affine PoseSource::At(size_t pose) const {
  if (!in_block) return AffineOf(matrices.subspan(16 * pose).first<16>());
  Affine affine;
  const size_t at = first_pose + pose;
  std::copy_n(linear.begin() + static_cast<std::ptrdiff_t>(9 * at), 9, affine.linear.begin());
  std::copy_n(translation.begin() + static_cast<std::ptrdiff_t>(3 * at), 3, affine.translation.begin());
  return affine;
}

bool PoseSource::Still() const {
  if (count <= 1) return true;
  if (!in_block) return Repeats(matrices, 16);
  return Repeats(translation.subspan(3 * first_pose, 3 * count), 3) &&
         Repeats(linear.subspan(9 * first_pose, 9 * count), 9);
}

std::string PoseSource::Field(std::string_view path, size_t pose, size_t entry) const {
  if (!in_block) {
    return absl::StrCat(View(path), ".transform.matrices[", 16 * pose + 4 * (entry / 3) + entry % 3, "]");
  }
  const size_t at = first_pose + pose;
  return entry < 9 ? absl::StrCat(View(path), ".linear[", 9 * at + entry, "]")
                   : absl::StrCat(View(path), ".translation_m[", 3 * at + entry - 9, "]");
}

std::string ObjectInput::Field(std::string_view row_field, std::string_view block_column) const {
  if (!in_block) return absl::StrCat(View(path), ".", View(row_field));
  return absl::StrCat(View(path), ".", View(block_column), "[", index, "]");
}

std::string ObjectInput::BoxField(size_t k) const {
  if (in_block) return absl::StrCat(View(path), ".boxes_m[", 6 * index + k, "]");
  const std::array<const char*, 3> axes = {"x", "y", "z"};
  return absl::StrCat(View(path), k < 3 ? ".box.min_m." : ".box.max_m.", axes[k % 3]);
}

}  // namespace scantling
