// Finds the row of an id. Holds row numbers only; the text stays in the column it indexes.

#ifndef SCANTLING_SERVER_SCENE_ID_INDEX_H_
#define SCANTLING_SERVER_SCENE_ID_INDEX_H_

#include <cstdint>
#include <string_view>

#include "absl/container/flat_hash_set.h"
#include "absl/hash/hash.h"
#include "absl/strings/string_view.h"
#include "server/scene/scene.h"

namespace scantling {

// `column` must outlive the index and not move. Lookups and insertions O(1); the hash is seeded per process, so chosen
// ids cannot collide on purpose. Not thread-safe.
class IdIndex {
 public:
  explicit IdIndex(const StringColumn& column) : rows_(0, Hash{&column}, Equal{&column}) {}

  void Reserve(size_t count) { rows_.reserve(count); }

  // Adds the row, whose text is already in the column. Returns kNone, or the row that has the same text already.
  uint32_t Insert(uint32_t row) {
    const auto [at, added] = rows_.insert(row);
    return added ? kNone : *at;
  }

  // Row of the id, or kNone.
  uint32_t Find(std::string_view id) const {
    const auto at = rows_.find(absl::string_view(id.data(), id.size()));
    return at == rows_.end() ? kNone : *at;
  }

 private:
  static absl::string_view Text(const StringColumn& column, uint32_t row) {
    const std::string_view text = column[row];
    return absl::string_view(text.data(), text.size());
  }
  struct Hash {
    using is_transparent = void;
    const StringColumn* column;
    size_t operator()(absl::string_view text) const { return absl::Hash<absl::string_view>()(text); }
    size_t operator()(uint32_t row) const { return (*this)(Text(*column, row)); }
  };
  struct Equal {
    using is_transparent = void;
    const StringColumn* column;
    bool operator()(uint32_t a, uint32_t b) const { return Text(*column, a) == Text(*column, b); }
    bool operator()(uint32_t a, absl::string_view b) const { return Text(*column, a) == b; }
  };
  absl::flat_hash_set<uint32_t, Hash, Equal> rows_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_ID_INDEX_H_
