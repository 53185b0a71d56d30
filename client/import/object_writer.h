// Imported objects as rows or as packed blocks of a shot.

#ifndef SCANTLING_CLIENT_IMPORT_OBJECT_WRITER_H_
#define SCANTLING_CLIENT_IMPORT_OBJECT_WRITER_H_

#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "client/import/accessor.h"
#include "client/import/labels.h"
#include "client/import/matrix.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::import {

struct ImportedObject {
  std::string id;
  Labels labels;  // with the class that was chosen
  Bounds box;
  std::vector<Matrix> world;  // one, or one per frame
};

// Writes objects to a shot. Blocks are closed at 16,384 objects or 50,000 poses, near the 4 MB a message may have by
// default. Not thread-safe.
class ObjectWriter {
 public:
  ObjectWriter(bool blocks, v1::Shot* shot) : blocks_(blocks), shot_(shot) {}
  void Add(const ImportedObject& object);

 private:
  using Table = std::unordered_map<std::string, uint32_t>;
  void AddRow(const ImportedObject& object);
  void AddToBlock(const ImportedObject& object);

  bool blocks_;
  v1::Shot* shot_;
  v1::ObjectBlock* block_ = nullptr;
  size_t poses_ = 0;
  Table classes_, assets_;  // names of the open block -> their place in its tables
};

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_OBJECT_WRITER_H_
