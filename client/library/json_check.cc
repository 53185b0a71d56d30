// Idea: one streaming pass of a strict JSON parser drives a stack of frames, each holding the message kind it stands
// in. Every key and value is held against the descriptor of that kind, so that all faults of a file are found in one
// pass and nothing is built.
//
//   frame of an object: message kind, the field named last, which fields came already
//   frame of a list:    the repeated field, index of the element
//   frame of something unknown: neither; all inside is passed over
//
// The parser tells no positions. It reads the text through an iterator that leaves its place behind: after an event the
// place is the end of that token, so the next token begins at the first character after it that is no blank, comma or
// colon. Lines are counted forward from the last fault, which keeps the whole linear.
//
// Source: RFC 8259 (JSON); Protocol Buffers language guide (proto3), "JSON Mapping".

#include "client/library/json_check.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <limits>
#include <nlohmann/json.hpp>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "client/library/memory_limit.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using nlohmann::json;

// The message itself nests fewer than ten deep; what is deeper is junk.
constexpr size_t kDeepest = 64;

// Reads the text and leaves behind how far it came.
class PlaceIterator {
 public:
  using iterator_category = std::forward_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  PlaceIterator(const char* at, const char** place) : at_(at), place_(place) {}
  reference operator*() const { return *at_; }
  PlaceIterator& operator++() {
    *place_ = ++at_;
    return *this;
  }
  PlaceIterator operator++(int) {
    const PlaceIterator before = *this;
    ++*this;
    return before;
  }
  friend bool operator==(const PlaceIterator& a, const PlaceIterator& b) { return a.at_ == b.at_; }

 private:
  const char* at_;
  const char** place_;
};

enum class Kind { kNull, kBoolean, kNumber, kText, kObject, kList };

const char* NameOf(Kind kind) {
  switch (kind) {
    case Kind::kNull:
      return "null";
    case Kind::kBoolean:
      return "true or false";
    case Kind::kNumber:
      return "a number";
    case Kind::kText:
      return "a text";
    case Kind::kObject:
      return "an object";
    case Kind::kList:
      return "a list";
  }
  return "";
}

// What the value of a field (or one element of its list) must be.
Kind Wanted(const FieldDescriptor& field) {
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_MESSAGE:
      return Kind::kObject;
    case FieldDescriptor::CPPTYPE_BOOL:
      return Kind::kBoolean;
    case FieldDescriptor::CPPTYPE_STRING:
    case FieldDescriptor::CPPTYPE_ENUM:
      return Kind::kText;
    default:
      return Kind::kNumber;
  }
}

// Protobuf's JSON allows numbers written as texts, and enum values as numbers.
bool Fits(Kind got, const FieldDescriptor& field) {
  const Kind wanted = Wanted(field);
  if (got == wanted) return true;
  if (wanted == Kind::kNumber) return got == Kind::kText;
  return field.cpp_type() == FieldDescriptor::CPPTYPE_ENUM && got == Kind::kNumber;
}

std::string FieldNames(const Descriptor& message) {
  std::string names;
  for (int i = 0; i < message.field_count(); ++i) absl::StrAppend(&names, i == 0 ? "" : ", ", message.field(i)->name());
  return names;
}

// What is wrong with a number where a field stands; empty: nothing. Whole numbers of the proto have at most 32 bits,
// which a double holds exactly.
std::string FaultOfNumber(double number, const FieldDescriptor& field) {
  const bool is_signed = field.cpp_type() == FieldDescriptor::CPPTYPE_INT32;
  if (!is_signed && field.cpp_type() != FieldDescriptor::CPPTYPE_UINT32) return "";
  const double least = is_signed ? std::numeric_limits<int32_t>::min() : 0;
  const double most = is_signed ? std::numeric_limits<int32_t>::max() : std::numeric_limits<uint32_t>::max();
  if (number >= least && number <= most && number == std::floor(number)) return "";
  return absl::StrCat("got ", number, ", want a whole number from ", absl::StrFormat("%.0f to %.0f", least, most));
}

// The same for a text. Protobuf takes "NaN" and the infinities where it wants a number; whether one may stand there is
// the daemon's to say.
std::string FaultOfText(const std::string& text, const FieldDescriptor& field) {
  if (field.cpp_type() == FieldDescriptor::CPPTYPE_ENUM) {
    if (field.enum_type()->FindValueByName(text) != nullptr) return "";
    std::string names;
    for (int i = 0; i < field.enum_type()->value_count(); ++i) {
      absl::StrAppend(&names, i == 0 ? "" : ", ", field.enum_type()->value(i)->name());
    }
    return absl::StrCat("got \"", Printable(text), "\", want one of: ", names);
  }
  if (Wanted(field) != Kind::kNumber) return "";
  double number = 0;
  if (!absl::SimpleAtod(text, &number)) return absl::StrCat("got \"", Printable(text), "\", want a number");
  return FaultOfNumber(number, field);
}

class Checker : public json::json_sax_t {
 public:
  Checker(std::string_view text, const Descriptor& root)
      : text_(text), root_(root), place_(text.data()), counted_(text.data()) {}

  // Instead of checking, stop at the value of this field.
  void Seek(std::string_view field) { sought_ = field; }

  void Run() {
    const PlaceIterator begin(text_.data(), &place_);
    const PlaceIterator end(text_.data() + text_.size(), &place_);
    json::sax_parse(begin, end, this);
  }

  std::vector<JsonFault> TakeFaults() { return std::move(faults_); }
  bool found() const { return found_; }
  JsonPlace found_at() const { return found_at_; }

  bool null() override { return Value(Kind::kNull); }
  bool boolean(bool) override { return Value(Kind::kBoolean); }
  bool number_integer(number_integer_t number) override { return Number(static_cast<double>(number)); }
  bool number_unsigned(number_unsigned_t number) override { return Number(static_cast<double>(number)); }
  bool number_float(number_float_t number, const string_t&) override { return Number(number); }
  bool binary(json::binary_t&) override { return false; }  // JSON has none
  bool string(string_t& value) override {
    tally_.AddText(static_cast<int64_t>(value.size()));
    const FieldDescriptor* field = Take(Kind::kText);
    if (field != nullptr) Complain(FaultOfText(value, *field));
    return EndEvent();
  }
  bool start_object(size_t) override { return Open(Kind::kObject); }
  bool start_array(size_t) override { return Open(Kind::kList); }
  bool end_object() override { return Close(); }
  bool end_array() override { return Close(); }
  bool key(string_t& name) override;
  bool parse_error(size_t position, const std::string& last_token, const json::exception& error) override;

 private:
  struct Frame {
    const Descriptor* message = nullptr;     // objects of a known kind
    const FieldDescriptor* field = nullptr;  // the field whose value, or elements, come next; none: pass over
    bool list = false;
    int64_t index = -1;      // lists: element
    std::vector<bool> seen;  // objects: fields that came, by their index in the message
  };

  // The first character of the token of this event.
  const char* TokenStart() const {
    const char* at = previous_end_;
    while (at < place_ && std::string_view(" \t\r\n,:").find(*at) != std::string_view::npos) ++at;
    return at;
  }

  bool EndEvent() {
    previous_end_ = place_;
    if (tally_.over()) {
      Fault(place_, "", absl::StrCat("would take more than ", kMostShotMemoryBytes >> 20, " MiB once read"));
      return false;
    }
    return faults_.size() < kMostJsonFaults && !found_;
  }

  bool Value(Kind kind) {
    Take(kind);
    tally_.AddNumber();
    return EndEvent();
  }

  bool Number(double number) {
    const FieldDescriptor* field = Take(Kind::kNumber);
    tally_.AddNumber();
    if (field != nullptr) Complain(FaultOfNumber(number, *field));
    return EndEvent();
  }

  void Complain(std::string description) {
    if (!description.empty()) Fault(TokenStart(), Path(), std::move(description));
  }

  const FieldDescriptor* Take(Kind kind);
  bool Open(Kind kind);

  bool Close() {
    stack_.pop_back();
    return EndEvent();
  }

  std::string Path() const;
  JsonPlace PlaceOf(const char* at);
  void Fault(const char* at, std::string field, std::string description) {
    const JsonPlace place = PlaceOf(at);
    faults_.push_back({place.line, place.column, std::move(field), std::move(description)});
  }

  std::string_view text_;
  const Descriptor& root_;
  const char* place_;                        // end of the last token
  const char* previous_end_ = text_.data();  // end of the token before
  const char* counted_;                      // lines and columns are counted up to here
  JsonPlace counted_place_;
  std::vector<Frame> stack_;
  std::vector<JsonFault> faults_;
  MemoryTally tally_;
  std::string_view sought_;
  bool found_ = false;
  JsonPlace found_at_;
};

std::string Checker::Path() const {
  std::string path;
  for (const Frame& frame : stack_) {
    if (frame.list) {
      absl::StrAppend(&path, "[", frame.index, "]");
    } else if (frame.field != nullptr) {
      absl::StrAppend(&path, path.empty() ? "" : ".", frame.field->name());
    }
  }
  return path;
}

JsonPlace Checker::PlaceOf(const char* at) {
  for (; counted_ < at; ++counted_) {
    if (*counted_ == '\n') {
      ++counted_place_.line;
      counted_place_.column = 1;
    } else if ((*counted_ & 0xC0) != 0x80) {  // continuation bytes are no characters of their own
      ++counted_place_.column;
    }
  }
  return counted_place_;
}

bool Checker::key(string_t& name) {
  Frame& frame = stack_.back();
  frame.field = nullptr;
  if (frame.message != nullptr) {
    const FieldDescriptor* field = frame.message->FindFieldByName(name);
    if (field == nullptr) field = frame.message->FindFieldByCamelcaseName(name);
    if (field == nullptr) {
      const std::string path = Path();
      Fault(TokenStart(), absl::StrCat(path, path.empty() ? "" : ".", Printable(name)),
            absl::StrCat("no such field, want one of: ", FieldNames(*frame.message)));
    } else {
      frame.field = field;
      if (frame.seen[field->index()]) Fault(TokenStart(), Path(), "given twice, want it once");
      frame.seen[field->index()] = true;
    }
  }
  return EndEvent();
}

// Holds a value against what its place wants. Returns the field it belongs to; none where it is to be passed over.
const FieldDescriptor* Checker::Take(Kind kind) {
  if (stack_.empty()) {
    if (kind != Kind::kObject) Fault(TokenStart(), "", absl::StrCat("got ", NameOf(kind), ", want an object"));
    return nullptr;
  }
  Frame& frame = stack_.back();
  if (frame.field == nullptr) return nullptr;
  if (frame.list) ++frame.index;
  if (!sought_.empty() && Path() == sought_) {
    found_ = true;
    found_at_ = PlaceOf(TokenStart());
  }
  const bool want_list = frame.field->is_repeated() && !frame.list;
  if (kind == Kind::kNull && !frame.list) return nullptr;  // means: not given
  if (want_list ? kind == Kind::kList : Fits(kind, *frame.field)) return frame.field;
  const Kind wanted = want_list ? Kind::kList : Wanted(*frame.field);
  Fault(TokenStart(), Path(), absl::StrCat("got ", NameOf(kind), ", want ", NameOf(wanted)));
  return nullptr;
}

bool Checker::Open(Kind kind) {
  const bool is_root = stack_.empty();
  const FieldDescriptor* field = Take(kind);
  Frame frame;
  if (kind == Kind::kList) {
    frame.list = true;
    frame.field = field;
  } else if (is_root || field != nullptr) {
    frame.message = is_root ? &root_ : field->message_type();
    frame.seen.assign(frame.message->field_count(), false);
    tally_.AddMessage(*frame.message);
  }
  stack_.push_back(std::move(frame));
  if (stack_.size() > kDeepest) {
    Fault(TokenStart(), "", absl::StrCat("nested more than ", kDeepest, " deep"));
    return false;
  }
  return EndEvent();
}

bool Checker::parse_error(size_t, const std::string&, const json::exception& error) {
  // "[json.exception.parse_error.101] parse error at line 1, column 5: syntax error ...": the place is told by us.
  std::string_view what = error.what();
  if (const size_t bracket = what.find("] "); bracket != what.npos) what.remove_prefix(bracket + 2);
  if (what.starts_with("parse error")) {
    if (const size_t colon = what.find(": "); colon != what.npos) what.remove_prefix(colon + 2);
  }
  Fault(std::max(previous_end_, place_ - (place_ > text_.data())), stack_.empty() ? "" : Path(),
        absl::StrCat("is no JSON: ", Printable(what)));
  return false;
}

}  // namespace

std::vector<JsonFault> CheckJson(std::string_view text, const Descriptor& message) {
  Checker checker(text, message);
  checker.Run();
  return checker.TakeFaults();
}

bool FindInJson(std::string_view text, const Descriptor& message, std::string_view field, JsonPlace& place) {
  Checker checker(text, message);
  checker.Seek(field);
  checker.Run();
  place = checker.found_at();
  return checker.found();
}

}  // namespace scantling::client
