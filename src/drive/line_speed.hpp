#pragma once

namespace whirler::drive {

/// Sets any speed in bits a second on an open serial descriptor, also one that POSIX has no name
/// for (250000). False when the device refuses it.
bool set_line_speed(int descriptor, int baud);

/// True when another open descriptor has claimed the terminal for itself.
bool is_claimed(int descriptor);
/// Claims the terminal; false when another whirler holds it.
bool claim(int descriptor);
/// Throws away what the kernel has not yet sent.
void drop_unsent(int descriptor);

} // namespace whirler::drive
