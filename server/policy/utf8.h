// Is this text plain UTF-8 without control characters, and if not, where does it stop being so?

#ifndef SCANTLING_SERVER_POLICY_UTF8_H_
#define SCANTLING_SERVER_POLICY_UTF8_H_

#include <cstdint>
#include <string>
#include <string_view>

namespace scantling {

struct Utf8Fault {
  bool found = false;
  int32_t line = 1, column = 1;  // from 1; a column counts bytes
  std::string description;       // "got ..., want ..."
};

// The first byte that is not well-formed UTF-8 (overlong forms, surrogates and code points above U+10FFFF included) or
// is a control character other than tab, line feed and carriage return. Linear; thread-safe.
// Source: The Unicode Standard 15.0, table 3-7, Well-Formed UTF-8 Byte Sequences.
Utf8Fault FindUtf8Fault(std::string_view text);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_UTF8_H_
