#include "text_table.hpp"

#include "whirler/units/letters.hpp"

#include <algorithm>
#include <charconv>
#include <cstddef>
#include <ostream>
#include <sstream>
#include <utility>

namespace whirler::cli {
namespace {

/// Shown as a blank, so that each text has one line.
bool is_control(char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }

/// The bytes without the blanks at their end.
std::string_view trimmed(std::string_view bytes) {
  const auto last =
      std::find_if(bytes.rbegin(), bytes.rend(), [](char c) { return c != ' ' && !is_control(c); });
  return bytes.substr(0, static_cast<std::size_t>(bytes.rend() - last));
}

void add_flat(std::string& line, std::string_view text) {
  const auto begin = static_cast<std::ptrdiff_t>(line.size());
  line += text;
  std::replace_if(line.begin() + begin, line.end(), is_control, ' ');
}

bool is_number(std::string_view text) {
  double number = 0.0;
  const char* const end = text.data() + text.size();
  const auto read = std::from_chars(text.data(), end, number);
  return read.ec == std::errc{} && read.ptr == end;
}

/// A spreadsheet takes a text that begins so for a formula, which may do anything; an apostrophe in
/// front makes it a text there [common practice; OWASP, CSV Injection]. No name loses a letter.
bool is_formula(std::string_view text) {
  return !text.empty() && std::string_view("=+-@").find(text.front()) != std::string_view::npos &&
         !is_number(text);
}

void add_quoted(std::string& line, std::string_view bytes) {
  std::string text(is_formula(bytes) ? "'" : "");
  add_flat(text, bytes);
  if (text.find_first_of(",\"") == std::string::npos) {
    line += text;
    return;
  }
  line += '"';
  for (const char c : text)
    line.append(c == '"' ? 2 : 1, c);
  line += '"';
}

} // namespace

void TextTable::reserve(std::size_t rows, std::size_t columns) {
  constexpr std::size_t kUsualBytes = 12;
  ends_.reserve(rows);
  texts_.reserve(rows * columns);
  bytes_.reserve(rows * columns * kUsualBytes);
}

void TextTable::row(std::initializer_list<std::string_view> texts) {
  for (const std::string_view text : texts) {
    bytes_ += text;
    texts_.push_back(
        {static_cast<std::uint32_t>(text.size()), static_cast<std::uint32_t>(columns(text))});
  }
  ends_.push_back(texts_.size());
}

template <class Visit>
void TextTable::each(const Visit& visit) const {
  std::size_t text = 0;
  std::size_t begin = 0;
  for (std::size_t row = 0; row < ends_.size(); ++row)
    for (std::size_t column = 0; text < ends_[row]; ++text, ++column) {
      const auto [size, wide] = texts_[text];
      visit(row, column, std::string_view(bytes_).substr(begin, size), std::size_t{wide});
      begin += size;
    }
}

std::string TextTable::aligned() const {
  std::ostringstream lines;
  write_aligned(lines);
  return std::move(lines).str();
}

void TextTable::write_aligned(std::ostream& out) const {
  constexpr std::size_t kPiece = 32768;
  std::vector<std::size_t> widths;
  each([&](std::size_t, std::size_t column, std::string_view, std::size_t wide) {
    widths.resize(std::max(widths.size(), column + 1));
    widths[column] = std::max(widths[column], wide);
  });
  std::string lines;
  std::size_t blanks = 0; // owed before the next text of the row: a line has none at its end
  each([&](std::size_t row, std::size_t column, std::string_view bytes, std::size_t wide) {
    if (column == 0) {
      if (lines.size() > kPiece) {
        out << lines;
        lines.clear();
      }
      lines.append(row == 0 ? 0 : 1, '\n');
      blanks = 0;
    }
    const std::string_view seen = trimmed(bytes);
    if (!seen.empty()) {
      lines.append(std::exchange(blanks, 0), ' ');
      add_flat(lines, seen);
    }
    const std::size_t shown = wide - (bytes.size() - seen.size()); // a blank is a byte
    blanks += widths[column] + 2 - shown;
  });
  out << lines;
}

std::string csv_line(std::initializer_list<std::string_view> texts) {
  std::string line;
  for (const std::string_view text : texts) {
    add_quoted(line, text);
    line += ',';
  }
  line.back() = '\n';
  return line;
}

} // namespace whirler::cli
