// std::random_device reads the system's generator on this platform (getrandom).

#include "server/session/session_id.h"

#include <cstdint>
#include <random>

namespace scantling {

std::string NewSessionId() {
  std::random_device random;  // the system's own source
  std::string id;
  for (int word = 0; word < 4; ++word) {
    uint32_t bits = random();
    for (int digit = 0; digit < 8; ++digit, bits >>= 4) id += "0123456789abcdef"[bits & 15];
  }
  return id;
}

}  // namespace scantling
