// Linux's own terminal calls, apart from <termios.h>, whose struct of the same name they clash
// with.
#include "line_speed.hpp"

#include <asm/termbits.h>
#include <sys/file.h>
#include <sys/ioctl.h>

namespace whirler::drive {

bool set_line_speed(int descriptor, int baud) {
  termios2 line{};
  if (baud <= 0 || ioctl(descriptor, TCGETS2, &line) != 0)
    return false;
  line.c_cflag &= ~static_cast<tcflag_t>(CBAUD | (CBAUD << IBSHIFT));
  line.c_cflag |= BOTHER | (BOTHER << IBSHIFT);
  line.c_ispeed = line.c_ospeed = static_cast<speed_t>(baud);
  return ioctl(descriptor, TCSETS2, &line) == 0;
}

bool is_claimed(int descriptor) {
  int exclusive = 0;
  return ioctl(descriptor, TIOCGEXCL, &exclusive) == 0 && exclusive != 0;
}

bool claim(int descriptor) {
  // The lock is between whirlers and goes with the process, however it ends; the terminal's own
  // mark keeps other programs out, unless they are root's.
  if (flock(descriptor, LOCK_EX | LOCK_NB) != 0)
    return false;
  return ioctl(descriptor, TIOCEXCL) == 0;
}

void drop_unsent(int descriptor) { ioctl(descriptor, TCFLSH, TCOFLUSH); }

} // namespace whirler::drive
