#include "whirler/run/state_machine.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace whirler::run {
namespace {

constexpr std::array<std::pair<Ending, std::string_view>, 13> kEndingWords{{
    {Ending::completed, "done"},
    {Ending::operator_stop, "operator"},
    {Ending::terminated, "terminated"},
    {Ending::lid, "lid"},
    {Ending::overspeed, "overspeed"},
    {Ending::stall, "stall"},
    {Ending::tach_lost, "tach_lost"},
    {Ending::tach_implausible, "tach_implausible"},
    {Ending::imbalance, "imbalance"},
    {Ending::limit, "limit"},
    {Ending::drive_fault, "drive_fault"},
    {Ending::link_lost, "link_lost"},
    {Ending::record, "record"},
}};

/// What a stopping event asks for: how hard, and the reason that it gives.
struct Halt {
  State into;
  Ending ending;
};

std::optional<Halt> halt_for(Event event) {
  switch (event) {
  // By the stop ramp: the plate is sound and the spindle under control.
  case Event::operator_stop:
    return Halt{State::stopping, Ending::operator_stop};
  case Event::terminated:
    return Halt{State::stopping, Ending::terminated};
  case Event::imbalance:
    return Halt{State::stopping, Ending::imbalance};
  case Event::limit:
    return Halt{State::stopping, Ending::limit};
  case Event::record_failed:
    return Halt{State::stopping, Ending::record};
  // At once: somebody may reach in, or the speed is not what it is thought to be.
  case Event::operator_cut:
    return Halt{State::cutting, Ending::operator_stop};
  case Event::lid_open:
    return Halt{State::cutting, Ending::lid};
  case Event::overspeed:
    return Halt{State::cutting, Ending::overspeed};
  case Event::stall:
    return Halt{State::cutting, Ending::stall};
  case Event::tach_lost:
    return Halt{State::cutting, Ending::tach_lost};
  case Event::tach_implausible:
    return Halt{State::cutting, Ending::tach_implausible};
  case Event::drive_fault:
    return Halt{State::cutting, Ending::drive_fault};
  case Event::link_lost:
    return Halt{State::cutting, Ending::link_lost};
  default:
    return std::nullopt;
  }
}

Step stay(const Run& run) { return {run, {}}; }

Step enter(Run run, State state, Duration now, std::vector<Action> actions = {}) {
  run.state = state;
  run.since = now;
  return {run, std::move(actions)};
}

Step halt(Run run, Halt how, Duration now) {
  if (!run.ending || *run.ending == Ending::completed)
    run.ending = how.ending;
  if (!is_moving(run.state))
    return enter(run, State::done, now, {Action::end});
  if (how.ending == Ending::link_lost)
    run.deadlines.cut = run.deadlines.cut_unheard;
  if (run.state == how.into || run.state == State::cutting)
    return stay(run);
  const bool at_once = how.into == State::cutting;
  return enter(run, how.into, now, {at_once ? Action::send_cut : Action::send_stop});
}

Step finish(Run run, Duration now) {
  if (!run.ending)
    run.ending = Ending::completed;
  return enter(run, State::done, now, {Action::end});
}

/// Rule 4: the deadlines of stopping and cutting.
Step on_tick(const Run& run, Duration now) {
  const Duration spent = now - run.since;
  if (run.state == State::stopping && !run.coasting && spent >= run.deadlines.stop) {
    Run harder = run;
    if (!harder.ending || *harder.ending == Ending::completed)
      harder.ending = Ending::drive_fault; // a program's own end that does not come to rest
    return enter(harder, State::cutting, now, {Action::send_cut});
  }
  const bool off = run.state == State::cutting || run.coasting;
  if (off && spent >= run.deadlines.cut)
    return finish(run, now);
  return stay(run);
}

Step on_motor_off(Run run, Duration now) {
  if (run.state != State::stopping || run.coasting)
    return stay(run);
  run.coasting = true;
  run.since = now;
  return stay(run);
}

Step on_standstill(Run run, Duration now) {
  if (run.state != State::stopping && run.state != State::cutting)
    return stay(run);
  run.standstill_seen = true;
  return finish(run, now);
}

/// The events of a run that goes as planned.
Step on_progress(const Run& run, Event event, Duration now) {
  const bool under_way =
      run.state == State::arming || run.state == State::ramping || run.state == State::dwelling;
  switch (event) {
  case Event::plan_accepted:
    return run.state == State::idle ? enter(run, State::ready, now) : stay(run);
  case Event::start:
    return run.state == State::ready
               ? enter(run, State::arming, now, {Action::send_program_and_start})
               : stay(run);
  case Event::ramp_begun:
    return under_way && run.state != State::ramping ? enter(run, State::ramping, now) : stay(run);
  case Event::dwell_begun:
    return under_way && run.state != State::dwelling ? enter(run, State::dwelling, now) : stay(run);
  case Event::program_ended: {
    if (!under_way)
      return stay(run);
    Run ended = run;
    ended.ending = Ending::completed;
    return enter(ended, State::stopping, now); // the driver ramps down by itself
  }
  default:
    return stay(run);
  }
}

} // namespace

bool is_moving(State state) {
  return state != State::idle && state != State::ready && state != State::done;
}

Step advance(const Run& run, Event event, Duration now) {
  if (run.state == State::done)
    return stay(run);
  if (const auto how = halt_for(event))
    return halt(run, *how, now);
  if (event == Event::tick)
    return on_tick(run, now);
  if (event == Event::motor_off)
    return on_motor_off(run, now);
  if (event == Event::standstill)
    return on_standstill(run, now);
  return on_progress(run, event, now);
}

std::string_view word(Ending ending) {
  const auto at = std::find_if(kEndingWords.begin(), kEndingWords.end(),
                               [&](const auto& row) { return row.first == ending; });
  return at == kEndingWords.end() ? "drive_fault" : at->second;
}

std::optional<Ending> ending_from_word(std::string_view text) {
  for (const auto& [ending, written] : kEndingWords)
    if (written == text)
      return ending;
  return std::nullopt;
}

std::string_view word(State state) {
  constexpr std::array<std::string_view, kStates> kWords{
      "idle", "ready", "arming", "ramping", "dwelling", "stopping", "cutting", "done"};
  return kWords.at(static_cast<std::size_t>(state));
}

std::string_view word(Event event) {
  constexpr std::array<std::string_view, kEvents> kWords{
      "plan_accepted", "start",      "ramp_begun",    "dwell_begun",  "program_ended",
      "motor_off",     "standstill", "operator_stop", "operator_cut", "terminated",
      "lid_open",      "overspeed",  "stall",         "tach_lost",    "tach_implausible",
      "imbalance",     "limit",      "drive_fault",   "link_lost",    "record_failed",
      "tick"};
  return kWords.at(static_cast<std::size_t>(event));
}

} // namespace whirler::run
