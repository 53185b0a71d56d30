// Names come as bytes (block ids are one blob), so they are checked here; a million of them are nearly always ASCII, so
// eight bytes are tested at a time by the usual carry tricks before a single character is decoded.
//
// Well-formedness follows table 3-7 of the Unicode Standard 15.0: decode by the first byte's length, then refuse
// overlong forms, surrogates (U+D800..U+DFFF) and what lies above U+10FFFF.

#include "server/scene/text.h"

#include <cstdint>
#include <cstring>

#include "absl/strings/str_cat.h"
#include "server/scene/faults.h"

namespace scantling {
namespace {

constexpr uint64_t kOnes = 0x0101010101010101u;
constexpr uint64_t kHighs = 0x8080808080808080u;

// True where all eight bytes are printable ASCII. May say false for good text with a carry between bytes; then the
// bytes are looked at one by one.
bool EightPrintable(uint64_t word) {
  const uint64_t below_space = (word - kOnes * 0x20) & ~word;
  const uint64_t from_delete = word ^ (kOnes * 0x7F);
  const uint64_t is_delete = (from_delete - kOnes) & ~from_delete;
  return ((word | below_space | is_delete) & kHighs) == 0;
}

bool IsControl(uint8_t byte) { return byte < 0x20 || byte == 0x7F; }

int LengthByFirstByte(uint8_t byte) {
  if (byte < 0x80) return 1;
  if (byte >= 0xC2 && byte < 0xE0) return 2;
  if (byte >= 0xE0 && byte < 0xF0) return 3;
  if (byte >= 0xF0 && byte < 0xF5) return 4;
  return 0;
}

// Length of the well-formed character at the start of `text`, 0 where there is none. text is not empty.
size_t CharacterLength(std::string_view text) {
  const auto byte = [&](size_t i) { return static_cast<uint8_t>(text[i]); };
  const auto length = static_cast<size_t>(LengthByFirstByte(byte(0)));
  if (length <= 1) return length;
  if (length > text.size()) return 0;
  uint32_t code = byte(0) & (0xFFu >> (length + 1));
  for (size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xC0u) != 0x80u) return 0;
    code = (code << 6) | (byte(i) & 0x3Fu);
  }
  const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
  const bool outside = (code >= 0xD800 && code <= 0xDFFF) || code > 0x10FFFF;
  return overlong || outside ? 0 : length;
}

bool IsLineOrTab(char c) { return c == '\t' || c == '\n' || c == '\r'; }

struct Fault {
  bool found = false, control = false;
  size_t at = 0;
};

Fault FindFault(std::string_view text, bool lines_allowed) {
  for (size_t i = 0; i < text.size();) {
    const size_t length = CharacterLength(text.substr(i));
    if (length == 0) return {true, false, i};
    if (IsControl(static_cast<uint8_t>(text[i])) && !(lines_allowed && IsLineOrTab(text[i]))) return {true, true, i};
    i += length;
  }
  return {};
}

std::string Describe(std::string_view text, const Fault& fault) {
  const auto byte = static_cast<uint8_t>(text[fault.at]);
  return GotText(text, absl::StrCat(fault.control ? "text without control characters" : "UTF-8 text", " (byte ",
                                    fault.at, " is 0x", absl::Hex(byte, absl::kZeroPad2), ")"));
}

}  // namespace

bool IsPlainText(std::string_view text) {
  while (text.size() >= 8) {
    uint64_t word;
    std::memcpy(&word, text.data(), 8);
    if (!EightPrintable(word)) return !FindFault(text, false).found;
    text.remove_prefix(8);
  }
  return !FindFault(text, false).found;
}

std::string NameFault(std::string_view name, size_t least_bytes, size_t most_bytes) {
  if (name.size() < least_bytes) return absl::StrCat("got nothing, want a name of 1 to ", most_bytes, " bytes");
  if (name.size() > most_bytes) return GotCount(name.size(), absl::StrCat("at most ", most_bytes, " bytes"));
  if (IsPlainText(name)) return {};
  return Describe(name, FindFault(name, false));
}

std::string RemarkFault(std::string_view remark, size_t most_bytes) {
  if (remark.size() > most_bytes) return GotCount(remark.size(), absl::StrCat("at most ", most_bytes, " bytes"));
  const Fault fault = FindFault(remark, true);
  return fault.found ? Describe(remark, fault) : std::string();
}

}  // namespace scantling
