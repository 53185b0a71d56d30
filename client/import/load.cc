// Guard, check, trim, then tinygltf.
//
// The document is parsed and checked first (json.h, schema.h); what the import never reads is dropped; what remains is
// written out again, with the BIN chunk if there is one, and given to tinygltf, which decodes data URIs, asks for .bin
// files through the callbacks below, and builds its model. tinygltf is told a made-up name for each such file and never
// sees the real one, so the callbacks are the only way to a file: a relative path without "..", below the file's own
// folder, a regular file. A .bin longer than its buffer is legal and is cut (section 3.6.1).

#include "client/import/load.h"

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "client/import/accessor.h"
#include "client/import/import_gltf.h"
#include "client/import/json.h"

namespace scantling::import {
namespace {

constexpr size_t kShownOfError = 200;  // characters of a tinygltf message; it repeats whole data URIs

struct BinFile {
  std::string where;  // "buffers[2].uri"
  std::string name;   // as the file gives it, decoded
  size_t length = 0;  // bytes its buffer wants
};

// What the callbacks may read, by the made-up names, and why they refused.
struct BinFiles {
  std::optional<std::string> folder;
  std::map<std::string, BinFile> files;
  Notes faults;
};

bool StaysBelow(const std::string& name) {
  const std::filesystem::path path(name);
  if (path.empty() || path.is_absolute() || name.find(':') != std::string::npos) return false;
  return std::none_of(path.begin(), path.end(), [](const auto& part) { return part == ".."; });
}

bool FileExists(const std::string& made_up, void* user) {
  BinFiles& bins = *static_cast<BinFiles*>(user);
  const auto found = bins.files.find(made_up);
  if (found == bins.files.end()) return false;  // tinygltf tries a second folder
  const BinFile& file = found->second;
  const std::string shown = absl::StrCat("got '", file.name.substr(0, kShownOfError), "', want ");
  std::error_code error;
  if (!bins.folder.has_value()) {
    bins.faults.Add(file.where, shown + "its bytes inside the file, as only bytes were given");
  } else if (!StaysBelow(file.name)) {
    bins.faults.Add(file.where, shown + "a path below the file's own folder, or base64 data of a known kind");
  } else if (!std::filesystem::is_regular_file(std::filesystem::path(*bins.folder) / file.name, error)) {
    bins.faults.Add(file.where, shown + "a file that exists beside the glTF file");
  } else {
    return true;
  }
  return false;
}

std::string ExpandPath(const std::string& name, void*) { return name; }

bool ReadBin(std::vector<unsigned char>* out, std::string*, const std::string& made_up, void* user) {
  BinFiles& bins = *static_cast<BinFiles*>(user);
  const BinFile& file = bins.files.at(made_up);
  const std::filesystem::path path = std::filesystem::path(*bins.folder) / file.name;
  std::error_code error;
  const uintmax_t size = std::filesystem::file_size(path, error);
  if (error || size < file.length) {  // before making room for what is not there
    bins.faults.Add(file.where,
                    absl::StrCat("got ", error ? 0 : size, " bytes in '", file.name, "', want ", file.length));
    return false;
  }
  std::ifstream stream(path, std::ios::binary);
  out->resize(file.length);
  stream.read(reinterpret_cast<char*>(out->data()), static_cast<std::streamsize>(file.length));
  if (stream.gcount() == static_cast<std::streamsize>(file.length)) return true;
  bins.faults.Add(file.where, absl::StrCat("got '", file.name, "', want a file that can be read"));
  return false;
}

bool NoImages(tinygltf::Image*, const int, std::string*, std::string*, int, int, const unsigned char*, int, void*) {
  return true;
}

int HexDigit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

// Percent-decoding of RFC 3986; a "%" that starts no escape stays.
std::string DecodeUri(const std::string& uri) {
  std::string decoded;
  for (size_t i = 0; i < uri.size(); ++i) {
    const bool escaped = uri[i] == '%' && i + 2 < uri.size() && HexDigit(uri[i + 1]) >= 0 && HexDigit(uri[i + 2]) >= 0;
    decoded += escaped ? static_cast<char>(HexDigit(uri[i + 1]) * 16 + HexDigit(uri[i + 2])) : uri[i];
    if (escaped) i += 2;
  }
  return decoded;
}

// Lists the buffers in files of their own and gives them made-up names in the document. What tinygltf does not know as
// base64 data is listed too, and refused as a path.
void ListBinFiles(nlohmann::json* document, BinFiles* bins) {
  const auto buffers = document->find("buffers");
  if (buffers == document->end()) return;
  for (size_t i = 0; i < buffers->size(); ++i) {
    nlohmann::json& buffer = (*buffers)[i];
    if (!buffer.contains("uri")) continue;
    const std::string uri = buffer["uri"].get<std::string>();
    if (tinygltf::IsDataURI(uri)) continue;
    const std::string made_up = absl::StrCat("buffer_", i);
    bins->files[made_up] = {absl::StrCat("buffers[", i, "].uri"), DecodeUri(uri), buffer["byteLength"].get<size_t>()};
    buffer["uri"] = made_up;
  }
}

void AppendU32(uint32_t value, std::string* out) {
  for (int shift = 0; shift < 32; shift += 8) out->push_back(static_cast<char>(value >> shift & 255));
}

void AppendChunk(const char* type, std::string_view content, char padding, std::string* out) {
  const size_t padded = (content.size() + 3) / 4 * 4;
  AppendU32(static_cast<uint32_t>(padded), out);
  out->append(type, 4);
  out->append(content);
  out->append(padded - content.size(), padding);
}

std::string PackGlb(const std::string& json, std::string_view bin) {
  std::string glb = "glTF";
  glb.reserve(json.size() + bin.size() + 36);
  AppendU32(2, &glb);
  AppendU32(0, &glb);  // the length, once it is known
  AppendChunk("JSON", json, ' ', &glb);
  if (!bin.empty()) AppendChunk("BIN\0", bin, '\0', &glb);
  std::string length;
  AppendU32(static_cast<uint32_t>(glb.size()), &length);
  return glb.replace(8, 4, length);
}

absl::Status RunTinygltf(const std::string& json, const GltfParts& parts, BinFiles* bins, tinygltf::Model* model) {
  tinygltf::TinyGLTF loader;
  loader.SetImageLoader(NoImages, nullptr);
  loader.SetFsCallbacks({FileExists, ExpandPath, ReadBin, nullptr, bins});
  std::string error, warning;
  bool loaded = false;
  try {
    if (parts.binary) {
      const std::string glb = PackGlb(json, parts.bin);
      loaded = loader.LoadBinaryFromMemory(model, &error, &warning, reinterpret_cast<const unsigned char*>(glb.data()),
                                           static_cast<unsigned>(glb.size()), "");
    } else {
      loaded = loader.LoadASCIIFromString(model, &error, &warning, json.data(), static_cast<unsigned>(json.size()), "");
    }
  } catch (const std::exception& exception) {  // the JSON library's, or out of memory
    error = exception.what();
  }
  if (!bins->faults.empty()) return FaultsStatus(bins->faults);
  if (loaded) return absl::OkStatus();
  return absl::InvalidArgumentError(absl::StrCat("got what tinygltf cannot read: ", error.substr(0, kShownOfError)));
}

}  // namespace

absl::Status FaultsStatus(const Notes& faults) {
  return absl::InvalidArgumentError(absl::StrJoin(faults.Lines(), "\n"));
}

absl::StatusOr<std::string> ReadFileBytes(const std::string& path) {
  std::error_code error;
  if (!std::filesystem::exists(path, error)) return absl::NotFoundError(absl::StrCat(path, ": got no such file"));
  if (!std::filesystem::is_regular_file(path, error)) {
    return absl::InvalidArgumentError(absl::StrCat(path, ": got something else, want a regular file"));
  }
  const uintmax_t size = std::filesystem::file_size(path, error);
  if (error || size > static_cast<uintmax_t>(kMostGltfBytes)) {
    return absl::InvalidArgumentError(absl::StrCat(path, ": got ", size, " bytes, want at most ", kMostGltfBytes));
  }
  std::ifstream stream(path, std::ios::binary);
  if (!stream) return absl::NotFoundError(absl::StrCat(path, ": got a file that cannot be opened"));
  std::string bytes(size, '\0');
  stream.read(bytes.data(), static_cast<std::streamsize>(size));
  bytes.resize(static_cast<size_t>(stream.gcount()));
  return bytes;
}

absl::StatusOr<LoadedGltf> LoadGltf(std::string_view bytes, const std::optional<std::string>& folder) {
  const absl::StatusOr<GltfParts> parts = SplitGltf(bytes);
  if (!parts.ok()) return parts.status();
  absl::StatusOr<nlohmann::json> document = ParseGuarded(parts->json);
  if (!document.ok()) return document.status();
  Notes faults;
  CheckSchema(*document, *parts, &faults);
  if (!faults.empty()) return FaultsStatus(faults);
  LoadedGltf loaded;
  loaded.dropped = DropUnread(&*document);
  BinFiles bins;
  bins.folder = folder;
  ListBinFiles(&*document, &bins);
  const std::string json = document->dump();
  *document = nullptr;  // before tinygltf builds its own
  if (absl::Status s = RunTinygltf(json, *parts, &bins, &loaded.model); !s.ok()) return s;
  CheckAccessors(loaded.model, &faults);
  if (!faults.empty()) return FaultsStatus(faults);
  return loaded;
}

}  // namespace scantling::import
