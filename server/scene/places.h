// Where each object stood in what was sent, so that a fault found late can still name it.

#ifndef SCANTLING_SERVER_SCENE_PLACES_H_
#define SCANTLING_SERVER_SCENE_PLACES_H_

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace scantling {

// One object's place: a row ("objects[3]") or one index of a block ("blocks[0]", 5).
struct Place {
  std::string path;
  bool in_block = false;
  size_t index = 0;  // in the block

  // "objects[3].container_id", or "blocks[0].container_of[5]".
  std::string Field(std::string_view row_field, std::string_view block_column) const;
};

// Places of all objects in order. Rows with paths that count up ("objects[7]", "objects[8]", ...) and whole blocks are
// kept as runs, so a million objects cost a few dozen bytes.
class Places {
 public:
  void AddRow(std::string_view path);
  void AddBlock(std::string_view path, size_t count);

  // Place of the object that came as number `row`. O(log runs).
  Place Of(uint32_t row) const;

 private:
  struct Run {
    std::string path;  // block: its path; rows: what stands before the number, or a whole path
    bool in_block = false, numbered = false;
    uint64_t first_number = 0;  // numbered rows
    uint64_t first_row = 0, count = 0;
  };
  std::vector<Run> runs_;
  uint64_t rows_ = 0;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_PLACES_H_
