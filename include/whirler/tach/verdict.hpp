// From a once-per-turn figure to a word that a person can act on. The rules, in order:
//
//   cannot_tell  one mark; sensor on the sprung body; one speed with nothing to tell unbalance from
//                uneven marks; no limits
//   stop         the lower 95 % bound is over the stop limit
//   watch        the estimate is over the watch limit (or the stop limit, less surely)
//   even         the upper 95 % bound is under the watch limit; never with two marks
//   cannot_tell  all else, with what would settle it
#pragma once

#include "whirler/tach/order_one.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <string>
#include <string_view>

namespace whirler::tach {

enum class Verdict { even, watch, stop, cannot_tell };
[[nodiscard]] std::string_view word(Verdict verdict); ///< "even", "watch", "stop", "cannot_tell"

/// What took the marks' own pattern out of the figure.
enum class PatternFrom { nothing, baseline, slow_running, run_up };

struct VelocityInterval {
  Velocity low;
  Velocity estimate;
  Velocity high;
};

/// All that a verdict rests on.
struct Evidence {
  OrderOne figure; ///< less the pattern, where `pattern_from` says so
  PatternFrom pattern_from = PatternFrom::nothing;
  std::optional<VelocityInterval> velocity; ///< rotor's e times omega, where it is known
  bool mount_known = true;      ///< false: the interval covers many mounts that fit as well
  bool by_acceleration = false; ///< `velocity` is an accelerometer's: marks do not matter to it
  bool marks_aligned = true; ///< false: which mark of the baseline is which, the pulses do not say
};

/// What is seen lies along one direction: no more than a lower bound of the whole. The way through
/// the natural speed shows both even to two marks, and an accelerometer needs none.
[[nodiscard]] bool is_lower_bound(Axes axes, PatternFrom pattern_from, bool by_acceleration);

struct Judgement {
  Verdict verdict = Verdict::cannot_tell;
  std::string reason; ///< a sentence or two: what was seen against which limit, and what to do
  std::string add;    ///< what would settle a `cannot_tell`; empty otherwise
};

[[nodiscard]] Judgement judge(const Evidence& evidence, const SpinnerModel& model);

} // namespace whirler::tach
