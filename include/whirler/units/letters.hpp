// What the letters of a UTF-8 text are, whatever the language that the computer is set to: which
// differ in case alone, and how wide they stand in a terminal. By the C library's tables for
// C.UTF-8, which follow the Unicode standard. Bytes that are not UTF-8 stand for themselves.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace whirler {

/// The text in small letters, so that texts that differ in case alone become the same. Letter by
/// letter: a capital sharp s becomes a small one, and "SS" none.
[[nodiscard]] std::string folded(std::string_view text);

/// Columns of a terminal: two for the wide characters of East Asia, none for an accent that stands
/// over the letter before it, one for what shows nothing.
[[nodiscard]] std::size_t columns(std::string_view text);

} // namespace whirler
