// A YAML document as a bounded, checked tree.
//
// Configuration is read from files that people edit and attackers may write, so the tree takes a narrow YAML: one
// document of mappings with scalar keys, lists and scalars. Refused, each with its place: more than kMostYamlBytes of
// text, more than kMostYamlNodes nodes, nesting deeper than kMostYamlDepth, anchors and aliases (and with them every
// expansion bomb), tags, duplicate keys, a second document, bytes that are not UTF-8, control characters.

#ifndef SCANTLING_SERVER_POLICY_YAML_TREE_H_
#define SCANTLING_SERVER_POLICY_YAML_TREE_H_

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/units/violations.h"

namespace scantling {

inline constexpr size_t kMostYamlBytes = size_t{1} << 20;
inline constexpr size_t kMostYamlNodes = 100'000;
inline constexpr size_t kMostYamlDepth = 32;

// Line and column, both from 1; a column counts bytes.
struct YamlMark {
  int32_t line = 1;
  int32_t column = 1;
};

struct YamlKey {
  std::string text;
  YamlMark mark;
};

struct YamlNode {
  enum class Kind : uint8_t { kNothing, kScalar, kList, kMap };

  Kind kind = Kind::kNothing;
  bool quoted = false;          // a scalar in quotes or a block scalar: text, never a number or a flag
  YamlMark mark;                // where the node starts
  std::string text;             // scalar
  std::vector<YamlKey> keys;    // map: key of each value, in the order written
  std::vector<YamlNode> items;  // list: items; map: values
};

// Parses one document. Faults go to `violations` with the field "file_name:line:column"; the result is nullopt where
// there was any. An empty document is a node of kind kNothing. Never throws. Linear in the text. Thread-safe.
std::optional<YamlNode> ParseYaml(std::string_view text, std::string_view file_name, Violations& violations);

// "file_name:line:column".
std::string PlaceOf(std::string_view file_name, YamlMark mark);

// A value as an error message may show it: quoted, control bytes escaped, cut after 60 bytes.
std::string Quoted(std::string_view text);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_YAML_TREE_H_
