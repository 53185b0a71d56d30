// YAML text -> bounded tree, the only place where yaml-cpp is met.
//
// yaml-cpp can build a tree itself, but its tree resolves aliases (a few hundred bytes may then stand for 2^60 nodes),
// keeps the first of two equal keys, and knows no bound on size. Its event parser does none of that: this file listens
// to the events and builds the tree with a stack of open collections.
//
// Layout: `open_` holds the collections that have started and not ended, outermost first, each a YamlNode by value; an
// ended collection is moved into the one below it. A map alternates between waiting for a key and for its value
// (`pending_key`). A fault that leaves the tree meaningful (tag, anchor, duplicate key) is noted and parsing goes on;
// one that does not (too deep, too many, a key that is a list) throws Refusal through yaml-cpp, whose state is all
// RAII.

#include "server/policy/yaml_tree.h"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/mark.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <exception>
#include <istream>
#include <streambuf>
#include <utility>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "server/policy/utf8.h"

namespace scantling {
namespace {

constexpr size_t kMostShownBytes = 60;

YamlMark MarkOf(const YAML::Mark& mark) { return {std::max(mark.line, 0) + 1, std::max(mark.column, 0) + 1}; }

// Ends the parse: what follows could not be understood.
struct Refusal {
  YamlMark mark;
  std::string description;
};

class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(std::string_view file_name, Violations& violations) : file_name_(file_name), violations_(violations) {}

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ > 1) throw Refusal{MarkOf(mark), "got a second document, want one document a file"};
  }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    CheckAnchor(mark, anchor);
    Place(NewNode(mark, YamlNode::Kind::kNothing));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    Note(MarkOf(mark), "got an alias, want the value written out");
    Place(NewNode(mark, YamlNode::Kind::kNothing));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    CheckAnchor(mark, anchor);
    CheckTag(mark, tag);
    YamlNode node = NewNode(mark, YamlNode::Kind::kScalar);
    node.quoted = tag == "!";  // yaml-cpp's mark of a scalar that was not plain
    node.text = value;
    // Escapes in double quotes can write what the text itself may not hold.
    if (const Utf8Fault fault = FindUtf8Fault(value); fault.found) Note(node.mark, fault.description);
    Place(std::move(node));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    Open(mark, tag, anchor, YamlNode::Kind::kList);
  }
  void OnSequenceEnd() override { Close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    Open(mark, tag, anchor, YamlNode::Kind::kMap);
  }
  void OnMapEnd() override { Close(); }

  YamlNode TakeRoot() { return std::move(root_); }

 private:
  struct Collection {
    YamlNode node;
    bool pending_key = false;  // map: the last of node.keys still waits for its value
  };

  void Note(YamlMark mark, std::string description) {
    violations_.Add(PlaceOf(file_name_, mark), std::move(description));
  }

  YamlNode NewNode(const YAML::Mark& mark, YamlNode::Kind kind) {
    if (++nodes_ > kMostYamlNodes) {
      throw Refusal{MarkOf(mark), absl::StrCat("got more values than that, want at most ", kMostYamlNodes, " a file")};
    }
    YamlNode node;
    node.kind = kind;
    node.mark = MarkOf(mark);
    return node;
  }

  void CheckAnchor(const YAML::Mark& mark, YAML::anchor_t anchor) {
    if (anchor != 0) Note(MarkOf(mark), "got an anchor, want none: values are written out here");
  }

  void CheckTag(const YAML::Mark& mark, const std::string& tag) {
    if (tag.empty() || tag == "?" || tag == "!") return;
    Note(MarkOf(mark), absl::StrCat("got the tag ", Quoted(tag), ", want none"));
  }

  bool WaitsForKey() const {
    return !open_.empty() && open_.back().node.kind == YamlNode::Kind::kMap && !open_.back().pending_key;
  }

  void Open(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor, YamlNode::Kind kind) {
    CheckAnchor(mark, anchor);
    CheckTag(mark, tag);
    if (WaitsForKey()) throw Refusal{MarkOf(mark), "got a list or mapping as a key, want a word"};
    if (open_.size() >= kMostYamlDepth) {
      throw Refusal{MarkOf(mark), absl::StrCat("got deeper nesting, want at most ", kMostYamlDepth, " levels")};
    }
    open_.push_back({NewNode(mark, kind)});
  }

  void Close() {
    YamlNode node = std::move(open_.back().node);
    open_.pop_back();
    if (node.kind == YamlNode::Kind::kMap) NoteDuplicates(node);
    Place(std::move(node));
  }

  void Place(YamlNode node) {
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    Collection& into = open_.back();
    if (WaitsForKey()) {
      if (node.kind != YamlNode::Kind::kScalar) throw Refusal{node.mark, "got no key, want a word"};
      into.node.keys.push_back({std::move(node.text), node.mark});
      into.pending_key = true;
      return;
    }
    // yaml-cpp marks a value that is not there at whatever comes next; its key is where a reader would look.
    if (into.pending_key && node.kind == YamlNode::Kind::kNothing) node.mark = into.node.keys.back().mark;
    into.node.items.push_back(std::move(node));
    into.pending_key = false;
  }

  void NoteDuplicates(const YamlNode& map) {
    std::vector<const YamlKey*> sorted;
    sorted.reserve(map.keys.size());
    for (const YamlKey& key : map.keys) sorted.push_back(&key);
    std::stable_sort(sorted.begin(), sorted.end(),
                     [](const YamlKey* a, const YamlKey* b) { return a->text < b->text; });
    for (size_t i = 1; i < sorted.size(); ++i) {
      if (sorted[i]->text != sorted[i - 1]->text) continue;
      Note(sorted[i]->mark,
           absl::StrCat("got the key ", Quoted(sorted[i]->text), " again, want it once: it stands at line ",
                        sorted[i - 1]->mark.line, " already"));
    }
  }

  std::string file_name_;
  Violations& violations_;
  std::vector<Collection> open_;
  YamlNode root_;
  size_t nodes_ = 0;
  int documents_ = 0;
};

// A stream over the caller's bytes, without a copy.
class ViewBuffer : public std::streambuf {
 public:
  explicit ViewBuffer(std::string_view text) {
    char* begin = const_cast<char*>(text.data());  // streambuf's interface; a get area is only read
    setg(begin, begin, begin + text.size());
  }
};

void RunParser(std::string_view text, TreeBuilder& builder) {
  ViewBuffer buffer(text);
  std::istream stream(&buffer);
  YAML::Parser parser(stream);
  while (parser.HandleNextDocument(builder)) {
  }
}

bool CheckBytes(std::string_view text, std::string_view file_name, Violations& violations) {
  if (text.size() > kMostYamlBytes) {
    violations.Add(PlaceOf(file_name, {}),
                   absl::StrCat("got more than ", kMostYamlBytes, " bytes, want at most that many in one file"));
    return false;
  }
  const Utf8Fault fault = FindUtf8Fault(text);
  if (fault.found) violations.Add(PlaceOf(file_name, {fault.line, fault.column}), fault.description);
  return !fault.found;
}

}  // namespace

std::optional<YamlNode> ParseYaml(std::string_view text, std::string_view file_name, Violations& violations) {
  const size_t faults_before = violations.count();
  if (!CheckBytes(text, file_name, violations)) return std::nullopt;
  TreeBuilder builder(file_name, violations);
  try {
    RunParser(text, builder);
  } catch (const Refusal& refusal) {
    violations.Add(PlaceOf(file_name, refusal.mark), refusal.description);
  } catch (const YAML::Exception& error) {
    violations.Add(PlaceOf(file_name, MarkOf(error.mark)), absl::StrCat("got text that is not YAML (", error.msg, ")"));
  } catch (const std::exception& error) {
    violations.Add(PlaceOf(file_name, {}), absl::StrCat("got text that could not be parsed (", error.what(), ")"));
  }
  if (violations.count() != faults_before) return std::nullopt;
  return builder.TakeRoot();
}

std::string PlaceOf(std::string_view file_name, YamlMark mark) {
  return absl::StrCat(absl::string_view(file_name.data(), file_name.size()), ":", mark.line, ":", mark.column);
}

std::string Quoted(std::string_view text) {
  const bool cut = text.size() > kMostShownBytes;
  if (cut) text = text.substr(0, kMostShownBytes);
  return absl::StrCat("\"", absl::Utf8SafeCHexEscape(absl::string_view(text.data(), text.size())), "\"",
                      cut ? "..." : "");
}

}  // namespace scantling
