// What a run shows of itself while it goes, as plain values: the session fills it in, a screen or a
// log line writes it out.
#pragma once

#include "whirler/run/plan.hpp"
#include "whirler/run/state_machine.hpp"
#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>

namespace whirler::session {

/// The once-per-turn figure of the last turns.
struct LiveJitter {
  Angle amplitude;
  Angle half_width;           ///< of its 95 % interval
  std::optional<Angle> limit; ///< the machine's stop limit as an angle at this speed, if any
  std::string verdict;        ///< even, watch, stop or cannot_tell
  bool pattern_known = true; ///< false: the marks' own unevenness is in it, and nothing bounds that
};

struct Progress {
  run::State state = run::State::idle;
  std::size_t step = 0; ///< counted from 1
  std::size_t steps = 0;
  std::string step_name;
  Speed speed; ///< as the tach shows it
  Speed target;
  Duration elapsed;
  Duration left;
  run::LidState lid = run::LidState::not_fitted;
  bool may_be_turning = true; ///< until the tach has shown standstill
  std::optional<LiveJitter> jitter;
};

} // namespace whirler::session
