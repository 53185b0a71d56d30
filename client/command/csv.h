// Comma-separated values after RFC 4180: comma, double quotes where needed, doubled quotes inside, CRLF line ends.
// Pure; thread-safe.

#ifndef SCANTLING_CLIENT_COMMAND_CSV_H_
#define SCANTLING_CLIENT_COMMAND_CSV_H_

#include <string>
#include <string_view>
#include <vector>

namespace scantling::client {

// One cell, quoted where it holds a comma, a quote or a line break.
std::string CsvCell(std::string_view text);

// A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a line break) with an apostrophe
// before it; others as they are. An id from a file must not run as a formula on whoever opens the table.
std::string FormulaSafe(std::string_view text);

// A number in the shortest form that reads back the same; "nan", "inf", "-inf" as they are.
std::string CsvNumber(double value);

// Cells as one record, already quoted, with its line end.
std::string CsvRecord(const std::vector<std::string>& cells);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_CSV_H_
