// Every refusal reads "got ..., want ...", so that a person can put it right and a program can show it beside the
// field. What came from outside is quoted with everything unprintable escaped and cut short: a fault must not carry a
// megabyte, nor a terminal's control codes, back to the caller.
//
// The nearest class is the one with the fewest single-byte insertions, deletions and replacements.
// Source: R. Wagner and M. Fischer, The String-to-String Correction Problem, 1974 (two rows of the table are enough).

#include "server/scene/faults.h"

#include <algorithm>
#include <array>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "server/scene/text.h"

namespace scantling {
namespace {

constexpr size_t kQuotedBytes = 64;
constexpr size_t kComparedBytes = 32;  // names of classes are short; a longer one is far from all of them anyway

absl::string_view View(std::string_view text) { return absl::string_view(text.data(), text.size()); }

size_t EditDistance(std::string_view a, std::string_view b) {
  a = a.substr(0, kComparedBytes);
  b = b.substr(0, kComparedBytes);
  std::array<size_t, kComparedBytes + 1> row;
  for (size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (size_t i = 1; i <= a.size(); ++i) {
    size_t diagonal = row[0];
    row[0] = i;
    for (size_t j = 1; j <= b.size(); ++j) {
      const size_t replace = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({replace, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

}  // namespace

std::string QuotedText(std::string_view text) {
  const bool cut = text.size() > kQuotedBytes;
  if (cut) text = text.substr(0, kQuotedBytes);
  // Cutting may split a character, so only text known to be whole keeps its bytes.
  const std::string escaped = IsPlainText(text) ? absl::Utf8SafeCEscape(View(text)) : absl::CHexEscape(View(text));
  return absl::StrCat("\"", escaped, cut ? "...\"" : "\"");
}

std::string GotNumber(double got, std::string_view want) { return absl::StrCat("got ", got, ", want ", View(want)); }

std::string GotInteger(int64_t got, std::string_view want) { return absl::StrCat("got ", got, ", want ", View(want)); }

std::string GotCount(size_t got, std::string_view want) { return absl::StrCat("got ", got, ", want ", View(want)); }

std::string GotText(std::string_view got, std::string_view want) {
  return absl::StrCat("got ", QuotedText(got), ", want ", View(want));
}

std::string UnknownClass(std::string_view name, const ClassCatalogue& catalogue) {
  std::string_view nearest;
  size_t fewest = kComparedBytes + 1;
  for (const ObjectClass& known : catalogue.classes) {
    const size_t edits = EditDistance(name, known.name);
    if (edits < fewest) {
      fewest = edits;
      nearest = known.name;
    }
  }
  return GotText(name, absl::StrCat("a class of the catalogue (nearest: ", QuotedText(nearest), ")"));
}

}  // namespace scantling
