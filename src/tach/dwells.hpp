// Where in a record the speed stands: dwells, and the ramps between them.
#pragma once

#include "whirler/units/quantities.hpp"

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace whirler::tach {

struct Dwell {
  std::size_t from = 0; ///< turns [from, to)
  std::size_t to = 0;
  double speed = 0.0; ///< mean, rad/s
  [[nodiscard]] std::size_t turns() const { return to - from; }
};

/// Times (s) of each turn's beginning and of the last one's end, from the first: read off the slots
/// where they lie, since a copy of a long record's costs more than all sums over it.
class TurnBegins {
 public:
  TurnBegins(std::span<const std::int64_t> slots, std::size_t marks, Duration tick)
      : slots_(slots), marks_(marks), tick_s_(tick.s()) {}

  [[nodiscard]] std::size_t size() const {
    return slots_.empty() ? 0 : (slots_.size() - 1) / marks_ + 1;
  }
  [[nodiscard]] double operator[](std::size_t turn) const {
    return static_cast<double>(slots_[turn * marks_] - slots_.front()) * tick_s_;
  }

 private:
  std::span<const std::int64_t> slots_;
  std::size_t marks_;
  double tick_s_;
};

inline constexpr std::size_t kLeastTurns = 4;

/// Dwells in order of time. A loop that hunts by a few per cent dwells; a slow ramp does not.
[[nodiscard]] std::vector<Dwell> find_dwells(const TurnBegins& begins);

} // namespace whirler::tach
