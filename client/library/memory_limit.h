// How much memory a message of a given kind takes once it is parsed.
//
// A hostile file is small and grows on reading: two bytes of protobuf can mean an empty object of some 200 bytes. The
// readers of shot files add up what they are about to make before they make it, and refuse at a limit.

#ifndef SCANTLING_CLIENT_LIBRARY_MEMORY_LIMIT_H_
#define SCANTLING_CLIENT_LIBRARY_MEMORY_LIMIT_H_

#include <cstdint>
#include <unordered_map>

#include "google/protobuf/descriptor.h"

namespace scantling::client {

// Most a shot may take in memory. A million objects in rows (box, matrix and colour each) take about 0.9 GiB.
inline constexpr int64_t kMostShotMemoryBytes = int64_t{2} << 30;

// Adds up memory. Not thread-safe; one per file.
class MemoryTally {
 public:
  // One more message of this kind, empty, with its place in a list.
  void AddMessage(const google::protobuf::Descriptor& kind);

  // One more text or blob of so many bytes.
  void AddText(int64_t bytes);

  // One more number of a list.
  void AddNumber() { bytes_ += 8; }

  int64_t bytes() const { return bytes_; }
  bool over() const { return bytes_ > kMostShotMemoryBytes; }

 private:
  int64_t bytes_ = 0;
  std::unordered_map<const google::protobuf::Descriptor*, int64_t> message_bytes_;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_MEMORY_LIMIT_H_
