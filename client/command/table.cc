// Idea: keep the cells, measure every column, then pad. Only the last column may wrap: what is wrapped stands under its
// own beginning, so the columns before it stay readable from top to bottom.
//
//   indent | cell pad | gap | cell pad | gap | last cell, wrapped

#include "client/command/table.h"

#include <algorithm>
#include <utility>

#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr int kIndentColumns = 2;
constexpr int kGapColumns = 2;
// A wrapped column is never narrower, even where the line gets longer for it.
constexpr int kLeastWrapColumns = 30;

std::string Padded(const std::string& cell, int width, Align align) {
  const std::string blanks(static_cast<size_t>(std::max(0, width - ColumnsOf(cell))), ' ');
  return align == Align::kLeft ? cell + blanks : blanks + cell;
}

void TrimRight(std::string& line) { line.erase(line.find_last_not_of(' ') + 1); }

}  // namespace

std::vector<std::string> Wrapped(std::string_view text, int columns) {
  std::vector<std::string> lines(1);
  while (!text.empty()) {
    const size_t blank = text.find(' ');
    const std::string_view word = text.substr(0, blank);
    text.remove_prefix(blank == text.npos ? text.size() : blank + 1);
    if (word.empty()) continue;
    if (!lines.back().empty() && ColumnsOf(lines.back()) + 1 + ColumnsOf(word) > columns) lines.emplace_back();
    if (!lines.back().empty()) lines.back() += ' ';
    lines.back() += word;
  }
  return lines;
}

std::string Paragraph(std::string_view text) {
  std::string out;
  for (const std::string& line : Wrapped(text, kLineColumns - kIndentColumns)) {
    out += std::string(kIndentColumns, ' ') + line + '\n';
  }
  return out;
}

TextTable::TextTable(std::vector<Column> columns) : columns_(std::move(columns)) {}

void TextTable::AddRow(std::vector<std::string> cells) {
  cells.resize(columns_.size());
  for (size_t i = 0; i < cells.size(); ++i) {
    cells[i] = Printable(cells[i]);
    if (columns_[i].most_columns > 0 && i + 1 < columns_.size()) {
      cells[i] = CutToColumns(cells[i], columns_[i].most_columns);
    }
  }
  rows_.push_back(std::move(cells));
}

std::vector<int> TextTable::Widths() const {
  std::vector<int> widths;
  for (size_t i = 0; i < columns_.size(); ++i) {
    int width = ColumnsOf(columns_[i].heading);
    for (const auto& row : rows_) width = std::max(width, ColumnsOf(row[i]));
    widths.push_back(width);
  }
  if (columns_.empty() || columns_.back().align == Align::kRight) return widths;
  int before = kIndentColumns;
  for (size_t i = 0; i + 1 < widths.size(); ++i) before += widths[i] + kGapColumns;
  widths.back() = std::min(widths.back(), std::max(kLeastWrapColumns, kLineColumns - before));
  return widths;
}

void TextTable::AppendLine(const std::vector<std::string>& cells, const std::vector<int>& widths,
                           std::string& out) const {
  std::string line(kIndentColumns, ' ');
  for (size_t i = 0; i + 1 < cells.size(); ++i) {
    line += Padded(cells[i], widths[i], columns_[i].align) + std::string(kGapColumns, ' ');
  }
  const std::string margin(static_cast<size_t>(ColumnsOf(line)), ' ');
  const bool wraps = columns_.back().align == Align::kLeft;
  const std::vector<std::string> last =
      wraps ? Wrapped(cells.back(), widths.back()) : std::vector{Padded(cells.back(), widths.back(), Align::kRight)};
  for (size_t i = 0; i < last.size(); ++i) {
    std::string whole = (i == 0 ? line : margin) + last[i];
    TrimRight(whole);
    out += whole + '\n';
  }
}

std::string TextTable::Text() const {
  if (columns_.empty()) return "";
  const std::vector<int> widths = Widths();
  std::vector<std::string> headings;
  for (const Column& column : columns_) headings.push_back(column.heading);
  std::string out;
  AppendLine(headings, widths, out);
  for (const auto& row : rows_) AppendLine(row, widths, out);
  return out;
}

}  // namespace scantling::client
