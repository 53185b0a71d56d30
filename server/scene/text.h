// Is this text plain: well-formed UTF-8 without control characters?

#ifndef SCANTLING_SERVER_SCENE_TEXT_H_
#define SCANTLING_SERVER_SCENE_TEXT_H_

#include <cstddef>
#include <string>
#include <string_view>

namespace scantling {

// True for well-formed UTF-8 (no overlong forms, surrogates or code points above U+10FFFF) without control characters
// (below U+0020, and U+007F). Linear, eight bytes at a time while the text is ASCII. Thread-safe.
bool IsPlainText(std::string_view text);

// What is wrong with a name; empty where nothing is: it must be plain and of least to most bytes.
std::string NameFault(std::string_view name, size_t least_bytes, size_t most_bytes);

// The same for a remark, which may hold tabs and line ends.
std::string RemarkFault(std::string_view remark, size_t most_bytes);

}  // namespace scantling

#endif  // SCANTLING_SERVER_SCENE_TEXT_H_
