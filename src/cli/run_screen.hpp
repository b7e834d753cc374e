// The run as seen from two metres through safety glasses: the speed and the time left in figures
// five lines high, the rest in a line each. Red and amber only, so that the screen does not expose
// the plate in a yellow-light room, and never colour alone.
#pragma once

#include "whirler/session/progress.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

/// Text in figures five lines high; knows digits, ':', '.', '-' and blank, and leaves out all else.
[[nodiscard]] std::vector<std::string> large(const std::string& text);

/// The lines of the live screen. With `colour` they carry ANSI colours, each line ended plain.
[[nodiscard]] std::vector<std::string> screen_lines(const session::Progress& progress, bool colour);

/// A film's thickness in micrometres, large, amber where `colour`.
[[nodiscard]] std::vector<std::string> film_lines(Length film, bool colour);

/// The same in one plain line, for a log or a pipe.
[[nodiscard]] std::string plain_line(const session::Progress& progress);

} // namespace whirler::cli
