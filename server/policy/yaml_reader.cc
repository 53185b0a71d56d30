// Typed reading of a YAML mapping.
//
// Every getter does the same three steps: find the key (and remember that it was asked for), check the node's kind and
// value against the rule, and note "got X, want Y" where it fails. What is wanted is worded from the rule itself, so
// that messages and checks cannot drift apart.
//
// A reader whose mapping is missing or is no mapping holds no node: it answers with fallbacks and stays silent, because
// its one fault has been noted by whoever made it; a hundred missing keys below would only bury it.
//
// Numbers are read by std::from_chars: no locale, no hex, no leading plus; it accepts "inf" and "nan", which the
// finiteness test refuses.

#include "server/policy/yaml_reader.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

constexpr size_t kMostWordBytes = 64;

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

std::string Describe(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::kNothing:
      return "nothing";
    case YamlNode::Kind::kList:
      return absl::StrCat("a list of ", node.items.size());
    case YamlNode::Kind::kMap:
      return "a mapping";
    case YamlNode::Kind::kScalar:
      break;
  }
  return node.quoted ? absl::StrCat("the text ", Quoted(node.text)) : Quoted(node.text);
}

// Whole bounds in full, without an exponent; every bound is far below 2^63.
std::string Plain(double bound) {
  return bound == std::trunc(bound) ? absl::StrCat(static_cast<int64_t>(bound)) : absl::StrCat(bound);
}

std::string Want(const NumberRule& rule, bool whole) {
  const absl::string_view noun = whole ? "a whole number" : "a number";
  const std::string least = Plain(rule.least), most = Plain(rule.most);
  if (rule.above_least) return absl::StrCat(noun, " above ", least, " and at most ", most);
  return absl::StrCat(noun, " from ", least, " to ", most);
}

std::string Want(const TextRule& rule) {
  if (rule.name) {
    return absl::StrCat("a name of small letters, digits and _, a letter first, at most ", rule.most_bytes, " bytes");
  }
  return absl::StrCat(rule.may_be_empty ? "text" : "text that is not empty", " of at most ", rule.most_bytes, " bytes");
}

bool Fits(double value, const NumberRule& rule) {
  if (!std::isfinite(value) || value > rule.most) return false;
  return rule.above_least ? value > rule.least : value >= rule.least;
}

bool IsName(std::string_view text) {
  const auto letter = [](char c) { return c >= 'a' && c <= 'z'; };
  const auto rest = [&](char c) { return letter(c) || (c >= '0' && c <= '9') || c == '_'; };
  return !text.empty() && letter(text.front()) && std::all_of(text.begin(), text.end(), rest);
}

bool Fits(std::string_view text, const TextRule& rule) {
  if (text.size() > rule.most_bytes) return false;
  if (rule.name) return IsName(text);
  return rule.may_be_empty || !text.empty();
}

std::optional<double> ParseNumber(const std::string& text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stopped, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc() || stopped != end) return std::nullopt;
  return value;
}

std::string JoinWords(std::span<const std::string_view> words) {
  std::string joined;
  for (size_t i = 0; i < words.size(); ++i) {
    absl::StrAppend(&joined, i == 0 ? "" : i + 1 == words.size() ? " or " : ", ", View(words[i]));
  }
  return joined;
}

// Optimal string alignment over three rolling rows; both words at most kMostWordBytes.
size_t EditDistance(std::string_view a, std::string_view b) {
  using Row = std::array<size_t, kMostWordBytes + 1>;
  Row before_last = {}, last = {}, row = {};
  for (size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (size_t i = 1; i <= a.size(); ++i) {
    before_last = last;
    last = row;
    row[0] = i;
    for (size_t j = 1; j <= b.size(); ++j) {
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1)});
      const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
  }
  return row[b.size()];
}

}  // namespace

std::string_view NearestWord(std::string_view word, std::span<const std::string_view> known) {
  std::string_view nearest;
  size_t least = kMostWordBytes;
  if (word.size() > kMostWordBytes) return nearest;
  for (const std::string_view candidate : known) {
    if (candidate.size() > kMostWordBytes) continue;
    const size_t distance = EditDistance(word, candidate);
    if (distance >= least || distance > std::max<size_t>(1, candidate.size() / 3)) continue;
    least = distance;
    nearest = candidate;
  }
  return nearest;
}

YamlReader::YamlReader(const YamlNode& root, std::string_view file_name, Violations& violations)
    : node_(nullptr), mark_(root.mark), file_name_(file_name), violations_(&violations) {
  static const YamlNode kEmptyMap = [] {
    YamlNode node;
    node.kind = YamlNode::Kind::kMap;
    return node;
  }();
  if (root.kind == YamlNode::Kind::kMap) {
    node_ = &root;
  } else if (root.kind == YamlNode::Kind::kNothing) {
    node_ = &kEmptyMap;
  } else {
    Fault(absl::StrCat("got ", Describe(root), ", want a mapping of keys to values"));
  }
}

YamlReader::YamlReader(const YamlReader& parent, const YamlNode* node, std::string path)
    : node_(nullptr),
      mark_(node == nullptr ? parent.mark_ : node->mark),
      path_(std::move(path)),
      file_name_(parent.file_name_),
      violations_(parent.violations_) {
  if (node == nullptr) return;
  if (node->kind == YamlNode::Kind::kMap) {
    node_ = node;
  } else {
    Fault(absl::StrCat("got ", Describe(*node), ", want a mapping of keys to values"));
  }
}

const YamlNode* YamlReader::Find(std::string_view key) const {
  if (node_ == nullptr) return nullptr;
  for (size_t i = 0; i < node_->keys.size(); ++i) {
    if (node_->keys[i].text == key) return &node_->items[i];
  }
  return nullptr;
}

const YamlNode* YamlReader::Ask(std::string_view key, bool required, std::string_view want) {
  if (std::find(asked_.begin(), asked_.end(), key) == asked_.end()) asked_.push_back(key);
  const YamlNode* found = Find(key);
  if (found == nullptr && required && node_ != nullptr) {
    FaultAt(mark_, PathOf(key), absl::StrCat("got no such key, want ", View(want)));
  }
  return found;
}

std::string YamlReader::PathOf(std::string_view key) const {
  return path_.empty() ? std::string(key) : absl::StrCat(path_, ".", View(key));
}

void YamlReader::FaultAt(YamlMark mark, const std::string& path, std::string description) {
  const std::string place = PlaceOf(file_name_, mark);
  violations_->Add(path.empty() ? place : absl::StrCat(place, ": ", path), std::move(description));
}

void YamlReader::Fault(std::string description) { FaultAt(mark_, path_, std::move(description)); }

void YamlReader::Fault(std::string_view key, std::string description) {
  const YamlNode* node = Find(key);
  FaultAt(node == nullptr ? mark_ : node->mark, PathOf(key), std::move(description));
}

std::string YamlReader::Place(std::string_view key) const {
  const YamlNode* node = Find(key);
  return PlaceOf(file_name_, node == nullptr ? mark_ : node->mark);
}

bool YamlReader::Has(std::string_view key) { return Ask(key, false, "") != nullptr; }

std::optional<double> YamlReader::ReadNumber(const YamlNode& node, const NumberRule& rule, bool whole,
                                             const std::string& path) {
  std::optional<double> value;
  if (node.kind == YamlNode::Kind::kScalar && !node.quoted) value = ParseNumber(node.text);
  const bool fits = value && Fits(*value, rule) && (!whole || *value == std::trunc(*value));
  if (fits) return value;
  FaultAt(node.mark, path, absl::StrCat("got ", Describe(node), ", want ", Want(rule, whole)));
  return std::nullopt;
}

double YamlReader::Number(std::string_view key, const NumberRule& rule, std::optional<double> fallback) {
  const YamlNode* node = Ask(key, !fallback, Want(rule, false));
  if (node == nullptr) return fallback.value_or(rule.least);
  return ReadNumber(*node, rule, false, PathOf(key)).value_or(fallback.value_or(rule.least));
}

int32_t YamlReader::Integer(std::string_view key, const NumberRule& rule, std::optional<int32_t> fallback) {
  const auto otherwise = fallback.value_or(static_cast<int32_t>(rule.least));
  const YamlNode* node = Ask(key, !fallback, Want(rule, true));
  if (node == nullptr) return otherwise;
  const std::optional<double> value = ReadNumber(*node, rule, true, PathOf(key));
  return value ? static_cast<int32_t>(*value) : otherwise;
}

bool YamlReader::Flag(std::string_view key, std::optional<bool> fallback) {
  const YamlNode* node = Ask(key, !fallback, "true or false");
  if (node == nullptr) return fallback.value_or(false);
  const bool plain = node->kind == YamlNode::Kind::kScalar && !node->quoted;
  if (plain && (node->text == "true" || node->text == "false")) return node->text == "true";
  FaultAt(node->mark, PathOf(key), absl::StrCat("got ", Describe(*node), ", want true or false"));
  return fallback.value_or(false);
}

std::string YamlReader::Text(std::string_view key, const TextRule& rule, std::optional<std::string> fallback) {
  const YamlNode* node = Ask(key, !fallback, Want(rule));
  if (node == nullptr) return fallback.value_or("");
  if (node->kind == YamlNode::Kind::kScalar && Fits(node->text, rule)) return node->text;
  FaultAt(node->mark, PathOf(key), absl::StrCat("got ", Describe(*node), ", want ", Want(rule)));
  return fallback.value_or("");
}

size_t YamlReader::Choice(std::string_view key, std::span<const std::string_view> names,
                          std::optional<size_t> fallback) {
  const YamlNode* node = Ask(key, !fallback, JoinWords(names));
  if (node == nullptr) return fallback.value_or(0);
  const auto found = std::find(names.begin(), names.end(), node->text);
  if (node->kind == YamlNode::Kind::kScalar && found != names.end()) return static_cast<size_t>(found - names.begin());
  FaultAt(node->mark, PathOf(key), absl::StrCat("got ", Describe(*node), ", want ", JoinWords(names)));
  return fallback.value_or(0);
}

YamlReader YamlReader::Map(std::string_view key, Missing missing) {
  const YamlNode* node = Ask(key, missing == Missing::kFault, "a mapping of keys to values");
  return YamlReader(*this, node, PathOf(key));
}

std::vector<std::pair<std::string, YamlReader>> YamlReader::NamedMaps(size_t most) {
  std::vector<std::pair<std::string, YamlReader>> maps;
  asked_for_all_ = true;
  if (node_ == nullptr) return maps;
  if (node_->keys.size() > most) Fault(absl::StrCat("got ", node_->keys.size(), " names, want at most ", most));
  for (size_t i = 0; i < std::min(node_->keys.size(), most); ++i) {
    const YamlKey& key = node_->keys[i];
    if (Fits(key.text, NameRule())) {
      maps.emplace_back(key.text, YamlReader(*this, &node_->items[i], PathOf(key.text)));
    } else {
      FaultAt(key.mark, path_, absl::StrCat("got the name ", Quoted(key.text), ", want ", Want(NameRule())));
    }
  }
  return maps;
}

const YamlNode* YamlReader::AskList(std::string_view key, std::string_view want, size_t most) {
  const YamlNode* node = Ask(key, false, want);
  if (node == nullptr) return nullptr;
  if (node->kind == YamlNode::Kind::kList && node->items.size() <= most) return node;
  FaultAt(node->mark, PathOf(key),
          absl::StrCat("got ", Describe(*node), ", want a list of at most ", most, " ", View(want)));
  return nullptr;
}

std::vector<YamlReader> YamlReader::Maps(std::string_view key, size_t most) {
  std::vector<YamlReader> maps;
  const YamlNode* list = AskList(key, "mappings", most);
  if (list == nullptr) return maps;
  for (size_t i = 0; i < list->items.size(); ++i) {
    maps.push_back(YamlReader(*this, &list->items[i], absl::StrCat(PathOf(key), "[", i, "]")));
  }
  return maps;
}

std::vector<int32_t> YamlReader::Integers(std::string_view key, const NumberRule& rule, size_t most) {
  std::vector<int32_t> numbers;
  const YamlNode* list = AskList(key, "whole numbers", most);
  if (list == nullptr) return numbers;
  for (size_t i = 0; i < list->items.size(); ++i) {
    const auto value = ReadNumber(list->items[i], rule, true, absl::StrCat(PathOf(key), "[", i, "]"));
    if (value) numbers.push_back(static_cast<int32_t>(*value));
  }
  return numbers;
}

void YamlReader::Finish() {
  if (node_ == nullptr || asked_for_all_) return;
  for (const YamlKey& key : node_->keys) {
    if (std::find(asked_.begin(), asked_.end(), key.text) != asked_.end()) continue;
    std::string_view nearest;
    if (violations_->count() < kMostSuggestions) nearest = NearestWord(key.text, asked_);
    FaultAt(key.mark, path_,
            absl::StrCat("got the unknown key ", Quoted(key.text), ", want ",
                         nearest.empty() ? JoinWords(asked_) : absl::StrCat("\"", View(nearest), "\" perhaps")));
  }
}

}  // namespace scantling
