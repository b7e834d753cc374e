#include "whirler/session/turn_speed.hpp"

#include <algorithm>

namespace whirler::session {

TurnSpeed::TurnSpeed(int marks_per_turn, Duration tick)
    : marks_(static_cast<std::size_t>(std::max(1, marks_per_turn))), tick_s_(tick.s()),
      ring_(marks_) {}

void TurnSpeed::feed(std::span<const std::int64_t> ticks) {
  for (const std::int64_t tick : ticks) {
    auto& slot = ring_[seen_ % marks_];
    if (seen_ >= marks_ && tick > slot)
      last_ = turns_per_s(1.0 / (static_cast<double>(tick - slot) * tick_s_));
    slot = tick;
    ++seen_;
  }
}

void TurnSpeed::lost() {
  seen_ = 0;
  last_.reset();
}

void TurnSpeed::at_rest() {
  seen_ = 0;
  last_ = rpm(0);
}

} // namespace whirler::session
