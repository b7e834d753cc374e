// Pulses from a CSV table: a header row, then a row a pulse (rising edge) in order of arrival.
// Column `t_s` (seconds) or `ticks` (a counter's reading), and optionally `mark`, 0 to N-1 in
// passing order, 0 the index. Other columns are refused: a table that is misread as pulses would
// give a verdict about a plate that nobody measured.
//
// Nothing is repaired here. Times that go back, repeat or leap are handed on in their order; the
// tach analysis counts and reports them. Only a counter's wrap is undone, since ticks past it mean
// nothing without the counter's width. A reading is a step forward of less than one turn of the
// counter; it is taken as a step back (pulses out of order) only where that is at most one and a
// half of the last pulse interval and the step forward would be over three. A gap of a whole turn
// of the counter or more cannot be seen by anybody and is not.
//
// Rejected: the nearest reading, forward or back. A 16-bit counter of 0.5 us ticks turns in 33 ms,
// and six marks at 400 rpm are 25 ms apart: each step would be read as one of 8 ms back.
#pragma once

#include "whirler/files/file_fault.hpp"
#include "whirler/tach/pulses.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace whirler::files {

struct PulsesFormat {
  std::optional<Duration> tick; ///< length of a tick; needed for `ticks`, unused for `t_s`
  std::optional<int> tick_bits; ///< width of the counter, 8 to 62; none: it never wraps
  std::size_t least = 2;        ///< fewer pulses are a mistake
  bool unknown_marks = false;   ///< an empty mark is -1: the source did not know it
};

/// `t_s` becomes ticks of 1 ns, or of 1 ps where digits stand below the nanosecond and all times
/// lie within 9e6 s; digits past that are rounded. LF and CR LF line ends, a byte order mark, empty
/// lines at the end, and blanks or double quotes around a field are accepted.
///
/// Fault: no header, no time column or both, a column twice or unknown, a field missing or too
/// many, a number that is none or out of range, a mark below 0 or over 1023, fewer than 2 pulses;
/// `ticks` without a tick length.
[[nodiscard]] Read<tach::PulseTrain> read_pulses(std::string_view text, const std::string& file,
                                                 const PulsesFormat& format);

} // namespace whirler::files
