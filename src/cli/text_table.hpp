// Texts in rows: as an aligned table for people, or as CSV for a spreadsheet.
#pragma once

#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <iosfwd>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::cli {

/// The texts stand one after the other in one string: a list of ten thousand coats is a hundred
/// thousand texts, and a string each would take longer than all the rest.
class TextTable {
 public:
  /// For tables so long that growing them would show; one that grows further still does.
  void reserve(std::size_t rows, std::size_t columns);
  void row(std::initializer_list<std::string_view> texts);
  [[nodiscard]] bool empty() const { return ends_.empty(); }

  /// A line a row, columns padded to the widest text (as a terminal shows it), two blanks
  /// between; each text on its line, whatever it holds. Lines end with LF, the last one without.
  [[nodiscard]] std::string aligned() const;
  /// The same to a stream, piece by piece: memory for all of a long log at once takes longer to get
  /// than the lines to write.
  void write_aligned(std::ostream& out) const;

 private:
  struct Text {
    std::uint32_t size = 0; ///< in bytes; they begin where the last one's end
    std::uint32_t wide = 0; ///< columns of a terminal
  };
  /// Calls `visit(row, column, bytes, wide)` for each text in turn.
  template <class Visit>
  void each(const Visit& visit) const;

  std::string bytes_;
  std::vector<Text> texts_;
  std::vector<std::size_t> ends_; ///< of each row in `texts_`
};

/// A row of CSV (RFC 4180) with its LF, of one text or more: fields with a comma or quote stand in
/// quotes. Control characters are blanks, and what a spreadsheet would take for a formula has an
/// apostrophe in front.
[[nodiscard]] std::string csv_line(std::initializer_list<std::string_view> texts);

} // namespace whirler::cli
