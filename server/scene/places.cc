// A run is a stretch of objects whose places follow from the first one's: the indices of one block, or rows whose paths
// differ only in a number in brackets at the end that counts up by one. Anything else begins a new run.

#include "server/scene/places.h"

#include <algorithm>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

absl::string_view View(std::string_view text) { return absl::string_view(text.data(), text.size()); }

struct NumberedPath {
  std::string_view stem;
  uint64_t number = 0;
  bool numbered = false;
};

// "objects[12]" -> "objects", 12. A number with a leading zero is not one we could write again, so it does not count.
NumberedPath Split(std::string_view path) {
  const size_t open = path.rfind('[');
  if (open == std::string_view::npos || path.back() != ']') return {path};
  const std::string_view digits = path.substr(open + 1, path.size() - open - 2);
  NumberedPath split = {path.substr(0, open)};
  split.numbered = absl::SimpleAtoi(View(digits), &split.number) && absl::StrCat(split.number) == View(digits);
  return split.numbered ? split : NumberedPath{path};
}

}  // namespace

std::string Place::Field(std::string_view row_field, std::string_view block_column) const {
  if (!in_block) return absl::StrCat(path, ".", View(row_field));
  return absl::StrCat(path, ".", View(block_column), "[", index, "]");
}

void Places::AddRow(std::string_view path) {
  const NumberedPath split = Split(path);
  Run* last = runs_.empty() ? nullptr : &runs_.back();
  if (last != nullptr && last->numbered && split.numbered && last->path == split.stem &&
      last->first_number + last->count == split.number) {
    ++last->count;
  } else {
    runs_.push_back({std::string(split.stem), false, split.numbered, split.number, rows_, 1});
  }
  ++rows_;
}

void Places::AddBlock(std::string_view path, size_t count) {
  runs_.push_back({std::string(path), true, false, 0, rows_, count});
  rows_ += count;
}

Place Places::Of(uint32_t row) const {
  const auto after = std::upper_bound(runs_.begin(), runs_.end(), uint64_t{row},
                                      [](uint64_t value, const Run& run) { return value < run.first_row; });
  const Run& run = *(after - 1);
  const uint64_t offset = row - run.first_row;
  if (run.in_block) return {run.path, true, static_cast<size_t>(offset)};
  return {run.numbered ? absl::StrCat(run.path, "[", run.first_number + offset, "]") : run.path, false, 0};
}

}  // namespace scantling
