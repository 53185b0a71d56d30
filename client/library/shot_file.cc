// Idea: read bytes with a limit, tell the form, check it strictly (json_check, wire_check), and only then let protobuf
// build the message. What protobuf's JSON reader still refuses is a single value; its message names the field, and the
// field's line is looked up.
//
// Reading goes through POSIX calls rather than streams: they tell why a file cannot be read.

#include "client/library/shot_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/string_view.h"
#include "client/library/faults.h"
#include "client/library/json_check.h"
#include "client/library/utf8.h"
#include "client/library/wire_check.h"
#include "google/protobuf/io/coded_stream.h"
#include "google/protobuf/io/zero_copy_stream_impl_lite.h"
#include "google/protobuf/util/json_util.h"

namespace scantling::client {
namespace {

constexpr char kStandardStream[] = "-";

absl::string_view Absl(std::string_view text) { return {text.data(), text.size()}; }

absl::Status ErrnoStatus(const std::string& what, int error) {
  const std::string message = absl::StrCat(what, ": ", std::strerror(error));
  if (error == ENOENT || error == ENOTDIR) return absl::NotFoundError(message);
  if (error == EACCES || error == EPERM) return absl::PermissionDeniedError(message);
  return absl::InvalidArgumentError(message);
}

// A file descriptor that closes itself; standard input and output stay open.
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ > STDERR_FILENO) close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return fd_; }

 private:
  int fd_;
};

absl::StatusOr<std::string> ReadAll(int fd, std::string_view name) {
  std::string content;
  std::string piece(size_t{1} << 20, '\0');
  while (true) {
    const ssize_t got = read(fd, piece.data(), piece.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return ErrnoStatus(absl::StrCat("cannot read ", Absl(name)), errno);
    if (got == 0) return content;
    content.append(piece, 0, static_cast<size_t>(got));
    if (static_cast<int64_t>(content.size()) > kMostBinaryBytes) {
      return absl::ResourceExhaustedError(
          absl::StrCat(Absl(name), ": got more than ", kMostBinaryBytes, " bytes, want at most that"));
    }
  }
}

absl::Status WriteAll(int fd, std::string_view content, std::string_view name) {
  while (!content.empty()) {
    const ssize_t put = write(fd, content.data(), content.size());
    if (put < 0 && errno == EINTR) continue;
    if (put < 0) return ErrnoStatus(absl::StrCat("cannot write ", Absl(name)), errno);
    content.remove_prefix(static_cast<size_t>(put));
  }
  return absl::OkStatus();
}

absl::Status JsonFaults(const std::vector<JsonFault>& faults, std::string_view name) {
  google::rpc::BadRequest details;
  for (const JsonFault& fault : faults) {
    auto* violation = details.add_field_violations();
    violation->set_field(
        absl::StrCat(Absl(name), ":", fault.line, ":", fault.column, fault.field.empty() ? "" : ": ", fault.field));
    violation->set_description(fault.description);
  }
  const bool more = faults.size() >= kMostJsonFaults;
  return WithFaults(absl::InvalidArgumentError(absl::StrCat(Absl(name), " is no shot in JSON: ", faults.size(),
                                                            more ? " faults or more" : " fault(s)")),
                    details);
}

// What protobuf says, "(objects[1].box) min_m: Cannot find field." or "(frames.first): invalid value ...", taken apart.
absl::Status ProtobufJsonFault(std::string_view content, std::string_view said, std::string_view name) {
  JsonFault fault;
  fault.description = Printable(said);
  const size_t close = said.find(')');
  if (said.starts_with("(") && close != said.npos) {
    fault.field = std::string(said.substr(1, close - 1));
    std::string_view rest = said.substr(close + 1);
    rest.remove_prefix(std::min(rest.find_first_not_of(": "), rest.size()));
    fault.description = Printable(rest);
    JsonPlace place;
    if (FindInJson(content, *v1::Shot::descriptor(), fault.field, place)) {
      fault.line = place.line;
      fault.column = place.column;
    }
  }
  return JsonFaults({fault}, name);
}

absl::StatusOr<v1::Shot> ParseJson(std::string_view content, std::string_view name) {
  if (static_cast<int64_t>(content.size()) > kMostJsonBytes) {
    return absl::ResourceExhaustedError(absl::StrCat(Absl(name), ": got ", content.size(),
                                                     " bytes of JSON, want at most ", kMostJsonBytes,
                                                     "; large shots go in the binary form"));
  }
  const std::vector<JsonFault> faults = CheckJson(content, *v1::Shot::descriptor());
  if (!faults.empty()) return JsonFaults(faults, name);
  v1::Shot shot;
  const auto parsed = google::protobuf::util::JsonStringToMessage({content.data(), content.size()}, &shot);
  if (!parsed.ok()) {
    const std::string said(parsed.message().data(), parsed.message().size());
    return ProtobufJsonFault(content, said, name);
  }
  return shot;
}

absl::StatusOr<v1::Shot> ParseBinary(std::string_view content, std::string_view name) {
  if (static_cast<int64_t>(content.size()) > kMostBinaryBytes) {
    return absl::ResourceExhaustedError(
        absl::StrCat(Absl(name), ": got ", content.size(), " bytes, want at most ", kMostBinaryBytes));
  }
  const absl::Status checked = CheckWire(content, *v1::Shot::descriptor());
  v1::Shot shot;
  if (checked.ok() && shot.ParseFromArray(content.data(), static_cast<int>(content.size()))) return shot;
  const std::string why = checked.ok() ? "cannot be parsed" : std::string(checked.message());
  if (absl::IsResourceExhausted(checked)) return absl::ResourceExhaustedError(absl::StrCat(Absl(name), ": ", why));
  google::rpc::BadRequest details;
  details.add_field_violations()->set_field(std::string(name));
  details.mutable_field_violations(0)->set_description(why);
  return WithFaults(absl::InvalidArgumentError(absl::StrCat(Absl(name), " is no shot in binary form")), details);
}

}  // namespace

std::optional<ShotForm> FormByName(std::string_view name) {
  if (name.ends_with(".json") || name.ends_with(".JSON")) return ShotForm::kJson;
  for (const char* ending : {".pb", ".bin", ".binpb"}) {
    if (name.ends_with(ending)) return ShotForm::kBinary;
  }
  return std::nullopt;
}

ShotForm FormOf(std::string_view name, std::string_view content) {
  if (const std::optional<ShotForm> told = FormByName(name)) return *told;
  const size_t first = content.find_first_not_of(" \t\r\n");
  return first == content.npos || content[first] == '{' ? ShotForm::kJson : ShotForm::kBinary;
}

absl::StatusOr<v1::Shot> ParseShot(std::string_view content, ShotForm form, std::string_view name) {
  const std::string shown = Printable(name);
  if (content.empty()) return absl::InvalidArgumentError(absl::StrCat(shown, " is empty, want a shot"));
  return form == ShotForm::kJson ? ParseJson(content, shown) : ParseBinary(content, shown);
}

absl::StatusOr<std::string> ReadContent(const std::string& name) {
  const bool is_input = name == kStandardStream;
  const Descriptor file(is_input ? STDIN_FILENO : open(name.c_str(), O_RDONLY | O_CLOEXEC));
  if (file.get() < 0) return ErrnoStatus(absl::StrCat("cannot open ", Printable(name)), errno);
  return ReadAll(file.get(), is_input ? "standard input" : Printable(name));
}

absl::StatusOr<v1::Shot> ReadShot(const std::string& name) {
  const absl::StatusOr<std::string> content = ReadContent(name);
  if (!content.ok()) return content.status();
  const bool is_input = name == kStandardStream;
  return ParseShot(*content, FormOf(is_input ? "" : name, *content), is_input ? "standard input" : name);
}

absl::StatusOr<std::string> SerializeShot(const v1::Shot& shot, ShotForm form) {
  std::string out;
  if (form == ShotForm::kJson) {
    google::protobuf::util::JsonPrintOptions options;
    options.add_whitespace = true;
    options.preserve_proto_field_names = true;
    const auto printed = google::protobuf::util::MessageToJsonString(shot, &out, options);
    if (!printed.ok()) return absl::InvalidArgumentError(printed.ToString());
    return out;
  }
  google::protobuf::io::StringOutputStream stream(&out);
  google::protobuf::io::CodedOutputStream coded(&stream);
  coded.SetSerializationDeterministic(true);
  if (!shot.SerializeToCodedStream(&coded)) return absl::InvalidArgumentError("the shot has no binary form");
  coded.Trim();
  return out;
}

absl::Status WriteContent(std::string_view content, const std::string& name) {
  if (name == kStandardStream) return WriteAll(STDOUT_FILENO, content, "standard output");
  struct stat about = {};
  const bool is_special = stat(name.c_str(), &about) == 0 && !S_ISREG(about.st_mode);  // a pipe, a device
  const std::string aside = is_special ? name : absl::StrCat(name, ".part-", getpid());
  const int flags = O_WRONLY | O_CLOEXEC | (is_special ? 0 : O_CREAT | O_EXCL);
  const Descriptor file(open(aside.c_str(), flags, 0666));
  if (file.get() < 0) return ErrnoStatus(absl::StrCat("cannot write ", Printable(name)), errno);
  absl::Status written = WriteAll(file.get(), content, Printable(name));
  if (is_special) return written;
  if (written.ok() && rename(aside.c_str(), name.c_str()) != 0) {
    written = ErrnoStatus(absl::StrCat("cannot write ", Printable(name)), errno);
  }
  if (!written.ok()) unlink(aside.c_str());
  return written;
}

}  // namespace scantling::client
