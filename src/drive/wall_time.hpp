#pragma once

#include "whirler/units/quantities.hpp"

#include <chrono>

namespace whirler::drive {

[[nodiscard]] inline std::chrono::steady_clock::duration wall_time(Duration time) {
  return std::chrono::duration_cast<std::chrono::steady_clock::duration>(
      std::chrono::duration<double>(time.s()));
}

[[nodiscard]] inline Duration since(std::chrono::steady_clock::time_point then) {
  return seconds(std::chrono::duration<double>(std::chrono::steady_clock::now() - then).count());
}

} // namespace whirler::drive
