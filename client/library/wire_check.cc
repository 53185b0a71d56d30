// Idea: walk tag by tag with the descriptor at hand, going down into messages, and add up what would be made.
//
//   tag    varint: field number << 3 | kind; kind 0 varint, 1 eight bytes, 2 length and bytes, 5 four bytes
//   lists of numbers come packed (kind 2) or one at a time; protobuf reads both, so both are allowed here
//
// A path is kept as a string that grows and shrinks with the walk; indices count the elements of a repeated message.
//
// Source: Protocol Buffers, "Encoding".

#include "client/library/wire_check.h"

#include <cstdint>
#include <map>
#include <optional>

#include "absl/strings/str_cat.h"
#include "client/library/memory_limit.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;

// 29 bits of field number and three of kind.
constexpr uint64_t kMostTag = 0xFFFFFFFF;

enum Wire { kVarint = 0, kEight = 1, kBytes = 2, kFour = 5 };

bool IsEight(const FieldDescriptor& field) {
  return field.type() == FieldDescriptor::TYPE_DOUBLE || field.type() == FieldDescriptor::TYPE_FIXED64 ||
         field.type() == FieldDescriptor::TYPE_SFIXED64;
}

bool IsFour(const FieldDescriptor& field) {
  return field.type() == FieldDescriptor::TYPE_FLOAT || field.type() == FieldDescriptor::TYPE_FIXED32 ||
         field.type() == FieldDescriptor::TYPE_SFIXED32;
}

class Walk {
 public:
  explicit Walk(std::string_view bytes) : bytes_(bytes) {}

  absl::Status Message(const Descriptor& message, size_t end);

 private:
  absl::Status Field(const Descriptor& message, size_t end, std::map<int, int64_t>& counts);
  absl::Status Lengthy(const FieldDescriptor& field, size_t end);
  absl::Status Packed(const FieldDescriptor& field, size_t stop);
  absl::Status Plain(const FieldDescriptor& field, uint64_t wire, size_t end);

  std::optional<uint64_t> Varint(size_t end) {
    uint64_t value = 0;
    for (int shift = 0; shift < 70 && at_ < end; shift += 7) {
      const auto byte = static_cast<uint8_t>(bytes_[at_++]);
      value |= static_cast<uint64_t>(byte & 0x7F) << (shift & 63);
      if (byte < 0x80) return value;
    }
    return std::nullopt;
  }

  absl::Status Fault(const std::string& what) const {
    return absl::InvalidArgumentError(absl::StrCat("at byte ", at_, path_.empty() ? "" : ", ", path_, ": ", what));
  }

  std::string_view bytes_;
  size_t at_ = 0;
  std::string path_;
  MemoryTally tally_;
};

absl::Status Walk::Message(const Descriptor& message, size_t end) {
  tally_.AddMessage(message);
  if (tally_.over()) {
    return absl::ResourceExhaustedError(
        absl::StrCat("would take more than ", kMostShotMemoryBytes >> 20, " MiB once read"));
  }
  std::map<int, int64_t> counts;  // elements so far, by field number
  while (at_ < end) {
    if (absl::Status status = Field(message, end, counts); !status.ok()) return status;
  }
  return absl::OkStatus();
}

absl::Status Walk::Field(const Descriptor& message, size_t end, std::map<int, int64_t>& counts) {
  const std::optional<uint64_t> tag = Varint(end);
  if (!tag || *tag > kMostTag) return Fault("is no field's tag");
  const auto number = static_cast<int64_t>(*tag >> 3);
  const FieldDescriptor* field =
      number < FieldDescriptor::kMaxNumber ? message.FindFieldByNumber(static_cast<int>(number)) : nullptr;
  if (field == nullptr) {
    return Fault(absl::StrCat("got field number ", number, ", which ", message.full_name(), " does not have"));
  }
  const size_t path_length = path_.size();
  absl::StrAppend(&path_, path_.empty() ? "" : ".", field->name());
  const bool is_message = field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE;
  if (is_message && field->is_repeated()) absl::StrAppend(&path_, "[", counts[field->number()]++, "]");
  const uint64_t wire = *tag & 7;
  const absl::Status status = wire == kBytes ? Lengthy(*field, end) : Plain(*field, wire, end);
  if (status.ok()) path_.resize(path_length);
  return status;
}

absl::Status Walk::Lengthy(const FieldDescriptor& field, size_t end) {
  const std::optional<uint64_t> length = Varint(end);
  if (!length || *length > end - at_) return Fault("cut short");
  const size_t stop = at_ + *length;
  if (field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) return Message(*field.message_type(), stop);
  if (field.cpp_type() == FieldDescriptor::CPPTYPE_STRING) {
    if (field.type() == FieldDescriptor::TYPE_STRING && !IsUtf8(bytes_.substr(at_, *length))) {
      return Fault("is no UTF-8");
    }
    tally_.AddText(static_cast<int64_t>(*length));
  } else {
    if (!field.is_packable()) return Fault("got bytes, want a single number");
    return Packed(field, stop);
  }
  at_ = stop;
  return absl::OkStatus();
}

absl::Status Walk::Packed(const FieldDescriptor& field, size_t stop) {
  if (const size_t width = IsEight(field) ? 8 : IsFour(field) ? 4 : 0; width > 0) {
    if ((stop - at_) % width != 0) return Fault(absl::StrCat("got ", stop - at_, " bytes, want numbers of ", width));
    tally_.AddText(static_cast<int64_t>(stop - at_));
    at_ = stop;
    return absl::OkStatus();
  }
  while (at_ < stop) {
    if (!Varint(stop)) return Fault("cut short in a number");
    tally_.AddNumber();
  }
  return absl::OkStatus();
}

absl::Status Walk::Plain(const FieldDescriptor& field, uint64_t wire, size_t end) {
  const bool is_bytes =
      field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE || field.cpp_type() == FieldDescriptor::CPPTYPE_STRING;
  const uint64_t wanted = IsEight(field) ? kEight : IsFour(field) ? kFour : is_bytes ? kBytes : kVarint;
  if (wire != wanted) return Fault(absl::StrCat("got wire kind ", wire, ", want ", wanted));
  tally_.AddNumber();
  if (wire == kVarint) return Varint(end) ? absl::OkStatus() : Fault("cut short in a number");
  const size_t size = wire == kEight ? 8 : 4;
  if (end - at_ < size) return Fault("cut short in a number");
  at_ += size;
  return absl::OkStatus();
}

}  // namespace

absl::Status CheckWire(std::string_view bytes, const Descriptor& message) {
  Walk walk(bytes);
  return walk.Message(message, bytes.size());
}

}  // namespace scantling::client
