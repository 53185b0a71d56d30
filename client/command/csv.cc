// Idea: quoting is per cell, so a record is a join. Numbers go through std::to_chars: it knows no locale, so a comma
// never turns up as a decimal point.
//
// Source: RFC 4180, section 2.

#include "client/command/csv.h"

#include <charconv>

namespace scantling::client {

std::string CsvCell(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == text.npos) return std::string(text);
  std::string out = "\"";
  for (const char character : text) {
    if (character == '"') out += '"';
    out += character;
  }
  return out + '"';
}

std::string FormulaSafe(std::string_view text) {
  constexpr std::string_view kRisky = "=+-@\t\r\n";
  std::string out;
  if (!text.empty() && kRisky.find(text[0]) != kRisky.npos) out += '\'';
  out += text;
  return out;
}

std::string CsvNumber(double value) {
  char text[40];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return std::string(text, end);
}

std::string CsvRecord(const std::vector<std::string>& cells) {
  std::string out;
  for (size_t i = 0; i < cells.size(); ++i) {
    if (i > 0) out += ',';
    out += cells[i];
  }
  return out + "\r\n";
}

}  // namespace scantling::client
