// Where in a record the speed stands: dwells, and the ramps between them.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace whirler::tach {

struct Dwell {
  std::size_t from = 0; ///< turns [from, to)
  std::size_t to = 0;
  double speed = 0.0; ///< mean, rad/s
  [[nodiscard]] std::size_t turns() const { return to - from; }
};

inline constexpr std::size_t kLeastTurns = 4;

/// Dwells in order of time, from the times (s) of each turn's beginning and of the last one's end.
/// A loop that hunts by a few per cent dwells; a slow ramp does not.
[[nodiscard]] std::vector<Dwell> find_dwells(std::span<const double> turn_begins);

} // namespace whirler::tach
