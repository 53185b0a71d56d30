// Idea: a record is cells with commas between them, up to a line end that stands outside quotes. Cells are read one by
// one; the line is counted along the way, because a quoted cell may span several.
//
// Quotes that stand where none may (in the middle of a plain cell, or text after a closing quote) are faults, not
// guesses: a table that was cut or edited by hand must not be read as something else.
//
// Source: RFC 4180, section 2.

#include "client/command/csv_read.h"

#include <algorithm>
#include <utility>

namespace scantling::client {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

}  // namespace

CsvReader::CsvReader(std::string_view text) : rest_(text) {
  if (rest_.starts_with(kByteOrderMark)) rest_.remove_prefix(kByteOrderMark.size());
}

bool CsvReader::TakeLineEnd() {
  const size_t length = rest_.starts_with("\r\n") ? 2 : rest_.starts_with("\n") ? 1 : 0;
  rest_.remove_prefix(length);
  line_ += length > 0;
  return length > 0;
}

// From behind the opening quote to behind the closing one.
std::string CsvReader::Quoted(CsvRow& row) {
  std::string cell;
  while (true) {
    const size_t quote = rest_.find('"');
    const std::string_view piece = rest_.substr(0, quote);
    line_ += static_cast<int>(std::count(piece.begin(), piece.end(), '\n'));
    cell += piece;
    if (quote == rest_.npos) {
      row.fault = "got a quote that is never closed";
      rest_ = {};
      return cell;
    }
    rest_.remove_prefix(quote + 1);
    if (!rest_.starts_with('"')) return cell;
    cell += '"';
    rest_.remove_prefix(1);
  }
}

std::string CsvReader::Plain(CsvRow& row) {
  size_t end = std::min(rest_.find_first_of(",\n"), rest_.size());
  if (end < rest_.size() && rest_[end] == '\n' && end > 0 && rest_[end - 1] == '\r') --end;
  std::string cell(rest_.substr(0, end));
  rest_.remove_prefix(end);
  if (cell.find('"') != cell.npos) row.fault = "got a quote in the middle of a cell, want it doubled in a quoted cell";
  return cell;
}

bool CsvReader::Next(CsvRow& row) {
  if (rest_.empty()) return false;
  row.line = line_;
  row.cells.clear();
  row.fault.clear();
  while (true) {
    if (rest_.starts_with('"')) {
      rest_.remove_prefix(1);
      std::string cell = Quoted(row);
      if (!rest_.empty() && rest_[0] != ',' && rest_[0] != '\n' && !rest_.starts_with("\r\n")) {
        row.fault = "got text behind a closing quote, want a comma or the line's end";
        rest_.remove_prefix(std::min(rest_.find('\n'), rest_.size()));
      }
      row.cells.push_back(std::move(cell));
    } else {
      row.cells.push_back(Plain(row));
    }
    if (rest_.empty() || TakeLineEnd()) return true;
    rest_.remove_prefix(1);  // the comma
  }
}

}  // namespace scantling::client
