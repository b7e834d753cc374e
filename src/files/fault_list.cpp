#include "whirler/files/fault_list.hpp"

#include <algorithm>
#include <array>

namespace whirler::files {
namespace {

constexpr bool starts_character(char byte) {
  return (static_cast<unsigned char>(byte) & 0xC0U) != 0x80U; // not a UTF-8 continuation
}

/// Length of the well-formed UTF-8 character at the start of `text`, 0 where there is none: not too
/// long a form, no surrogate, not past U+10FFFF (Unicode Standard, table 3-7).
std::size_t character_length(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text.front());
  const std::size_t length = lead < 0x80U                     ? 1
                             : lead >= 0xC2U && lead < 0xE0U  ? 2
                             : lead >= 0xE0U && lead < 0xF0U  ? 3
                             : lead >= 0xF0U && lead <= 0xF4U ? 4
                                                              : 0;
  if (length == 0 || text.size() < length)
    return 0;
  for (std::size_t i = 1; i < length; ++i)
    if (starts_character(text[i]))
      return 0;
  const auto second = length > 1 ? static_cast<unsigned char>(text[1]) : 0U;
  const bool bad_second = (lead == 0xE0U && second < 0xA0U) || (lead == 0xEDU && second > 0x9FU) ||
                          (lead == 0xF0U && second < 0x90U) || (lead == 0xF4U && second > 0x8FU);
  return bad_second ? 0 : length;
}

std::string escaped(char byte) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  const auto value = static_cast<unsigned char>(byte);
  return {'\\', 'x', kDigits[value >> 4U], kDigits[value & 0xFU]};
}

bool is_control(std::string_view character) {
  const auto first = static_cast<unsigned char>(character.front());
  if (character.size() == 1)
    return first < 0x20U || first == 0x7FU;
  return first == 0xC2U && static_cast<unsigned char>(character[1]) < 0xA0U; // C1 controls
}

} // namespace

void FaultList::add(std::size_t at, FileFault fault) {
  if (added_++ >= kMost)
    return;
  fault.file = file_;
  found_.push_back({std::min(at, text_.size()), std::move(fault)});
}

std::vector<FileFault> FaultList::take() && {
  std::stable_sort(found_.begin(), found_.end(),
                   [](const Found& a, const Found& b) { return a.at < b.at; });
  std::vector<FileFault> faults;
  std::size_t line = 1;
  std::size_t column = 1;
  std::size_t place = text_.starts_with("\xEF\xBB\xBF") ? 3 : 0; // a byte order mark is no column
  for (Found& found : found_) {
    for (; place < found.at; ++place) {
      const bool line_end = text_[place] == '\n';
      line += line_end ? 1 : 0;
      column = line_end ? 1 : column + (starts_character(text_[place]) ? 1 : 0);
    }
    found.fault.line = line;
    found.fault.column = column;
    faults.push_back(std::move(found.fault));
  }
  return faults;
}

std::size_t first_not_utf8(std::string_view text) {
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = character_length(text.substr(at));
    if (length == 0)
      return at;
    at += length;
  }
  return std::string_view::npos;
}

std::string shown(std::string_view piece) {
  constexpr std::size_t kLongest = 60;
  std::string text;
  for (std::size_t characters = 0; !piece.empty(); ++characters) {
    if (characters == kLongest)
      return text + "…";
    const std::size_t length = character_length(piece);
    if (length == 0 || is_control(piece.substr(0, length)))
      text += escaped(piece.front());
    else
      text += piece.substr(0, length);
    piece.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return text;
}

} // namespace whirler::files
