// Walks text one code point at a time.
//
// yaml-cpp passes ill-formed UTF-8 through and switches to UTF-16 or UTF-32 where it sees a byte-order mark or NULs, so
// the bytes are checked before it sees them: after that only UTF-8 is left, and its line and column are ours.
//
// Well-formed sequences follow table 3-7 of the Unicode Standard: the first byte gives the length and narrows what the
// second may be (E0: A0..BF, ED: 80..9F, F0: 90..BF, F4: 80..8F), every other trailing byte is 80..BF.

#include "server/policy/utf8.h"

#include <cstddef>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

struct SecondByte {
  int length;  // of the sequence; 0: no sequence starts so
  uint8_t least, most;
};

SecondByte Narrow(uint8_t first) {
  if (first < 0x80) return {1, 0, 0};
  if (first < 0xC2) return {0, 0, 0};
  if (first < 0xE0) return {2, 0x80, 0xBF};
  if (first < 0xF0)
    return {3, static_cast<uint8_t>(first == 0xE0 ? 0xA0 : 0x80), static_cast<uint8_t>(first == 0xED ? 0x9F : 0xBF)};
  if (first < 0xF5)
    return {4, static_cast<uint8_t>(first == 0xF0 ? 0x90 : 0x80), static_cast<uint8_t>(first == 0xF4 ? 0x8F : 0xBF)};
  return {0, 0, 0};
}

// Length of the well-formed sequence at `at`, 0 where there is none.
size_t SequenceLength(std::string_view text, size_t at) {
  const auto byte = [&](size_t i) { return static_cast<uint8_t>(text[i]); };
  const SecondByte rule = Narrow(byte(at));
  const auto length = static_cast<size_t>(rule.length);
  if (length == 0 || at + length > text.size()) return 0;
  if (length > 1 && (byte(at + 1) < rule.least || byte(at + 1) > rule.most)) return 0;
  for (size_t i = 2; i < length; ++i) {
    if (byte(at + i) < 0x80 || byte(at + i) > 0xBF) return 0;
  }
  return length;
}

bool IsControl(char c) {
  const auto byte = static_cast<uint8_t>(c);
  return (byte < 0x20 && c != '\t' && c != '\n' && c != '\r') || byte == 0x7F;
}

}  // namespace

Utf8Fault FindUtf8Fault(std::string_view text) {
  Utf8Fault at;
  for (size_t i = 0; i < text.size();) {
    const size_t length = SequenceLength(text, i);
    if (length == 0 || IsControl(text[i])) {
      at.found = true;
      at.description = absl::StrCat("got the byte 0x", absl::Hex(static_cast<uint8_t>(text[i]), absl::kZeroPad2),
                                    length == 0 ? ", want UTF-8 text" : ", want text without control characters");
      return at;
    }
    at.column += static_cast<int32_t>(length);
    if (text[i] == '\n') at = {false, at.line + 1, 1, {}};
    i += length;
  }
  return at;
}

}  // namespace scantling
