// Linux's own terminal calls, apart from <termios.h>, whose struct of the same name they clash
// with.
#include "line_speed.hpp"

#include <asm/termbits.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

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

namespace {

/// A pseudo-terminal keeps the kernel's mark of exclusive use when its user dies, since its other
/// end is still open; a hardware port loses it with its last user. So only the latter is marked.
bool is_pseudo_terminal(int descriptor) {
  constexpr unsigned kFirstMajor = 136, kLastMajor = 143; // Linux devices.txt, Unix98 slaves
  struct stat device {};
  return fstat(descriptor, &device) == 0 && major(device.st_rdev) >= kFirstMajor &&
         major(device.st_rdev) <= kLastMajor;
}

} // namespace

bool claim(int descriptor) {
  // The lock is between whirlers and goes with the process, however it ends; the terminal's own
  // mark keeps other programs out, and is asked about since it does not bind root.
  if (flock(descriptor, LOCK_EX | LOCK_NB) != 0)
    return false;
  if (is_pseudo_terminal(descriptor))
    return true;
  int taken = 0;
  if (ioctl(descriptor, TIOCGEXCL, &taken) == 0 && taken != 0)
    return false;
  return ioctl(descriptor, TIOCEXCL) == 0;
}

void drop_unsent(int descriptor) { ioctl(descriptor, TCFLSH, TCOFLUSH); }

} // namespace whirler::drive
