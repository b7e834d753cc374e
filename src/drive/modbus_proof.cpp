// The proof that a drive stops when it is told to, and by itself when nobody speaks to it.
#include <utility> // ahead of Asio, see serial_port.cpp

#include "modbus_watch.hpp"
#include "wall_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::drive {

using namespace modbus;

namespace {

/// How much longer than the drive's own time the line stays silent: the drive's own slack, and the
/// time that a slowing shaft needs before it is seen to slow.
constexpr Duration kSlack = milliseconds(300);
constexpr double kSlower = 0.8; // of the speed before: it has begun to stop
constexpr Duration kToRest = seconds(60);
constexpr Duration kToObey = seconds(3);    // until a stop has been seen to slow the shaft
constexpr Duration kUpToSpeed = seconds(5); // beyond the ramp
constexpr Duration kHold = seconds(1);      // at speed, one reading after another
constexpr double kHeldWithin = 0.1;         // of what was asked for
constexpr Duration kFastFor = seconds(1);
/// A drive that has let go may coast: after its own time-out the shaft is looked at for so long.
constexpr Duration kToSlow = seconds(10);

/// Far over what was asked for, and no overshoot: a scale or a word order is wrong.
bool runs_away(Speed seen, Speed asked) { return seen > 1.5 * asked + rpm(150); }

const char* const kCompareScales =
    "compare \"scale_rpm\", \"type\" and \"word_order\" of \"target\" and \"actual\", and the "
    "motor's pole pairs, with its manual";

} // namespace

/// Off at once, for a proof that cannot go on.
Fault ModbusDrive::cut_for(Fault fault) {
  command_cut();
  const auto told = [this] { return !stop_pending_ && master_.idle(); };
  for (int i = 0; i < 50 && !serve_until(told, std::chrono::milliseconds(20)); ++i)
    repeat_stop();
  return fault;
}

Fault ModbusDrive::operators_end() {
  return cut_for({FaultKind::ended_early, "ended by the operator", setup_.port_name,
                  "nothing is proven: prove again when ready"});
}

std::optional<Fault> ModbusDrive::off_speed(Speed seen, Speed asked) {
  if ((reading_.fault_word & setup_.description.fault.mask) != 0)
    return Fault{FaultKind::ended_early,
                 fault_text(setup_.description, reading_.fault_word, reading_.fault_code),
                 setup_.port_name, "mend its cause and prove again"};
  fast_seen_ = runs_away(seen, asked) ? fast_seen_ + 1 : 0;
  auto& fast_since = watch_->fast_since;
  note_since(fast_since, seen > (1.0 + kHeldWithin) * asked + rpm(50));
  if (fast_seen_ < 2 && !(fast_since && since(*fast_since) > kFastFor))
    return std::nullopt;
  return Fault{FaultKind::ended_early,
               "the drive reads " + number_text(seen.rpm(), 4) + " rpm where " +
                   number_text(asked.rpm(), 3) + " rpm was asked for",
               setup_.port_name, kCompareScales};
}

/// Up to speed along the slope, and held there, with the line never silent; the speed it held.
Result<Speed> ModbusDrive::bring_up(Speed speed, Ramp slope, const std::function<bool()>& give_up) {
  const auto began = WallClock::now();
  const Duration ramp = seconds(speed.rad_per_s() / slope.rad_per_s2());
  const Speed off_most = kHeldWithin * speed + setup_.description.actual.scale;
  std::optional<WallClock::time_point> held_since;
  fast_seen_ = 0;
  watch_->fast_since.reset();
  for (;;) {
    const Duration spent = since(began);
    if (give_up && give_up())
      return operators_end();
    const Speed asked = std::min(speed, (spent / ramp) * speed);
    const auto request = target_write(asked);
    if (!request)
      return cut_for(request.fault());
    if (auto told = tell_now(*request); !told)
      return cut_for(told.fault());
    const auto seen = read_now();
    if (!seen)
      return cut_for(seen.fault());
    if (auto wrong = off_speed(seen->speed, asked))
      return cut_for(*wrong);
    const Speed off = std::max(seen->speed - speed, speed - seen->speed);
    note_since(held_since, spent > ramp && off <= off_most);
    if (held_since && since(*held_since) >= kHold)
      return seen->speed;
    if (!held_since && spent > ramp + kUpToSpeed)
      return cut_for(
          {FaultKind::ended_early,
           "the shaft did not come up to " + number_text(speed.rpm(), 4) +
               " rpm and stay there: the drive reads " + number_text(seen->speed.rpm(), 4) + " rpm",
           setup_.port_name,
           std::string("check \"start\" and \"target\" in the drive's file; ") + kCompareScales});
  }
}

Result<Speed> ModbusDrive::turn_hub(Speed speed, Ramp slope, const std::function<bool()>& give_up) {
  phase_ = Phase::starting;
  stop_slope_ = slope;
  if (auto ready = prepare(slope); !ready) {
    phase_ = Phase::resting;
    return ready.fault();
  }
  if (auto begun = begin_turning(); !begun)
    return cut_for(begun.fault());
  return bring_up(speed, slope, give_up);
}

/// Only asked, never told, until it stands. One that turns again is cut.
Outcome ModbusDrive::await_rest(WallClock::time_point since_when, const std::string& next,
                                const std::function<bool()>& give_up) {
  rest_seen_ = 0;
  const Speed before = reading_.speed;
  Speed lowest = before;
  int rising = 0;
  while (rest_seen_ < 5) {
    const auto seen = read_now();
    if (!seen)
      return cut_for(seen.fault());
    if (give_up && give_up())
      return operators_end();
    if (since(since_when) > kToRest)
      return cut_for({FaultKind::ended_early, "the shaft did not come to rest", setup_.port_name,
                      "see that nothing turns; " + next});
    lowest = std::min(lowest, seen->speed);
    rising = seen->speed > lowest + std::max(rpm(30), rest_speed()) ? rising + 1 : 0;
    if (rising >= kReadingsInARow)
      return cut_for({FaultKind::ended_early,
                      "the shaft slowed to " + number_text(lowest.rpm(), 4) +
                          " rpm and turns faster again, " + number_text(seen->speed.rpm(), 4) +
                          " rpm: the drive starts again when somebody speaks to it",
                      setup_.port_name,
                      "make its communication time-out a stop or a fault that lasts until it is "
                      "reset"});
    rest_seen_ = seen->speed <= rest_speed() ? rest_seen_ + 1 : 0;
  }
  return Done{};
}

/// Told to stop, and then only asked: often enough that its time-out is not what stops it.
Result<Duration> ModbusDrive::see_it_obey(Speed before, const std::function<bool()>& give_up) {
  const auto told_at = WallClock::now();
  if (auto told = run_now(setup_.description.stop, "stopping"); !told)
    return cut_for(told.fault());
  for (;;) {
    const auto seen = read_now();
    if (!seen)
      return cut_for(seen.fault());
    if ((seen->fault_word & setup_.description.fault.mask) != 0)
      return cut_for({FaultKind::ended_early,
                      "told to stop, it stopped by a fault of its own: " +
                          fault_text(setup_.description, seen->fault_word, seen->fault_code),
                      setup_.port_name, "mend its cause and prove again"});
    if (seen->speed <= kSlower * before)
      break;
    if (give_up && give_up())
      return operators_end();
    if (since(told_at) > kToObey)
      return cut_for({FaultKind::ended_early,
                      "the drive kept turning at " + number_text(seen->speed.rpm(), 4) + " rpm, " +
                          number_text(since(told_at).s(), 2) + " s after its \"stop\" was written",
                      setup_.port_name,
                      "see that nothing turns; check \"stop\" in the drive's file"});
  }
  if (auto rest = await_rest(told_at, "check \"stop\" in the drive's file", give_up); !rest)
    return rest.fault();
  const Duration to_rest = since(told_at);
  if (auto off = see_it_let_go(give_up); !off)
    return off.fault();
  return to_rest;
}

/// At rest, and by its own word no longer running: a target of zero is no stop.
Outcome ModbusDrive::see_it_let_go(const std::function<bool()>& give_up) {
  const auto at_rest_since = WallClock::now();
  while (says_running()) {
    if (give_up && give_up())
      return operators_end();
    if (since(at_rest_since) > Watch::kToLetGo)
      return cut_for({FaultKind::ended_early,
                      "told to stop, it stands and still says it is running", setup_.port_name,
                      "compare \"stop\" and \"running\" in the drive's file with its manual"});
    if (const auto seen = read_now(); !seen)
      return cut_for(seen.fault());
  }
  return Done{};
}

/// Faster than it should be after the silence: it coasts, or it has not stopped at all.
Outcome ModbusDrive::see_it_slow(Speed before, Speed first, Duration silence,
                                 const std::function<bool()>& give_up) {
  const auto looked_since = WallClock::now();
  Speed seen = first;
  const auto let_go = [this] {
    return (setup_.description.running && !reading_.running) ||
           (reading_.fault_word & setup_.description.fault.mask) != 0;
  };
  while (seen > kSlower * before && !let_go()) {
    if (give_up && give_up())
      return operators_end();
    const bool slows = seen < first - 0.02 * before;
    if (since(looked_since) > (slows ? kToSlow : kToObey))
      return cut_for({FaultKind::ended_early,
                      "the drive kept turning at " + number_text(seen.rpm(), 4) + " rpm through " +
                          number_text(silence.s(), 3) + " s without a word from here",
                      setup_.port_name,
                      "switch its communication time-out on, with \"stop\" as what it does then"});
    const auto next = read_now();
    if (!next)
      return cut_for(next.fault());
    seen = next->speed;
  }
  return Done{};
}

/// Silent for longer than the drive's time; then only asked, never told, until it stands.
Result<DeadManProof> ModbusDrive::see_it_stop(DeadManProof proof,
                                              const std::function<bool()>& give_up) {
  const auto silent_since = WallClock::now();
  const Duration silence = setup_.description.dead_man->time + kSlack;
  serve_until([] { return false; }, wall_time(silence), give_up);
  proof.silence = since(silent_since);
  if (give_up && give_up())
    return operators_end();
  const auto first = read_now();
  if (!first)
    return cut_for(first.fault());
  proof.after = first->speed;
  if (auto slows = see_it_slow(proof.before, proof.after, proof.silence, give_up); !slows)
    return slows.fault();
  if (auto rest = await_rest(silent_since, "check what the drive does at its time-out", give_up);
      !rest)
    return rest.fault();
  proof.to_rest = since(silent_since);
  return proof;
}

Result<DeadManProof> ModbusDrive::prove_dead_man(Speed speed, Ramp slope,
                                                 const std::function<bool()>& give_up) {
  if (!setup_.description.dead_man)
    return input_fault("the drive's file names no dead-man", setup_.description.name,
                       "add \"dead_man\"");
  DeadManProof proof;
  const auto first = turn_hub(speed, slope, give_up);
  if (!first)
    return first.fault();
  const auto stopped = see_it_obey(*first, give_up);
  if (!stopped)
    return stopped.fault();
  proof.stop_to_rest = *stopped;
  const auto second = turn_hub(speed, slope, give_up);
  if (!second)
    return second.fault();
  proof.before = *second;
  auto seen = see_it_stop(proof, give_up);
  if (seen) { // leave it off, and not only stopped by its own time-out
    if (auto off = run_now(cut_sequence(), "switching off");
        !off && off.fault().kind == FaultKind::link)
      return off.fault();
    started_ = false;
    phase_ = Phase::resting;
  }
  return seen;
}

} // namespace whirler::drive
