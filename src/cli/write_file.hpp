// Writes a file that a command was asked for.
#pragma once

#include "whirler/units/result.hpp"

#include <string>

namespace whirler::cli {

/// Faults (input): the file cannot be opened or written to its end.
[[nodiscard]] Outcome write_text_file(const std::string& path, const std::string& text);

} // namespace whirler::cli
