// Rows of texts as an aligned table for people, or as CSV for a spreadsheet.
#pragma once

#include <string>
#include <vector>

namespace whirler::cli {

using TextRow = std::vector<std::string>;

/// A line a row, columns padded to the widest text (in characters, not bytes), two blanks between.
[[nodiscard]] std::vector<std::string> aligned(const std::vector<TextRow>& rows);

/// RFC 4180: fields with a comma, quote or line end stand in quotes. Lines end with LF.
[[nodiscard]] std::string csv(const std::vector<TextRow>& rows);

} // namespace whirler::cli
