// Finding and guarding the JSON of a glTF file.
//
// GLB: magic "glTF", version 2, total length, then chunks of (length, type, bytes), all little-endian 32-bit; the first
// chunk is JSON, the second, if any, BIN. Source: glTF 2.0 Specification, section 4.
//
// JSON parsers and the code behind them recurse; one linear scan over the bytes bounds nesting and the number of
// values first. It need not be exact on broken JSON: the parser decides about that afterwards.

#include "client/import/json.h"

#include <algorithm>
#include <cstdint>

#include "absl/strings/str_cat.h"
#include "client/import/import_gltf.h"

namespace scantling::import {
namespace {

constexpr uint32_t kJsonChunk = 0x4E4F534A;  // "JSON"
constexpr uint32_t kBinChunk = 0x004E4942;   // "BIN\0"
constexpr size_t kHeaderBytes = 12;
constexpr size_t kChunkHeaderBytes = 8;

uint32_t ReadU32(std::string_view bytes, size_t at) {
  const auto byte = [&](size_t i) { return static_cast<uint32_t>(static_cast<unsigned char>(bytes[at + i])); };
  return byte(0) | byte(1) << 8 | byte(2) << 16 | byte(3) << 24;
}

absl::Status Broken(const std::string& what) { return absl::InvalidArgumentError("GLB " + what); }

// The chunk whose header stands at `at`; what it holds goes to *content.
absl::Status ReadChunk(std::string_view bytes, size_t at, const char* name, uint32_t want, std::string_view* content) {
  if (bytes.size() - at < kChunkHeaderBytes) {
    return Broken(absl::StrCat(name, " chunk: got ", bytes.size() - at, " bytes of its header, want 8"));
  }
  const uint32_t length = ReadU32(bytes, at);
  const uint32_t type = ReadU32(bytes, at + 4);
  if (type != want) return Broken(absl::StrCat("chunk type: got ", type, ", want ", want, " (", name, ")"));
  if (length > bytes.size() - at - kChunkHeaderBytes) {
    return Broken(absl::StrCat(name, " chunk: got ", bytes.size() - at - kChunkHeaderBytes, " bytes, want ", length));
  }
  *content = bytes.substr(at + kChunkHeaderBytes, length);
  return absl::OkStatus();
}

struct Position {
  size_t line = 1, column = 1;
};

Position PositionOf(std::string_view text, size_t at) {
  const std::string_view before = text.substr(0, at);
  const size_t newline = before.rfind('\n');
  return {1 + static_cast<size_t>(std::count(before.begin(), before.end(), '\n')),
          at - (newline == std::string_view::npos ? 0 : newline + 1) + 1};
}

absl::Status At(std::string_view text, size_t at, const std::string& what) {
  const Position position = PositionOf(text, at);
  return absl::InvalidArgumentError(
      absl::StrCat("JSON line ", position.line, ", column ", position.column, ": ", what));
}

absl::Status GuardJson(std::string_view text) {
  int depth = 0;
  int64_t values = 1;
  bool quoted = false;
  for (size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      if (c == '\\') ++i;
      if (c == '"') quoted = false;
    } else if (c == '"') {
      quoted = true;
    } else if (c == '[' || c == '{') {
      ++values;
      if (++depth > kMostGltfJsonDepth) {
        return At(text, i, absl::StrCat("got nesting deeper than ", kMostGltfJsonDepth, ", want at most that"));
      }
    } else if (c == ']' || c == '}') {
      --depth;
    } else if (c == ',' && ++values > kMostGltfJsonValues) {
      return At(text, i, absl::StrCat("got more than ", kMostGltfJsonValues, " values, want at most that many"));
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<GltfParts> SplitGltf(std::string_view bytes) {
  GltfParts parts;
  parts.binary = bytes.substr(0, 4) == "glTF";
  if (!parts.binary) {
    parts.json = bytes;
    return parts;
  }
  if (bytes.size() < kHeaderBytes) return Broken(absl::StrCat("header: got ", bytes.size(), " bytes, want 12"));
  const uint32_t version = ReadU32(bytes, 4);
  const uint32_t length = ReadU32(bytes, 8);
  if (version != 2) return Broken(absl::StrCat("version: got ", version, ", want 2"));
  if (length > bytes.size()) return Broken(absl::StrCat("file: got ", bytes.size(), " bytes, want ", length));
  if (length < kHeaderBytes) return Broken(absl::StrCat("length: got ", length, ", want at least 12"));
  bytes = bytes.substr(0, length);
  if (absl::Status s = ReadChunk(bytes, kHeaderBytes, "JSON", kJsonChunk, &parts.json); !s.ok()) return s;
  const size_t next = kHeaderBytes + kChunkHeaderBytes + (parts.json.size() + 3) / 4 * 4;
  if (next < bytes.size()) {
    if (absl::Status s = ReadChunk(bytes, next, "BIN", kBinChunk, &parts.bin); !s.ok()) return s;
  }
  return parts;
}

absl::StatusOr<nlohmann::json> ParseGuarded(std::string_view text) {
  if (static_cast<int64_t>(text.size()) > kMostGltfJsonBytes) {
    return absl::InvalidArgumentError(
        absl::StrCat("JSON: got ", text.size(), " bytes, want at most ", kMostGltfJsonBytes));
  }
  if (absl::Status s = GuardJson(text); !s.ok()) return s;
  try {
    return nlohmann::json::parse(text.begin(), text.end());
  } catch (const nlohmann::json::parse_error& error) {
    // The parser's own account has a line, but not for every kind of fault; its byte is always there.
    return At(text, error.byte == 0 ? 0 : error.byte - 1, "got something else, want well-formed JSON in UTF-8");
  } catch (const nlohmann::json::exception& error) {
    return absl::InvalidArgumentError(absl::StrCat("JSON: got a number out of range, want one a double can hold"));
  }
}

}  // namespace scantling::import
