// Writes a file that a command was asked for.
#pragma once

#include "whirler/units/result.hpp"

#include <string>

namespace whirler::cli {

/// Whether a text that begins so could be written, as far as can be told before there is one.
/// Faults (input): as of `write_text_file`.
[[nodiscard]] Outcome can_write(const std::string& path, const std::string& beginning);

/// A file of the same kind is replaced, whole or not at all. Faults (input): a file that begins
/// otherwise stands there; it cannot be opened or written to its end.
[[nodiscard]] Outcome write_text_file(const std::string& path, const std::string& text);

} // namespace whirler::cli
