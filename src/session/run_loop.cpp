#include "run_loop.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::session {
namespace {

using std::chrono::milliseconds;

/// Of the wall's time. A simulated spinner that is hurried waits for this host as long; on a busy
/// machine either of the two may be kept from running for most of a second.
constexpr Duration kHurriedSilence = seconds(3.0);
constexpr auto kShowEvery = milliseconds(100);
/// The driver stops at 1.1 times the ceiling; this is the second look, three reports in a row.
constexpr double kOverspeed = 1.1;
constexpr int kOverspeedReports = 3;
const Duration kSettling = seconds(0.5); ///< of a dwell, not counted in the peak error

drive::Program program_of(const RunOrder& order, const profile::Timeline& timeline) {
  drive::Program program;
  for (const auto& segment : timeline.segments)
    if (segment.step < order.plan.profile.steps.size()) {
      const Ramp slope =
          segment.slope.rad_per_s2() > 0.0 ? segment.slope : order.plan.profile.stop_ramp;
      program.segments.push_back({segment.to, slope, segment.dwell});
    }
  program.stop_slope = order.plan.profile.stop_ramp;
  program.ceiling = run::speed_ceiling(order.plan);
  program.lid_confirmed = order.plan.lid_confirmed;
  return program;
}

} // namespace

RunLoop::RunLoop(drive::Drive& drive, const RunOrder& order, const profile::Timeline& timeline,
                 const Observer& observer)
    : drive_(drive), order_(order), timeline_(timeline), observer_(observer) {
  const double stop_s =
      timeline.top_speed().rad_per_s() / order.plan.profile.stop_ramp.rad_per_s2();
  run_.deadlines.stop = seconds(stop_s + 10.0); // and the time to see that nothing turns
}

void RunLoop::greeted(const drive::Identity& identity) {
  has_tach_ = identity.facts.marks_per_turn > 0;
  own_clock_ = identity.own_clock;
  if (has_tach_) {
    turn_speed_.emplace(identity.facts.marks_per_turn, identity.tick);
    watch_.emplace(order_.spinner, identity.tick, order_.baseline);
  }
  ceiling_ = run::speed_ceiling(order_.plan);
}

/// In a hurry the spinner's own clock: on a busy machine it falls behind the wall's, and the record
/// would be longer than what was spun. What has fallen silent has no clock: then the wall's goes
/// on, or no deadline would pass any more.
Duration RunLoop::now() const {
  if (order_.hurry > 1.0 && own_clock_)
    return spun_ + order_.hurry * std::max(seconds(0), silence() - kHurriedSilence);
  const std::chrono::duration<double> wall = WallClock::now() - began_;
  return seconds(wall.count() * order_.hurry);
}

Duration RunLoop::silence() const {
  return seconds(std::chrono::duration<double>(WallClock::now() - heard_).count());
}

Duration RunLoop::since_start() const { return started_ ? now() - *started_ : seconds(0); }

std::optional<Fault> RunLoop::start() {
  if (run_.state != run::State::ready)
    return std::nullopt; // a signal came first: the run is over before it began
  heard_ = WallClock::now();
  started_ = now();
  run_ = run::advance(run_, run::Event::start, now()).run;
  tell("start");
  handing_over_ = true;
  const auto begun = drive_.start_program(program_of(order_, timeline_));
  handing_over_ = false;
  begun_ = begun.ok();
  if (begun || is_over())
    return std::nullopt;
  handle(begun.fault().kind == FaultKind::link ? run::Event::link_lost : run::Event::drive_fault,
         to_text(begun.fault()));
  return begun.fault();
}

void RunLoop::handle(run::Event event, const std::string& cause) {
  const auto step = run::advance(run_, event, now());
  const bool first_reason = step.run.ending != run_.ending;
  const bool moved = step.run.state != run_.state;
  run_ = step.run;
  const bool harder = run_.state == run::State::cutting && !first_reason && !cause.empty() &&
                      (moved || event == run::Event::drive_fault) &&
                      cause_.find(cause) == std::string::npos;
  if (first_reason)
    cause_ = cause;
  else if (harder)
    cause_ += "; then " + cause;
  const bool says_why = harder || (first_reason && !cause.empty());
  if (moved || harder)
    tell(std::string(run::word(run_.state)) + (says_why ? ": " + cause : ""));
  for (const auto action : step.actions)
    act(action);
}

void RunLoop::act(run::Action action) {
  switch (action) {
  case run::Action::send_stop:
    return drive_.command_stop();
  case run::Action::send_cut:
    return drive_.command_cut();
  case run::Action::end:
    rest_ = now();
    return show(true);
  case run::Action::send_program_and_start:
    return; // `start` does it, outside any handler
  }
}

void RunLoop::tell(const std::string& text) {
  if (record_ != nullptr)
    record_->event(text, since_start());
  if (observer_.on_event)
    observer_.on_event(text);
}

void RunLoop::on_tick() {
  look_for_absence();
  // The driver's own dead-man is shorter: whoever is at fault, the motor is off before this host
  // says so. Wall time, also in a hurry.
  const Duration longest = order_.hurry > 1.0 ? kHurriedSilence : drive_.longest_silence();
  if (run::is_moving(run_.state) && silence() > longest)
    handle(run::Event::link_lost,
           "nothing heard from the driver for " + number_text(longest.s(), 2) + " s");
  if (record_ != nullptr && under_way())
    if (const auto fault = record_->fault())
      handle(run::Event::record_failed, to_text(*fault));
  handle(run::Event::tick, "the stop ramp did not end in its time");
  drive_.repeat_stop();
  show(false);
}

void RunLoop::on_lost(const Fault& fault) { handle(run::Event::link_lost, to_text(fault)); }

bool RunLoop::under_way() const {
  return run_.state == run::State::arming || run_.state == run::State::ramping ||
         run_.state == run::State::dwelling;
}

void RunLoop::on_pulses(const drive::PulseBatch& batch) {
  pulses_ += batch.ticks.size();
  if (!turn_speed_)
    return;
  if (batch.lost_before > 0) {
    pulses_lost_ += batch.lost_before;
    turn_speed_->lost();
    watch_->lost(batch.lost_before);
  }
  turn_speed_->feed(batch.ticks);
  feed_watch(batch);
  if (record_ != nullptr)
    record_->pulses(batch);
}

/// A driver with an index does not know the marks of its first turn, or of the turn after a slip;
/// the watch goes on counting through those.
void RunLoop::feed_watch(const drive::PulseBatch& batch) {
  const bool index = order_.plan.driver && order_.plan.driver->index;
  watch_->feed(batch.ticks, index ? batch.marks : std::span<const std::int16_t>());
}

void RunLoop::on_report(const drive::Report& report) {
  look_for_absence();
  heard_ = WallClock::now();
  if (!started_ || handing_over_ || !spun_since_) // words under way are no time of the run
    spun_since_ = report.clock;
  spun_ = std::max(spun_, report.clock - *spun_since_);
  report_ = report;
  if (!started_) // the greeting's reports: the lid, and nothing else
    return;
  if (report.still && turn_speed_)
    turn_speed_->at_rest();
  if (record_ != nullptr)
    record_->report(report, speed(), since_start());
  compare_clocks(report);
  follow(report);
  watch_speed(report);
  watch_jitter(report);
  watch_blind_wait(report);
  if (run::is_moving(run_.state))
    drive_.keep_alive();
}

/// The driver's report as events.
void RunLoop::follow(const drive::Report& report) {
  if (report.lid == run::LidState::open && run::is_moving(run_.state) &&
      order_.plan.machine.lid != machine::Lid::none)
    handle(run::Event::lid_open, "the lid was opened");
  if (report.motion == drive::Motion::off && report.still)
    handle(run::Event::standstill); // means something only to a run that is stopping
  if (!begun_)                      // what it was latched by before the start is no news
    return;
  if (report.cause && run::is_moving(run_.state)) {
    if (own_clock_)
      handle(*report.cause, report.cause_text);
    else
      handle_heard(*report.cause, report.cause_text);
  }
  if (report.ours)
    follow_program(report);
}

/// A report about the program that this run has started.
void RunLoop::follow_program(const drive::Report& report) {
  if (report.segment && *report.segment + 1 > steps_ && under_way())
    steps_ = *report.segment + 1;
  switch (report.motion) {
  case drive::Motion::starting:
    break;
  case drive::Motion::ramping:
    if (!program_began_)
      program_began_ = report.clock;
    handle(run::Event::ramp_begun);
    break;
  case drive::Motion::dwelling:
    if (run_.state != run::State::dwelling)
      dwell_began_ = report.clock;
    handle(run::Event::dwell_begun);
    break;
  case drive::Motion::stopping:
    handle(run::Event::program_ended);
    break;
  case drive::Motion::off:
    if (under_way() && report.ended)
      handle(run::Event::program_ended);
    else if (under_way())
      handle(run::Event::drive_fault, "the driver stopped without being told to");
    handle(run::Event::motor_off); // means something only to a run that is stopping
    break;
  }
}

void RunLoop::watch_speed(const drive::Report& report) {
  if (!run::is_moving(run_.state))
    return;
  top_speed_ = std::max(top_speed_, speed());
  over_ceiling_ = speed() > kOverspeed * ceiling_ ? over_ceiling_ + 1 : 0;
  if (over_ceiling_ >= kOverspeedReports)
    handle(run::Event::overspeed, number_text(speed().rpm(), 4) + " rpm, the limit is " +
                                      number_text(ceiling_.rpm(), 4) + " rpm");
  if (run_.state == run::State::dwelling && dwell_began_ &&
      report.clock - *dwell_began_ > kSettling) {
    const Speed error = rad_per_s(std::abs((speed() - report.target).rad_per_s()));
    peak_error_ = std::max(peak_error_.value_or(error), error);
  }
}

void RunLoop::watch_jitter(const drive::Report& report) {
  if (!watch_ || !under_way())
    return;
  if (run_.state == run::State::dwelling)
    if (const auto figure = watch_->figure())
      dwells_.see(steps_, *figure);
  const auto& steps = order_.plan.profile.steps;
  const bool ramping_up =
      report.segment && *report.segment < steps.size() && steps[*report.segment].speed > speed();
  if (!watch_->over_stop_limit() &&
      !(ramping_up && watch_->will_be_over(steps[*report.segment].speed)))
    return;
  if (auto figure = watch_->figure()) { // what was seen when it was stopped, dwell or not
    figure->verdict = tach::Verdict::stop;
    dwells_.see(steps_, *figure);
  }
  handle(run::Event::imbalance, watch_->reason());
}

void RunLoop::compare_clocks(const drive::Report& report) {
  if (!own_clock_ || order_.hurry > 1.0) // in a hurry there is one clock only
    return;
  const ClockPair pair{now(), report.clock};
  if (!first_clocks_)
    first_clocks_ = pair;
  last_clocks_ = pair;
}

Speed RunLoop::speed() const {
  if (turn_speed_)
    if (const auto seen = turn_speed_->last())
      return *seen;
  return report_ ? report_->measured : rpm(0);
}

/// On the way down, where every plate is even at last, the dwells' figure stays.
std::optional<tach::LiveFigure> RunLoop::figure_to_show() const {
  const bool slows = run_.state == run::State::stopping || run_.state == run::State::cutting ||
                     run_.state == run::State::done;
  const auto kept = slows ? dwells_.telling() : std::nullopt;
  return kept ? kept : watch_->figure();
}

Progress RunLoop::progress() const {
  Progress progress;
  progress.state = run_.state;
  progress.steps = order_.plan.profile.steps.size();
  progress.step = steps_;
  if (steps_ > 0 && steps_ <= progress.steps)
    progress.step_name = order_.plan.profile.steps[steps_ - 1].name;
  progress.speed = speed();
  progress.may_be_turning = !run_.standstill_seen;
  progress.elapsed = since_start();
  progress.left = timeline_.total();
  if (report_) {
    progress.target = report_->target;
    progress.lid = report_->lid;
    if (program_began_)
      progress.left = std::max(seconds(0), timeline_.total() - (report_->clock - *program_began_));
  }
  if (watch_)
    if (const auto figure = figure_to_show())
      progress.jitter = LiveJitter{
          figure->amplitude, 0.5 * (figure->interval.high - figure->interval.low), figure->limit,
          std::string(tach::word(figure->verdict)), figure->pattern_known};
  return progress;
}

void RunLoop::show(bool at_once) {
  const auto wall = WallClock::now();
  if (!observer_.on_progress || !started_ || (!at_once && wall - shown_ < kShowEvery))
    return;
  shown_ = wall;
  observer_.on_progress(progress());
}

Summary RunLoop::summary() const {
  Summary summary;
  summary.ending = run_.ending.value_or(run::Ending::drive_fault);
  summary.cause = cause_;
  summary.steps = steps_;
  summary.standstill_seen = run_.standstill_seen;
  summary.top_speed = top_speed_;
  summary.peak_error = peak_error_;
  if (started_ && rest_)
    summary.length = *rest_ - *started_;
  if (first_clocks_ && last_clocks_ && (last_clocks_->ours - first_clocks_->ours).s() > 1.0)
    summary.clock_ratio =
        (last_clocks_->drives - first_clocks_->drives) / (last_clocks_->ours - first_clocks_->ours);
  summary.pulses = pulses_;
  summary.pulses_lost = pulses_lost_;
  summary.jitter = dwells_.telling();
  summary.has_tach = has_tach_;
  return summary;
}

} // namespace whirler::session
