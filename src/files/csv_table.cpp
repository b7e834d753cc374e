#include "whirler/files/csv_table.hpp"

#include <algorithm>

namespace whirler::files {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r'; }

CsvField cleaned(CsvField field) {
  while (!field.text.empty() && is_blank(field.text.front())) {
    field.text.remove_prefix(1);
    ++field.at;
  }
  while (!field.text.empty() && is_blank(field.text.back()))
    field.text.remove_suffix(1);
  if (field.text.size() >= 2 && field.text.front() == '"' && field.text.back() == '"')
    return {field.text.substr(1, field.text.size() - 2), field.at + 1};
  return field;
}

} // namespace

CsvTable::CsvTable(std::string_view text)
    : text_(text), next_(text.starts_with("\xEF\xBB\xBF") ? 3 : 0) {}

bool CsvTable::next_line(CsvField& line) {
  if (next_ >= text_.size())
    return false;
  const std::size_t end = std::min(text_.find('\n', next_), text_.size());
  line = {text_.substr(next_, end - next_), next_};
  if (line.text.ends_with('\r'))
    line.text.remove_suffix(1);
  next_ = end + 1;
  return true;
}

CsvField CsvTable::next_field(CsvField& line, bool& last) {
  const std::size_t comma = line.text.find(',');
  last = comma == std::string_view::npos;
  const std::size_t length = last ? line.text.size() : comma;
  const CsvField field{line.text.substr(0, length), line.at};
  line.text.remove_prefix(last ? length : length + 1);
  line.at += last ? length : length + 1;
  return cleaned(field);
}

bool is_empty(const CsvField& line) {
  return std::all_of(line.text.begin(), line.text.end(), is_blank);
}

} // namespace whirler::files
