// Idea: decode by table 3-7 of the Unicode Standard (the lead byte fixes the length and the range of the second byte;
// every other byte is 80..BF), then classify a code point by sorted ranges.
//
// The ranges of width 0 and 2 are whole blocks of Unicode 15. Single characters inside them that a terminal may draw
// differently are not told apart: a column off by one in a table is the worst that follows.

#include "client/library/utf8.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <iterator>

namespace scantling::client {
namespace {

struct Range {
  char32_t first, last;
};

// Combining marks, joiners and variation selectors: drawn over the character before them.
constexpr std::array kZeroWide = std::to_array<Range>({{0x0300, 0x036F},
                                                       {0x0483, 0x0489},
                                                       {0x0591, 0x05BD},
                                                       {0x0610, 0x061A},
                                                       {0x064B, 0x065F},
                                                       {0x0E34, 0x0E3A},
                                                       {0x1AB0, 0x1AFF},
                                                       {0x1DC0, 0x1DFF},
                                                       {0x200B, 0x200F},
                                                       {0x202A, 0x202E},
                                                       {0x2060, 0x2069},
                                                       {0x20D0, 0x20FF},
                                                       {0xFE00, 0xFE0F},
                                                       {0xFE20, 0xFE2F},
                                                       {0xE0100, 0xE01EF}});

// East Asian Wide and Fullwidth, and emoji drawn two columns wide.
constexpr std::array kTwoWide = std::to_array<Range>({{0x1100, 0x115F},
                                                      {0x2E80, 0x303E},
                                                      {0x3041, 0x33FF},
                                                      {0x3400, 0x4DBF},
                                                      {0x4E00, 0x9FFF},
                                                      {0xA000, 0xA4CF},
                                                      {0xAC00, 0xD7A3},
                                                      {0xF900, 0xFAFF},
                                                      {0xFE30, 0xFE4F},
                                                      {0xFF00, 0xFF60},
                                                      {0xFFE0, 0xFFE6},
                                                      {0x1F300, 0x1F64F},
                                                      {0x1F900, 0x1F9FF},
                                                      {0x20000, 0x3FFFD}});

template <size_t kCount>
bool Within(const std::array<Range, kCount>& ranges, char32_t value) {
  const auto after = std::upper_bound(ranges.begin(), ranges.end(), value,
                                      [](char32_t v, const Range& range) { return v < range.first; });
  return after != ranges.begin() && value <= std::prev(after)->last;
}

// What a lead byte promises: how many bytes, and where the second one must lie.
struct Lead {
  size_t bytes;
  uint8_t second_first, second_last;
};

Lead LeadOf(uint8_t byte) {
  if (byte >= 0xC2 && byte <= 0xDF) return {2, 0x80, 0xBF};
  if (byte == 0xE0) return {3, 0xA0, 0xBF};
  if (byte == 0xED) return {3, 0x80, 0x9F};
  if (byte >= 0xE1 && byte <= 0xEF) return {3, 0x80, 0xBF};
  if (byte == 0xF0) return {4, 0x90, 0xBF};
  if (byte >= 0xF1 && byte <= 0xF3) return {4, 0x80, 0xBF};
  if (byte == 0xF4) return {4, 0x80, 0x8F};
  return {0, 0, 0};
}

int ColumnsOf(const CodePoint& point) {
  if (!point.valid) return 1;
  if (Within(kZeroWide, point.value)) return 0;
  return Within(kTwoWide, point.value) ? 2 : 1;
}

bool IsControl(char32_t value) {
  // Besides C0, DEL and C1: the bidirectional overrides, which can make a line read as something it is not.
  return value < 0x20 || (value >= 0x7F && value < 0xA0) || (value >= 0x202A && value <= 0x202E) ||
         (value >= 0x2066 && value <= 0x2069) || value == 0x2028 || value == 0x2029;
}

void AppendEscaped(std::string_view bytes, std::string& out) {
  constexpr char kHex[] = "0123456789abcdef";
  for (const char byte : bytes) {
    const auto value = static_cast<uint8_t>(byte);
    out += "\\x";
    out += kHex[value >> 4];
    out += kHex[value & 15];
  }
}

}  // namespace

CodePoint FirstCodePoint(std::string_view text) {
  const auto lead_byte = static_cast<uint8_t>(text[0]);
  if (lead_byte < 0x80) return {lead_byte, 1, true};
  const Lead lead = LeadOf(lead_byte);
  if (lead.bytes == 0 || text.size() < lead.bytes) return {lead_byte, 1, false};
  char32_t value = lead_byte & (0xFF >> (lead.bytes + 1));
  for (size_t i = 1; i < lead.bytes; ++i) {
    const auto byte = static_cast<uint8_t>(text[i]);
    const uint8_t first = i == 1 ? lead.second_first : 0x80;
    const uint8_t last = i == 1 ? lead.second_last : 0xBF;
    if (byte < first || byte > last) return {lead_byte, 1, false};
    value = value << 6 | (byte & 0x3F);
  }
  return {value, lead.bytes, true};
}

bool IsUtf8(std::string_view text) {
  while (!text.empty()) {
    const CodePoint point = FirstCodePoint(text);
    if (!point.valid) return false;
    text.remove_prefix(point.bytes);
  }
  return true;
}

int ColumnsOf(std::string_view text) {
  int columns = 0;
  while (!text.empty()) {
    const CodePoint point = FirstCodePoint(text);
    columns += ColumnsOf(point);
    text.remove_prefix(point.bytes);
  }
  return columns;
}

std::string Printable(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const CodePoint point = FirstCodePoint(text);
    const std::string_view bytes = text.substr(0, point.bytes);
    if (!point.valid || IsControl(point.value)) {
      AppendEscaped(bytes, out);
    } else {
      out += bytes;
    }
    text.remove_prefix(point.bytes);
  }
  return out;
}

std::string CutToColumns(std::string_view text, int columns) {
  if (ColumnsOf(text) <= columns) return std::string(text);
  if (columns <= 0) return "";
  size_t kept = 0;
  int used = 0;
  while (kept < text.size()) {
    const CodePoint point = FirstCodePoint(text.substr(kept));
    const int wide = ColumnsOf(point);
    if (used + wide > columns - 1) break;  // one column stays for the mark
    used += wide;
    kept += point.bytes;
  }
  return std::string(text.substr(0, kept)) + "…";
}

}  // namespace scantling::client
