// What a run waits for and no longer waits for: signals, its own absence, a standstill that nothing
// can show.
#include "run_loop.hpp"

#include "whirler/units/text.hpp"

#include <csignal>
#include <utility>

namespace whirler::session {
namespace {

/// A loop that was itself kept from running for so long must not take its own absence for the
/// driver's silence.
constexpr Duration kAbsence = milliseconds(200.0);
/// And longer than this (a sleeping laptop, a stopped process) nobody has watched what turned, and
/// nobody may be there any more: the run ends. A driver's own dead-man may have ended it sooner.
constexpr Duration kAbsenceMost = seconds(1.0);
/// After a cut, with neither tach nor encoder, nobody can tell that the plate stands: the speed
/// that the drive guesses must have read zero for so long, and then a person looks.
constexpr Duration kBlindWait = seconds(5.0);
/// A signal sooner after a cut than this is not meant for the wait for standstill.
constexpr Duration kCutAlone = seconds(1.0);

std::string cause_of_signal(int number) {
  switch (number) {
  case SIGTERM:
    return "the program was told to end (SIGTERM)";
  case SIGHUP:
    return "the terminal went away (SIGHUP)";
  default:
    return "stopped by the operator";
  }
}

} // namespace

/// The motor is off by the drive's own word after a cut; only that the plate stands is not known.
bool RunLoop::waits_for_standstill_only() const {
  return run_.state == run::State::cutting && now() - run_.since > kCutAlone && report_ &&
         report_->motion == drive::Motion::off;
}

/// The next tick ends the run, without standstill seen.
void RunLoop::wait_no_longer() { run_.deadlines.cut = Duration{}; }

void RunLoop::on_signal(int number) {
  ++signals_;
  if (waits_for_standstill_only()) {
    tell("the wait for standstill was ended by the operator");
    return wait_no_longer();
  }
  if (number == SIGTERM || number == SIGHUP)
    handle(signals_ > 1 ? run::Event::operator_cut : run::Event::terminated,
           cause_of_signal(number));
  else
    handle(signals_ > 1 || number == SIGQUIT ? run::Event::operator_cut : run::Event::operator_stop,
           cause_of_signal(number));
}

/// In a hurry the spinner is this program's own, and is kept from running with it.
void RunLoop::look_for_absence() {
  const Duration absent =
      drive::clock_with_sleep() - std::exchange(present_, drive::clock_with_sleep());
  if (absent > kAbsence)
    heard_ = WallClock::now();
  if (absent <= kAbsenceMost || !run::is_moving(run_.state) || order_.hurry > 1.0)
    return;
  handle_heard(run::Event::link_lost,
               "this program did not run for " + number_text(absent.s(), 3) +
                   " s (a laptop asleep, a stopped process): nobody watched what turned");
}

/// A silence of ours, on a line that is sound: standstill is waited for as after any other cut.
void RunLoop::handle_heard(run::Event event, const std::string& cause) {
  const Duration patience = run_.deadlines.cut;
  handle(event, cause);
  run_.deadlines.cut = patience;
}

/// Where neither tach nor encoder can show standstill.
void RunLoop::watch_blind_wait(const drive::Report& report) {
  const bool off = report.motion == drive::Motion::off && run_.state == run::State::cutting;
  if (!off || own_clock_ || has_tach_ || report.still || report.measured > rpm(5))
    reads_rest_since_.reset();
  else if (!reads_rest_since_)
    reads_rest_since_ = WallClock::now();
  if (!reads_rest_since_)
    return;
  const std::chrono::duration<double> rests = WallClock::now() - *reads_rest_since_;
  if (seconds(rests.count()) > kBlindWait)
    wait_no_longer();
}

} // namespace whirler::session
