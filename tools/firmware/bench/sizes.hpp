// What the firmware takes of the chip, measured while it does its worst: full rate of pulses, a
// host that talks, every kind of frame.
#pragma once

#include "chip.hpp"

#include <string>
#include <vector>

namespace bench {

struct Sizes {
  std::size_t flash = 0;
  std::size_t variables = 0;
  std::size_t stack_used = 0;
  std::size_t stack_there = 0;
  std::uint64_t overruns = 0; ///< bytes from the host that the receiver could not keep
  std::vector<InterruptTime> interrupts;
};

/// 24 marks at 6000 rpm, 2400 pulses a second, for two seconds after the ramp to it; long frames,
/// damaged frames and refusals on the line all the while.
[[nodiscard]] Sizes measure_sizes();

[[nodiscard]] std::string to_text(const Sizes& sizes);

} // namespace bench
