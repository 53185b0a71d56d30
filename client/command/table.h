// A table of text for people: columns as wide as what is in them, measured in columns of a terminal, not in bytes.

#ifndef SCANTLING_CLIENT_COMMAND_TABLE_H_
#define SCANTLING_CLIENT_COMMAND_TABLE_H_

#include <string>
#include <string_view>
#include <vector>

namespace scantling::client {

enum class Align { kLeft, kRight };

struct Column {
  std::string heading;
  Align align = Align::kLeft;
  int most_columns = 0;  // longer cells are cut with "…"; 0: never. Of the last column: where its text is wrapped
};

// Lines of at most this many columns, as far as the cells allow: what fits beside a shot on a wide screen.
inline constexpr int kLineColumns = 118;

// Same rows, same text, whatever the terminal. Cells are made printable (utf8.h). Not thread-safe.
class TextTable {
 public:
  explicit TextTable(std::vector<Column> columns);

  // One row. Missing cells are empty; cells beyond the columns are dropped.
  void AddRow(std::vector<std::string> cells);

  bool empty() const { return rows_.empty(); }

  // The heading and all rows, each line indented by two columns and ended by a line break, no blanks at line ends. A
  // last column on the left is wrapped between words to keep within kLineColumns. Linear in the text.
  std::string Text() const;

 private:
  std::vector<int> Widths() const;
  void AppendLine(const std::vector<std::string>& cells, const std::vector<int>& widths, std::string& out) const;

  std::vector<Column> columns_;
  std::vector<std::vector<std::string>> rows_;
};

// `text` broken between words into lines of at most `columns`; a longer word stands alone on its line. At least one
// line.
std::vector<std::string> Wrapped(std::string_view text, int columns);

// A paragraph: `text` wrapped to kLineColumns, each line indented by two columns and ended by a line break.
std::string Paragraph(std::string_view text);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_TABLE_H_
