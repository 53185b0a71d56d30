// Reads one mapping of a YAML document key by key, noting every fault with file, line, column and path.
//
//   YamlReader root(node, "scantlingd.yaml", violations);
//   config.threads = root.Integer("threads", Between(0, 1024), 0);   // missing: 0
//   config.name = root.Text("name", NameRule(), kRequired);          // missing: a fault
//   root.Finish();                                                   // keys never asked for are faults
//
// A fault's field is "file:line:column: path.to.key", its description "got ..., want ...". After a fault a reader
// returns the fallback, or the least allowed value where there is none, so that reading goes on and every other fault
// is found too; the caller throws the result away where violations.count() rose.
//
// Keys passed in must outlive the reader (string literals). The node, the file name and the violations must outlive it
// too. Not thread-safe; readers of different violations are independent.

#ifndef SCANTLING_SERVER_POLICY_YAML_READER_H_
#define SCANTLING_SERVER_POLICY_YAML_READER_H_

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/policy/yaml_tree.h"
#include "server/units/violations.h"

namespace scantling {

// What a number may be. Every number is finite and, unless a rule says otherwise, at most a thousand million either
// way: larger ones are slips of the pen, and later sums need not fear overflow.
inline constexpr double kMostYamlNumber = 1e9;

struct NumberRule {
  double least = -kMostYamlNumber;
  double most = kMostYamlNumber;
  bool above_least = false;  // least itself is refused
};
constexpr NumberRule AtLeast(double least) { return {least, kMostYamlNumber, false}; }
constexpr NumberRule Above(double least) { return {least, kMostYamlNumber, true}; }
constexpr NumberRule Between(double least, double most) { return {least, most, false}; }
constexpr NumberRule AboveUpTo(double least, double most) { return {least, most, true}; }

// What a text may be.
struct TextRule {
  size_t most_bytes = 4096;
  bool name = false;  // small letters, digits and _, first a letter
  bool may_be_empty = false;
};
constexpr TextRule NameRule() { return {64, true, false}; }
constexpr TextRule ProseRule() { return {4096, false, true}; }
constexpr TextRule PathRule() { return {4096, false, false}; }

// As a fallback: there is none, a missing key is a fault.
inline constexpr std::nullopt_t kRequired = std::nullopt;

class YamlReader {
 public:
  // The whole document. Nothing at all reads as a mapping without keys; anything else but a mapping is a fault.
  YamlReader(const YamlNode& root, std::string_view file_name, Violations& violations);

  // True where the key stands in the mapping, whatever its value.
  bool Has(std::string_view key);

  double Number(std::string_view key, const NumberRule& rule, std::optional<double> fallback);
  int32_t Integer(std::string_view key, const NumberRule& rule, std::optional<int32_t> fallback);
  bool Flag(std::string_view key, std::optional<bool> fallback);
  std::string Text(std::string_view key, const TextRule& rule, std::optional<std::string> fallback);

  // Index into `names` of the word found.
  size_t Choice(std::string_view key, std::span<const std::string_view> names, std::optional<size_t> fallback);

  // The mapping under a key. Missing and required: a fault here, and a reader that notes no missing keys of its own.
  enum class Missing : uint8_t { kFault, kEmpty };
  YamlReader Map(std::string_view key, Missing missing);

  // The mappings under the keys of this one, whose keys are names the file gives (see NameRule): at most `most`, all
  // of them asked for.
  std::vector<std::pair<std::string, YamlReader>> NamedMaps(size_t most);

  // The list under a key: its items as mappings, or as whole numbers, at most `most`. Missing: empty.
  std::vector<YamlReader> Maps(std::string_view key, size_t most);
  std::vector<int32_t> Integers(std::string_view key, const NumberRule& rule, size_t most);

  // Notes a fault at a key's value, or at the mapping where the key is missing.
  void Fault(std::string_view key, std::string description);

  // Notes a fault at the mapping itself.
  void Fault(std::string description);

  // Notes every key of the mapping that was never asked for, with the nearest that was (the nearest only among the
  // first kMostSuggestions faults: a hostile file buys no long search). Call once, last.
  static constexpr size_t kMostSuggestions = 1000;
  void Finish();

  // "file:line:column" of a key's value, for a fault elsewhere that points here.
  std::string Place(std::string_view key) const;

 private:
  YamlReader(const YamlReader& parent, const YamlNode* node, std::string path);

  const YamlNode* Find(std::string_view key) const;
  const YamlNode* AskList(std::string_view key, std::string_view want, size_t most);
  const YamlNode* Ask(std::string_view key, bool required,
                      std::string_view want);  // nullptr: missing, noted if required
  std::optional<double> ReadNumber(const YamlNode& node, const NumberRule& rule, bool whole, const std::string& path);
  void FaultAt(YamlMark mark, const std::string& path, std::string description);
  std::string PathOf(std::string_view key) const;

  const YamlNode* node_;  // a map; nullptr: missing or not a map, noted already
  YamlMark mark_;
  std::string path_;
  std::string_view file_name_;
  Violations* violations_;
  std::vector<std::string_view> asked_;
  bool asked_for_all_ = false;
};

// The nearest of `known` to a misspelt word by edits (insert, delete, replace, swap of neighbours), where it is near
// enough to be meant: at most a third of its letters, at least one. Empty where none is. Words over 64 bytes match
// none. Source: Damerau, A technique for computer detection and correction of spelling errors, 1964 (optimal string
// alignment).
std::string_view NearestWord(std::string_view word, std::span<const std::string_view> known);

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_YAML_READER_H_
