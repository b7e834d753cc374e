// Tach pulses as a timer saw them: ticks of a free-running counter, one a rising edge.
#pragma once

#include "whirler/units/quantities.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace whirler::tach {

/// A train of pulses in order of arrival. Ticks are already unwrapped (they only grow, but for
/// faults of the source, which the analysis counts and reports).
struct PulseTrain {
  Duration tick;                   ///< length of one tick
  std::vector<std::int64_t> ticks; ///< one a pulse
  /// Which mark passed, 0..N-1, 0 the index; -1 where not known, empty where none is.
  std::vector<std::int16_t> marks;
  std::size_t wraps = 0; ///< times that the counter began anew, all undone in `ticks`

  [[nodiscard]] std::size_t size() const { return ticks.size(); }
};

} // namespace whirler::tach
