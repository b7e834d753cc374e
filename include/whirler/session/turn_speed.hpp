// Speed from pulses over one whole turn, which uneven marks and unbalance do not disturb.
#pragma once

#include "whirler/units/quantities.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace whirler::session {

class TurnSpeed {
 public:
  TurnSpeed(int marks_per_turn, Duration tick);
  void feed(std::span<const std::int64_t> ticks);
  /// Pulses are missing before the next ones: begin anew.
  void lost();
  /// Over the last whole turn; none before one has been seen.
  [[nodiscard]] std::optional<Speed> last() const { return last_; }
  void at_rest();

 private:
  std::size_t marks_;
  double tick_s_;
  std::vector<std::int64_t> ring_; ///< the last marks_ ticks
  std::size_t seen_ = 0;
  std::optional<Speed> last_;
};

} // namespace whirler::session
