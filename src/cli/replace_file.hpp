// Puts a text in a file's place, whole or not at all: the old file stays until the new one is
// written to its end.
#pragma once

#include "whirler/units/result.hpp"

#include <string>

namespace whirler::cli {

/// Faults (input): the folder or file cannot be written.
[[nodiscard]] Outcome replace_file(const std::string& path, const std::string& text);

} // namespace whirler::cli
