// Samples of an accelerometer from a CSV table: a header row `t_s,accel_m_s2` (either order), then
// a row a sample, times rising and on the clock of the tach pulses that it stands beside. A table
// of its own: samples and pulses do not fall together, and a row that holds one of the two would
// leave half of its fields empty.
#pragma once

#include "whirler/files/file_fault.hpp"
#include "whirler/tach/acceleration.hpp"

#include <string>
#include <string_view>

namespace whirler::files {

/// Fault: no header, a column missing, twice or unknown, a field missing or too many, a number that
/// is none, a time that does not rise, fewer than 5 samples.
[[nodiscard]] Read<tach::AccelerationTrack> read_acceleration(std::string_view text,
                                                              const std::string& file);

} // namespace whirler::files
