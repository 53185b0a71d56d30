// Staged objects as rows or as blocks of a shot.

#ifndef SCANTLING_CLIENT_SAMPLE_WRITE_H_
#define SCANTLING_CLIENT_SAMPLE_WRITE_H_

#include <string>
#include <unordered_map>

#include "client/sample/staging.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::sample {

// Appends one row to `shot` and returns it. frames: poses a moving object gets.
v1::SceneObject* AddRow(const Staged& object, int frames, v1::Shot* shot);

// Appends objects to the last block of `shot`, and opens another when that one is full: at 16,384 objects or 50,000
// poses, so that a block stays near the 4 MB a message may have by default. Not thread-safe.
class BlockWriter {
 public:
  BlockWriter(int frames, v1::Shot* shot) : frames_(frames), shot_(shot) {}
  void Add(const Staged& object);
  void SetParticulars(const v1::Particulars& particulars);  // of the object added last

 private:
  using Table = std::unordered_map<std::string, uint32_t>;
  void OpenBlock();

  int frames_;
  v1::Shot* shot_;
  v1::ObjectBlock* block_ = nullptr;
  int poses_ = 0;
  Table classes_, assets_, containers_;  // names of the open block -> their place in its tables
};

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_WRITE_H_
