#pragma once

#include "whirler/units/quantities.hpp"

#include <chrono>
#include <optional>

namespace whirler::drive {

[[nodiscard]] inline std::chrono::steady_clock::duration wall_time(Duration time) {
  return std::chrono::duration_cast<std::chrono::steady_clock::duration>(
      std::chrono::duration<double>(time.s()));
}

[[nodiscard]] inline Duration since(std::chrono::steady_clock::time_point then) {
  return seconds(std::chrono::duration<double>(std::chrono::steady_clock::now() - then).count());
}

/// Keeps in `when` since when something has been so without a break.
inline void note_since(std::optional<std::chrono::steady_clock::time_point>& when, bool is_so) {
  if (!is_so)
    when.reset();
  else if (!when)
    when = std::chrono::steady_clock::now();
}

} // namespace whirler::drive
