// A CSV text line by line and field by field, each with its place in the text. Fields are separated
// by commas; blanks and one pair of double quotes around a field are dropped. No field may hold a
// comma or a line end: these are tables of numbers.
#pragma once

#include <cstddef>
#include <string_view>

namespace whirler::files {

struct CsvField {
  std::string_view text;
  std::size_t at = 0; ///< byte offset in the whole text
};

class CsvTable {
 public:
  /// `text` must outlive the table. A byte order mark at its start is passed over.
  explicit CsvTable(std::string_view text);
  /// The next line without its end, LF or CR LF; false at the end of the text.
  [[nodiscard]] bool next_line(CsvField& line);
  /// The next field of a line, which is shortened by it; `last`: the line has no more.
  [[nodiscard]] static CsvField next_field(CsvField& line, bool& last);

 private:
  std::string_view text_;
  std::size_t next_ = 0;
};

/// Nothing but blanks.
[[nodiscard]] bool is_empty(const CsvField& line);

} // namespace whirler::files
