// UTF-8 as it is in files and on terminals: whether bytes are it, and how wide it prints.
//
// Pure functions, linear in the text, thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_UTF8_H_
#define SCANTLING_CLIENT_LIBRARY_UTF8_H_

#include <cstddef>
#include <string>
#include <string_view>

namespace scantling::client {

// One code point and the bytes it took. Ill-formed bytes (overlong, surrogate, above U+10FFFF, cut short) come back one
// at a time with valid = false.
// Source: The Unicode Standard 15.0, table 3-7 (well-formed UTF-8 byte sequences).
struct CodePoint {
  char32_t value = 0;
  size_t bytes = 1;
  bool valid = false;
};

// The first code point of `text`, which must not be empty.
CodePoint FirstCodePoint(std::string_view text);

// Whether all of `text` is well-formed; the empty text is.
bool IsUtf8(std::string_view text);

// Columns of a terminal that `text` takes: 0 for combining marks, 2 for East Asian wide and emoji, 1 for the rest.
// Source: Unicode Standard Annex #11 (East Asian Width), whole blocks rather than every single exception.
int ColumnsOf(std::string_view text);

// `text` made safe to print: control characters and ill-formed bytes become \xNN, so that an id in a hostile file
// cannot steer the reader's terminal.
std::string Printable(std::string_view text);

// The longest beginning of `text` that fits into `columns`, with a trailing "…" where something was cut off.
std::string CutToColumns(std::string_view text, int columns);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_UTF8_H_
