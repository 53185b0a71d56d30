// Blocks: packed columns, taken apart object by object without copying them.
//
// Nothing is read before all sizes agree: every column has n entries (or none, where that is allowed), the id lengths
// add up to the blob, the poses add up to the matrices. Sums are 64-bit and compared by dividing what is there, not by
// multiplying what was claimed, so no product can overflow. A block whose sizes disagree is left out whole.
//
// Tables (classes, assets, containers) are resolved once per block, entries on first use, so that names nobody uses
// leave no trace and assets are numbered as they would be from rows.

#include <numeric>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/builder_state.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return absl::string_view(text.data(), text.size()); }

// Sizes of one block under check.
struct SizeCheck {
  const ObjectBlockView& block;
  std::string_view path;
  int32_t frames;
  Violations& violations;
  bool good = true;

  void Add(const char* field, std::string description) {
    violations.Add(absl::StrCat(View(path), ".", field), std::move(description));
    good = false;
  }
  void Column(const char* field, size_t got, bool may_be_empty) {
    const size_t n = block.id_lengths.size();
    if (got == n || (may_be_empty && got == 0)) return;
    Add(field, GotCount(got, absl::StrCat(n, may_be_empty ? " (one per object) or none" : " (one per object)")));
  }
  // `got` must be `each` numbers for every one of `count` things.
  void Packed(const char* field, size_t got, uint64_t each, uint64_t count, const char* what) {
    if (got % each == 0 && got / each == count) return;
    Add(field, GotCount(got, absl::StrCat(each, " for each of ", count, " ", what)));
  }

  void CheckParticularOf() {
    for (size_t k = 0; k < block.particular_of.size(); ++k) {
      const uint32_t index = block.particular_of[k];
      const bool rising = k == 0 || index > block.particular_of[k - 1];
      if (index < block.id_lengths.size() && rising) continue;
      AddFault(
          violations, [&] { return absl::StrCat(View(path), ".particulars[", k, "].index"); },
          [&] {
            return GotInteger(index, rising ? absl::StrCat("an index below ", block.id_lengths.size(), " (objects)")
                                            : std::string("an index above the one before"));
          });
      good = false;
    }
  }

  uint64_t CountPoses() {
    const size_t n = block.id_lengths.size();
    if (block.poses.size() != n) return n;
    uint64_t total = 0;
    for (size_t i = 0; i < n; ++i) {
      const uint32_t count = block.poses[i];
      const bool fits = count == 1 || (frames == 0 ? count > 0 : count == static_cast<uint32_t>(frames));
      if (!fits) {
        AddFault(
            violations, [&] { return absl::StrCat(View(path), ".poses[", i, "]"); },
            [&] { return GotCount(count, frames > 1 ? absl::StrCat("1 or ", frames) : std::string("1")); });
        good = false;
      }
      total += count;
    }
    return total;
  }

  bool Check() {
    const size_t n = block.id_lengths.size();
    Column("class_of", block.class_of.size(), false);
    Column("asset_of", block.asset_of.size(), true);
    Column("container_of", block.container_of.size(), true);
    Column("importance", block.importance.size(), true);
    Column("complexity", block.complexity.size(), true);
    Column("colour", block.colour.size(), true);
    Column("inner_box", block.inner_box.size(), true);
    CheckParticularOf();
    Column("poses", block.poses.size(), true);
    Packed("boxes_m", block.boxes.size(), 6, n, "objects");
    const uint64_t bytes = std::accumulate(block.id_lengths.begin(), block.id_lengths.end(), uint64_t{0});
    if (bytes != block.id_blob.size()) {
      Add("id_blob", GotCount(block.id_blob.size(), absl::StrCat(bytes, " bytes (the sum of id_lengths)")));
    }
    const uint64_t poses = CountPoses();
    Packed("linear", block.linear.size(), 9, poses, "poses");
    Packed("translation_m", block.translation.size(), 3, poses, "poses");
    return good;
  }
};

// Reads the objects of one block whose sizes agree.
class BlockReader {
 public:
  BlockReader(const ObjectBlockView& block, std::string_view path, const ClassCatalogue& catalogue,
              Violations& violations)
      : block_(block),
        path_(path),
        catalogue_(catalogue),
        violations_(violations),
        classes_(block.class_names.size()),
        assets_(block.asset_names.size(), kUnused),
        containers_(block.container_ids.size(), kUnused) {}

  ObjectInput Next() {
    ObjectInput input;
    input.path = path_;
    input.in_block = true;
    input.index = index_;
    input.id = block_.id_blob.substr(id_at_, block_.id_lengths[index_]);
    for (size_t c = 0; c < 3; ++c) {
      input.box.min[c] = block_.boxes[6 * index_ + c];
      input.box.max[c] = block_.boxes[6 * index_ + 3 + c];
    }
    input.importance = Given(block_.importance);
    input.complexity = Given(block_.complexity);
    // Below 0: not given. A NaN is given, and refused.
    if (!block_.inner_box.empty() && !(block_.inner_box[index_] < 0)) input.inner_box = block_.inner_box[index_];
    if (particular_ < block_.particular_of.size() && block_.particular_of[particular_] == index_) {
      input.particulars = &block_.particulars[particular_];
      input.particulars_path = absl::StrCat(View(path_), ".particulars[", particular_, "].particulars");
      ++particular_;
    }
    const size_t poses = block_.poses.empty() ? 1 : block_.poses[index_];
    input.poses = {{}, block_.linear, block_.translation, pose_at_, poses, true};
    id_at_ += block_.id_lengths[index_];
    pose_at_ += poses;
    ++index_;
    return input;
  }

  // Names of the object that Next returned last.
  template <typename InternAsset, typename InternContainer>
  ObjectNames Names(const InternAsset& intern_asset, const InternContainer& intern_container) {
    const size_t i = index_ - 1;
    ObjectNames names;
    ResolveClass(i, names);
    names.asset = FromTable({"asset_of", "asset_ids", block_.asset_of, block_.asset_names}, i, assets_, intern_asset);
    names.container = FromTable({"container_of", "container_ids", block_.container_of, block_.container_ids}, i,
                                containers_, intern_container);
    if (!block_.colour.empty()) names.colour = Colour(i);
    return names;
  }

 private:
  static constexpr uint32_t kUnused = kNone - 1;

  struct ClassEntry {
    bool looked_up = false;
    std::optional<uint16_t> index;
  };
  struct Table {
    const char *column, *names_field;
    std::span<const uint32_t> numbers;
    std::span<const std::string_view> names;
  };

  std::string At(const char* field, size_t i) const { return absl::StrCat(View(path_), ".", field, "[", i, "]"); }

  std::optional<double> Given(std::span<const float> column) const {
    if (column.empty() || column[index_] == 0) return std::nullopt;
    return column[index_];
  }

  void ResolveClass(size_t i, ObjectNames& names) {
    const uint32_t number = block_.class_of[i];
    if (number >= classes_.size()) {
      AddFault(
          violations_, [&] { return At("class_of", i); },
          [&] { return GotCount(number, absl::StrCat("an index below ", classes_.size(), " (class_names)")); });
      return;
    }
    ClassEntry& entry = classes_[number];
    if (!entry.looked_up) {
      entry.looked_up = true;
      entry.index = catalogue_.Find(block_.class_names[number]);
      if (!entry.index) {
        violations_.Add(At("class_names", number), UnknownClass(block_.class_names[number], catalogue_));
      }
    }
    names.class_known = entry.index.has_value();
    names.class_index = entry.index.value_or(0);
  }

  template <typename Intern>
  uint32_t FromTable(const Table& table, size_t i, std::vector<uint32_t>& resolved, const Intern& intern) {
    if (table.numbers.empty() || table.numbers[i] == 0) return kNone;
    const uint32_t number = table.numbers[i] - 1;
    if (number >= resolved.size()) {
      AddFault(
          violations_, [&] { return At(table.column, i); },
          [&] {
            return GotCount(table.numbers[i],
                            absl::StrCat("0 (none) to ", resolved.size(), " (1 + index into ", table.names_field, ")"));
          });
      return kNone;
    }
    if (resolved[number] != kUnused) return resolved[number];
    const std::string field = At(table.names_field, number);
    if (table.names[number].empty()) violations_.Add(field, "got nothing, want a name of 1 to 1024 bytes");
    resolved[number] = intern(table.names[number], field);
    return resolved[number];
  }

  std::array<uint8_t, 4> Colour(size_t i) {
    const uint32_t packed = block_.colour[i];
    if (packed == 0) return {};
    if (packed >> 24 != 1) {
      AddFault(
          violations_, [&] { return At("colour", i); },
          [&] {
            return absl::StrCat("got 0x", absl::Hex(packed, absl::kZeroPad8), ", want 0 (not given) or 0x01RRGGBB");
          });
      return {};
    }
    return {static_cast<uint8_t>(packed >> 16), static_cast<uint8_t>(packed >> 8), static_cast<uint8_t>(packed), 1};
  }

  const ObjectBlockView& block_;
  const std::string_view path_;
  const ClassCatalogue& catalogue_;
  Violations& violations_;
  std::vector<ClassEntry> classes_;
  std::vector<uint32_t> assets_, containers_;  // numbers of names in the scene's tables
  size_t index_ = 0, id_at_ = 0, pose_at_ = 0, particular_ = 0;
};

}  // namespace

void SceneBuilder::AddBlock(const ObjectBlockView& block, std::string_view path) {
  State& s = *state_;
  const size_t n = block.id_lengths.size();
  const bool room = s.RoomFor(static_cast<int64_t>(n));
  if (!SizeCheck{block, path, s.shape.frames, s.violations}.Check() || !room) {
    s.incomplete = true;
    return;
  }
  s.places.AddBlock(path, n);
  s.ids.Reserve(s.scene.objects.size() + n);
  BlockReader reader(block, path, s.catalogue, s.violations);
  for (size_t i = 0; i < n; ++i) {
    const ObjectInput input = reader.Next();
    const ObjectNames names = reader.Names(
        [&](std::string_view name, const std::string& field) { return s.InternName(s.assets, name, field); },
        [&](std::string_view name, const std::string& field) { return s.InternName(s.container_names, name, field); });
    s.AddObject(input, names);
  }
}

}  // namespace scantling
