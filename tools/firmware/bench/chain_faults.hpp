// Every fault again, with the real host program as the client: does the motor go off in time, stay
// off, and does the host end as it should?
//
// Times are the chip's own, from the fault to the enable output's low. The host runs in the wall's
// time beside it, so these figures hold what a host may add; fault_table.hpp has those of the
// driver alone, in lock-step.
#pragma once

#include "chain.hpp"

#include "whirler/link/messages.hpp"

#include <functional>
#include <string>
#include <vector>

namespace bench {

struct ChainCase {
  std::string fault;
  Moment moment;
  double bound_ms; ///< from the fault to enable off
  /// That the driver may name afterwards, to whoever greets it then; none: it does not answer.
  std::vector<whirler::link::Latch> latches;
  /// That the host may give; none where it was killed.
  std::vector<std::string> outcomes;
  /// Does it, and gives the moment that the time counts from. Empty: the run goes on to its end.
  std::function<Cycles(Chain&)> inject;
  /// What comes after the motor is off, and must not start it again; may be empty.
  std::function<void(Chain&)> afterwards;
  StandModel model;
  ChainFiles files;
  double damage = 0.0;
  double top_rpm = 1e9; ///< that the rotor may reach; the profile's with 2 % where the tach is true
};

struct ChainOutcome {
  std::string fault;
  Moment moment = Moment::dwell;
  double bound_ms = 0.0;
  double off_ms = -1.0; ///< negative: never went off, or the run never got there
  double top_rpm = 0.0; ///< of the rotor itself
  double top_allowed_rpm = 0.0;
  HostAnswer answer;
  int status = -1; ///< of the host; 137 where it was killed
  whirler::link::Latch latch = whirler::link::Latch::none;
  bool right_words = false; ///< the driver's latch, the host's outcome and its status
  bool stayed_off = false;
  double late_ms = 0.0; ///< this machine's own worst lateness meanwhile
  std::string trouble;  ///< what went wrong before the fault could be done
};

[[nodiscard]] std::vector<ChainCase> chain_cases();

/// Runs all of them, a few side by side (each takes some 5 s of the wall's time and little work). A
/// run that never got to its fault on a machine that was itself held up is tried once more, and its
/// line says so.
[[nodiscard]] std::vector<ChainOutcome> run_chain(const std::string& program,
                                                  const std::vector<ChainCase>& cases);

[[nodiscard]] bool holds(const ChainOutcome& outcome);
[[nodiscard]] std::string to_text(const ChainOutcome& outcome);

} // namespace bench
