// A clock that goes on while the computer sleeps. A steady clock stands still through a suspend on
// Linux, so a run that slept an hour would look to it as if nothing had happened.
#pragma once

#include "whirler/units/quantities.hpp"

#include <ctime>

namespace whirler::drive {

/// Since some fixed moment; never runs backwards.
[[nodiscard]] inline Duration clock_with_sleep() {
#ifdef CLOCK_BOOTTIME
  constexpr clockid_t kClock = CLOCK_BOOTTIME;
#else
  constexpr clockid_t kClock = CLOCK_MONOTONIC;
#endif
  timespec now{};
  clock_gettime(kClock, &now);
  return seconds(static_cast<double>(now.tv_sec)) +
         microseconds(1e-3 * static_cast<double>(now.tv_nsec));
}

} // namespace whirler::drive
