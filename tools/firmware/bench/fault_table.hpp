// Every fault that the driver must end with the motor off: done to it, and timed in the chip's own
// time, from the fault to the enable output's low.
#pragma once

#include "stand.hpp"

#include "whirler/link/messages.hpp"

#include <functional>
#include <string>
#include <vector>

namespace bench {

struct FaultCase {
  std::string group;
  std::string fault;
  std::vector<Moment> moments;
  StandModel model;
  double bound_ms;            ///< from the fault to enable off
  whirler::link::Latch latch; ///< that must be named afterwards
  std::function<void(Stand&)> inject;
  /// What comes after the motor is off, and must not start it again; may be empty.
  std::function<void(Stand&)> afterwards;
};

struct FaultOutcome {
  std::string fault;
  Moment moment = Moment::dwell;
  double bound_ms = 0.0;
  double worst_ms = 0.0; ///< of the runs; negative: never went off
  whirler::link::Latch expected = whirler::link::Latch::none;
  whirler::link::Latch named = whirler::link::Latch::none;
  bool stayed_off = false;
};

[[nodiscard]] std::vector<FaultCase> fault_cases(const std::string& group);
[[nodiscard]] std::vector<std::string> fault_groups();

/// Whether that is the right name for it.
[[nodiscard]] bool names(whirler::link::Latch named, whirler::link::Latch expected);

/// Runs a case at one moment, `runs` times at different offsets into it, and gives the worst.
[[nodiscard]] FaultOutcome measure(const FaultCase& fault, Moment moment, int runs);

/// A line of the table.
[[nodiscard]] std::string to_text(const FaultOutcome& outcome);

} // namespace bench
