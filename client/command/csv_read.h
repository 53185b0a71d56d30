// Reads comma-separated values after RFC 4180, record by record, and tells where each begins.

#ifndef SCANTLING_CLIENT_COMMAND_CSV_READ_H_
#define SCANTLING_CLIENT_COMMAND_CSV_READ_H_

#include <string>
#include <string_view>
#include <vector>

namespace scantling::client {

struct CsvRow {
  int line = 1;                    // of its first character, from 1
  std::vector<std::string> cells;  // unquoted; at least one
  std::string fault = {};          // what is wrong with its quotes; empty: nothing
};

// Takes CRLF and LF line ends, and a byte order mark before the first record. Not thread-safe; the text must outlive
// it.
class CsvReader {
 public:
  explicit CsvReader(std::string_view text);

  // The next record; false at the end of the text. A record with a fault ends where its line ends, or, where a quote is
  // never closed, with the text. Linear in the record.
  bool Next(CsvRow& row);

 private:
  std::string Quoted(CsvRow& row);
  std::string Plain(CsvRow& row);
  bool TakeLineEnd();

  std::string_view rest_;
  int line_ = 1;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_CSV_READ_H_
