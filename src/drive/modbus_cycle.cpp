// The cycle of a Modbus drive: told its target, read, judged, reported.
#include <utility> // ahead of Asio, see serial_port.cpp

#include "whirler/drive/modbus_drive.hpp"

#include "link_words.hpp"
#include "wall_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::drive {

using namespace modbus;

namespace {

constexpr int kRestReadings = 5;
/// Time that this loop was kept from running is not made up for: the ramp would jump.
constexpr Duration kLongestStep = milliseconds(250);
constexpr Duration kWaitForRest = seconds(2); // at the stop ramp's end, before the drive lets go
constexpr double kOverspeed = 1.1;            // of the ceiling, as everywhere
constexpr int kInARow = 3;                    // readings, before one is believed

Speed size_of(Speed speed) { return rad_per_s(std::abs(speed.rad_per_s())); }
std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 4) + " rpm"; }

} // namespace

// ---- told and read

void ModbusDrive::keep_alive() {
  if (!std::exchange(awaiting_, false) || phase_ == Phase::resting || phase_ == Phase::starting)
    return;
  begin_cycle();
}

void ModbusDrive::go_on(const Request& request,
                        std::function<void(const std::vector<std::uint16_t>&)> then) {
  master_.ask(request, [this, then = std::move(then)](const Answer& answer) {
    if (answer)
      return then(*answer);
    if (answer.fault().kind == FaultKind::link)
      return on_lost(answer.fault());
    refused_ = answer.fault().what;
    digest();
  });
}

void ModbusDrive::begin_cycle() {
  walk();
  if (phase_ == Phase::program && walk_.at_rest()) {
    if (!walk_over_since_)
      walk_over_since_ = WallClock::now();
    if (rest_seen_ >= kInARow || since(*walk_over_since_) > kWaitForRest)
      return end_program();
  }
  follow_slope();
  send_again();
  if (const auto request = target_write(goal()))
    go_on(*request, [this](const auto&) { read_speed(); });
}

void ModbusDrive::read_speed() {
  go_on(read(setup_.description.actual.cell), [this](const auto& words) {
    take_speed(words);
    read_fault();
  });
}

void ModbusDrive::read_fault() {
  go_on(read(setup_.description.fault.cell), [this](const auto& words) {
    reading_.fault_word = words.front();
    reading_.fault_code.reset();
    const auto& drive = setup_.description;
    if (drive.fault_code && (words.front() & drive.fault.mask) != 0)
      return read_code();
    read_status();
  });
}

void ModbusDrive::read_code() {
  go_on(read(setup_.description.fault_code->cell), [this](const auto& words) {
    reading_.fault_code = words.front();
    read_status();
  });
}

void ModbusDrive::read_status() {
  const auto& drive = setup_.description;
  if (!drive.running)
    return digest();
  if (drive.running->cell == drive.fault.cell) { // one word says both
    take_status(reading_.fault_word);
    return digest();
  }
  go_on(read(drive.running->cell), [this](const auto& words) {
    take_status(words.front());
    digest();
  });
}

void ModbusDrive::take_status(std::uint16_t word) {
  const auto& test = *setup_.description.running;
  reading_.running = (word & test.mask) == test.value;
}

void ModbusDrive::take_speed(const std::vector<std::uint16_t>& words) {
  const auto& drive = setup_.description;
  const Speed said = drive.actual.value_of(words);
  if (!said.is_finite()) {
    refused_ = "the drive's speed reads as no number";
    return;
  }
  if (!reads_by_sign(drive))
    reading_.speed = size_of(said);
  else
    reading_.speed =
        setup_.counterclockwise == drive.direction->negative_is_counterclockwise ? -said : said;
}

void ModbusDrive::digest() {
  watch_rest();
  Report made = report();
  judge(made);
  refused_.reset();
  awaiting_ = true;
  if (listener_ != nullptr)
    listener_->on_report(made);
}

// ---- the program

/// Lets the program's time pass.
void ModbusDrive::walk() {
  const auto now = WallClock::now();
  const Duration spent = std::min(since(walked_), kLongestStep);
  walked_ = now;
  if (phase_ == Phase::program)
    walk_.advance(spent);
}

/// What the drive is told: the ramp's next point, or its end where the drive has a slope.
Speed ModbusDrive::goal() const {
  if (phase_ != Phase::program)
    return rpm(0);
  if (!setup_.description.slope)
    return walk_.target().speed;
  const auto segment = walk_.segment();
  return segment ? segments_[*segment].target : rpm(0);
}

std::vector<Request> ModbusDrive::slope_writes(Ramp up, Ramp down, bool always) {
  const auto& drive = setup_.description;
  std::vector<Request> writes;
  const auto add = [&](const std::optional<SlopeRegister>& slope, Ramp wanted,
                       std::optional<Ramp>& held) {
    if (!slope || (!always && held == wanted))
      return;
    held = wanted;
    if (auto words = slope->words_for(wanted))
      writes.push_back(write(slope->cell, std::move(*words)));
  };
  add(drive.slope, up, slope_up_);
  add(drive.slope_down, down, slope_down_);
  return writes;
}

void ModbusDrive::follow_slope() {
  if (phase_ != Phase::program || !setup_.description.slope)
    return;
  Ramp up = slope_up_.value_or(stop_slope_);
  Ramp down = stop_slope_;
  bool braking = walk_.stopping();
  if (const auto at = walk_.segment()) {
    const auto& segment = segments_[*at];
    const Speed from = *at == 0 ? rpm(0) : segments_[*at - 1U].target;
    braking = segment.target < from && walk_.phase() == link::Phase::ramp;
    (braking ? down : up) = segment.slope;
  }
  if (!setup_.description.slope_down && braking)
    up = down;
  for (const auto& request : slope_writes(up, down, false))
    master_.ask(request, [this](const Answer& answer) {
      if (!answer && answer.fault().kind == FaultKind::input)
        refused_ = answer.fault().what;
    });
}

/// The stop ramp has been walked: the drive lets go of the motor.
void ModbusDrive::end_program() {
  phase_ = Phase::ending;
  rest_under_power_ = rest_seen_ >= kInARow;
  last_cut_ = WallClock::now();
  run_writes(setup_.description.stop, 0, [this] {
    if (phase_ == Phase::ending)
      phase_ = Phase::off;
    begin_cycle();
  });
}

// ---- what it means

Speed ModbusDrive::rest_speed() const {
  return std::max(rpm(5), 2.0 * setup_.description.actual.scale);
}

void ModbusDrive::watch_rest() {
  rest_seen_ = size_of(reading_.speed) <= rest_speed() ? rest_seen_ + 1 : 0;
  if ((phase_ == Phase::off || phase_ == Phase::cutting) && !stop_pending_ && at_rest())
    started_ = false;
}

bool ModbusDrive::tach_at_rest() const { return tach_->alive() && tach_->status().still; }

bool ModbusDrive::at_rest() const {
  if (rest_seen_ < kRestReadings)
    return false;
  if (tach_)
    return tach_at_rest();
  return setup_.description.actual_from == SpeedSource::encoder || rest_under_power_;
}

Motion ModbusDrive::motion() const {
  switch (phase_) {
  case Phase::starting:
    return Motion::starting;
  case Phase::program:
    if (walk_.stopping())
      return Motion::stopping;
    return walk_.phase() == link::Phase::dwell ? Motion::dwelling : Motion::ramping;
  case Phase::ending:
    return Motion::stopping;
  case Phase::resting:
  case Phase::off:
  case Phase::cutting:
    break;
  }
  return Motion::off;
}

Report ModbusDrive::report() const {
  Report report;
  report.motion = motion();
  if (tach_ && tach_->greeting().lid_switch)
    report.lid = report_from(tach_->status(), seconds(0), false).lid;
  report.enabled = phase_ == Phase::program;
  report.still = (phase_ == Phase::off || phase_ == Phase::cutting) && !stop_pending_ && at_rest();
  report.ours = phase_ != Phase::resting;
  report.ended = phase_ == Phase::off && !stop_asked_;
  if (phase_ == Phase::program) {
    if (const auto segment = walk_.segment())
      report.segment = *segment;
    report.target = walk_.target().speed;
  }
  report.measured = size_of(reading_.speed);
  report.clock = since(made_);
  const auto& counts = master_.counts();
  report.frames_discarded = static_cast<std::uint32_t>(counts.damaged + counts.foreign);
  return report;
}

void ModbusDrive::judge(Report& report) {
  const auto& drive = setup_.description;
  const auto say = [&report](run::Event event, const std::string& words) {
    if (!report.cause) {
      report.cause = event;
      report.cause_text = words;
    }
  };
  if (phase_ != Phase::program)
    return;
  if (refused_)
    say(run::Event::drive_fault, *refused_);
  if ((reading_.fault_word & drive.fault.mask) != 0)
    say(run::Event::drive_fault, fault_text(drive, reading_.fault_word, reading_.fault_code));
  idle_seen_ = reading_.running ? 0 : idle_seen_ + 1;
  if (idle_seen_ >= 2)
    say(run::Event::drive_fault, "the drive has stopped by itself: its stop input (lid or "
                                 "emergency stop), or somebody at its panel");
  judge_speed(report);
  if (tach_)
    judge_tach(report);
}

/// Counts how long something has been wrong, and makes it the report's cause after `most`.
void ModbusDrive::lag(Report& report, bool astray, Duration most, run::Event event,
                      const std::string& words) {
  if (!astray) {
    astray_since_.reset();
    return;
  }
  if (!astray_since_)
    astray_since_ = WallClock::now();
  if (since(*astray_since_) > most && !report.cause) {
    report.cause = event;
    report.cause_text = words;
  }
}

void ModbusDrive::judge_speed(Report& report) {
  const Speed seen = reading_.speed;
  const Speed asked = walk_.target().speed;
  fast_seen_ = size_of(seen) > kOverspeed * ceiling_ ? fast_seen_ + 1 : 0;
  if (fast_seen_ >= kInARow && !report.cause) {
    report.cause = run::Event::overspeed;
    report.cause_text =
        "the drive reads " + rpm_text(seen) + ", the limit is " + rpm_text(ceiling_);
  }
  if (seen < rpm(-50) && !report.cause) {
    report.cause = run::Event::drive_fault;
    report.cause_text = "the shaft turns the wrong way: check \"direction\" and the motor's phases";
  }
  const std::string both = "the drive reads " + rpm_text(seen) + " where " + rpm_text(asked);
  if (walk_.stopping())
    lag(report, seen > 1.2 * asked + rpm(200), seconds(2), run::Event::drive_fault,
        both + " is the stop ramp");
  else if (walk_.phase() == link::Phase::dwell)
    lag(report, size_of(seen - asked) > 0.1 * asked + rpm(30), seconds(2), run::Event::stall,
        both + " was asked for");
  else
    lag(report, asked > rpm(100) && seen < 0.5 * asked - rpm(50), seconds(1.5), run::Event::stall,
        both + " was asked for");
}

/// The drive's own speed and the marks that pass must tell the same.
void ModbusDrive::judge_tach(Report& report) {
  const Speed drive = size_of(reading_.speed);
  const Speed marks = tach_->status().measured;
  const bool silent = !tach_->alive();
  const bool fast = drive > rpm(300);
  const bool astray = fast && size_of(marks - drive) > 0.1 * drive + rpm(30);
  if (!astray)
    tach_astray_since_.reset();
  else if (!tach_astray_since_)
    tach_astray_since_ = WallClock::now();
  const bool long_enough = tach_astray_since_ && since(*tach_astray_since_) > seconds(1.5);
  if ((!silent && !long_enough) || report.cause)
    return;
  const bool lost = silent || tach_->status().still;
  report.cause = lost ? run::Event::tach_lost : run::Event::tach_implausible;
  report.cause_text = silent
                          ? "the tach's board has gone silent"
                          : "the marks say " + rpm_text(marks) + ", the drive " + rpm_text(drive);
}

} // namespace whirler::drive
