#pragma once

namespace whirler::drive {

/// Sets any speed in bits a second on an open serial descriptor, also one that POSIX has no name
/// for (250000). False when the device refuses it.
bool set_line_speed(int descriptor, int baud);

/// Claims the terminal for this descriptor; false when another program holds it.
bool claim(int descriptor);
/// Throws away what the kernel has not yet sent.
void drop_unsent(int descriptor);

} // namespace whirler::drive
