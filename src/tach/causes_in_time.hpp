// Causes that show in how the pulses change over a record: a loop that hunts, a plate that is
// loose, a motor that cogs.
#pragma once

#include "cause_search.hpp"

#include <optional>
#include <vector>

namespace whirler::tach {

void ask_hunting(const CauseSearch& search, std::vector<Finding>& out);
void ask_loose(const CauseSearch& search, std::vector<Finding>& out);

/// The order that changes most between slow and fast turns, if it falls with speed as torque does.
struct Cogging {
  std::size_t order = 0;
  double slow = 0.0; ///< amplitude, rad
  double fast = 0.0;
  double slow_speed = 0.0; ///< rad/s
  double fast_speed = 0.0;
};
[[nodiscard]] std::optional<Cogging> cogging_order(const CauseSearch& search);
/// The record has turns slow enough beside the figure's to tell cogging from uneven marks.
[[nodiscard]] bool cogging_can_be_told(const CauseSearch& search);

} // namespace whirler::tach
