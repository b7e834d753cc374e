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

/// Of the terminal, in characters.
struct ScreenSize {
  std::size_t columns = 80;
  std::size_t rows = 24;
};

/// The lines of the live screen. With `colour` they carry ANSI colours, each line ended plain. None
/// is longer than the screen is wide, and they leave it a row: where the large figures do not fit,
/// small ones stand in, the word about the hands first.
[[nodiscard]] std::vector<std::string> screen_lines(const session::Progress& progress, bool colour,
                                                    ScreenSize size = {});

/// A film's thickness in micrometres, large, amber where `colour`.
[[nodiscard]] std::vector<std::string> film_lines(Length film, bool colour);

/// The same in one plain line, for a log or a pipe.
[[nodiscard]] std::string plain_line(const session::Progress& progress);

} // namespace whirler::cli
