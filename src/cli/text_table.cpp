#include "text_table.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

std::size_t characters(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; // not a UTF-8 continuation
  }));
}

/// On one line, whatever the text holds.
std::string flat(std::string text) {
  std::replace_if(
      text.begin(), text.end(),
      [](char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }, ' ');
  return text;
}

std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos)
    return text;
  std::string made = "\"";
  for (const char c : text)
    made += c == '"' ? "\"\"" : std::string(1, c);
  return made + "\"";
}

} // namespace

std::vector<std::string> aligned(const std::vector<TextRow>& rows) {
  std::vector<std::size_t> widths;
  for (const TextRow& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t i = 0; i < row.size(); ++i)
      widths[i] = std::max(widths[i], characters(row[i]));
  }
  std::vector<std::string> lines;
  for (const TextRow& row : rows) {
    std::string line;
    for (std::size_t i = 0; i < row.size(); ++i)
      line += flat(row[i]) + std::string(widths[i] - characters(row[i]) + 2, ' ');
    line.erase(line.find_last_not_of(' ') + 1);
    lines.push_back(std::move(line));
  }
  return lines;
}

std::string csv(const std::vector<TextRow>& rows) {
  std::string text;
  for (const TextRow& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i)
      text += (i == 0 ? "" : ",") + quoted(row[i]);
    text += "\n";
  }
  return text;
}

} // namespace whirler::cli
