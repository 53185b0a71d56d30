// Bytes -> binary v1.Shot -> scene: the way of a request.

#include <google/protobuf/stubs/logging.h>

#include <cstddef>
#include <cstdint>

#include "tests/fuzz/invariants.h"

// Protobuf writes a line for every string that is not UTF-8; a fuzzer makes millions.
extern "C" int LLVMFuzzerInitialize(int*, char***) {
  google::protobuf::SetLogHandler(nullptr);
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  scantling::v1::Shot shot;
  if (shot.ParseFromArray(data, static_cast<int>(size))) scantling::fuzz::CheckShot(shot);
  return 0;
}
