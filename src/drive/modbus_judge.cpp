// What a Modbus drive's readings mean: at rest, too fast, silent too long, still running.
#include <utility> // ahead of Asio, see serial_port.cpp

#include "link_words.hpp"
#include "modbus_watch.hpp"
#include "wall_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::drive {

using namespace modbus;

namespace {

constexpr int kRestReadings = 5;
constexpr double kOverspeed = 1.1; // of the ceiling, as everywhere
/// Above what was asked for, of a ramp's point or a dwell's speed: no overshoot of a sound drive.
constexpr double kFaster = 1.2;
const Speed kFasterBy = rpm(200);
constexpr Duration kFastFor = seconds(0.5);

Speed size_of(Speed speed) { return rad_per_s(std::abs(speed.rad_per_s())); }
std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 4) + " rpm"; }

/// The first that is found wrong is the report's cause.
void blame(Report& report, run::Event event, const std::string& words) {
  if (report.cause)
    return;
  report.cause = event;
  report.cause_text = words;
}

} // namespace

Speed ModbusDrive::rest_speed() const {
  return std::max(rpm(5), 2.0 * setup_.description.actual.scale);
}

void ModbusDrive::watch_rest() {
  rest_seen_ = size_of(reading_.speed) <= rest_speed() ? rest_seen_ + 1 : 0;
  const bool told = (phase_ == Phase::off || phase_ == Phase::cutting) && !stop_pending_;
  note_since(watch_->running_since, told && says_running());
  if (told && at_rest() && !says_running())
    started_ = false;
}

bool ModbusDrive::says_running() const {
  return setup_.description.running.has_value() && reading_.running;
}

bool ModbusDrive::tach_at_rest() const { return tach_->alive() && tach_->status().still; }

bool ModbusDrive::at_rest() const {
  if (rest_seen_ < kRestReadings)
    return false;
  const auto& running_since = watch_->running_since;
  const bool given_up = // what was cut and stands is not waited for: the run has said what it says
      phase_ == Phase::cutting && running_since && since(*running_since) > Watch::kToLetGo;
  if (running_since && !given_up)
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
  judge_stop(report);
  if (phase_ != Phase::program)
    return;
  judge_silence(report);
  if (refused_)
    blame(report, run::Event::drive_fault, *refused_);
  if ((reading_.fault_word & drive.fault.mask) != 0)
    blame(report, run::Event::drive_fault,
          fault_text(drive, reading_.fault_word, reading_.fault_code));
  idle_seen_ = reading_.running ? 0 : idle_seen_ + 1;
  if (idle_seen_ >= 2)
    blame(report, run::Event::drive_fault,
          "the drive has stopped by itself: its stop input (lid or emergency stop), or somebody at "
          "its panel");
  judge_speed(report);
  if (tach_)
    judge_tach(report);
}

/// Counts how long something has been wrong, and makes it the report's cause after `most`.
void ModbusDrive::lag(Report& report, bool astray, Duration most, run::Event event,
                      const std::string& words) {
  note_since(astray_since_, astray);
  if (astray_since_ && since(*astray_since_) > most)
    blame(report, event, words);
}

std::optional<Duration> ModbusDrive::was_silent() const {
  const auto& dead_man = setup_.description.dead_man;
  const Duration longest = master_.longest_unspoken();
  const Duration most =
      dead_man ? std::min(dead_man->time, Watch::kSilenceMost) : Watch::kSilenceMost;
  return longest > most ? std::optional(longest) : std::nullopt;
}

/// It has stopped by itself, or it has turned with nobody to stop it.
void ModbusDrive::judge_silence(Report& report) {
  const auto silent = was_silent();
  if (!silent)
    return;
  const auto& dead_man = setup_.description.dead_man;
  blame(report, run::Event::link_lost,
        "nothing was said to the drive for " + number_text(silent->s(), 3) + " s, longer than " +
            (dead_man ? "its own time-out (" + number_text(dead_man->time.s(), 3) + " s)"
                      : number_text(Watch::kSilenceMost.s(), 2) + " s") +
            ": this program was kept from running (a laptop asleep, a stopped process), or the "
            "line");
}

/// Told to stop, it says that it has not.
void ModbusDrive::judge_stop(Report& report) {
  if (!watch_->running_since || since(*watch_->running_since) < Watch::kToLetGo)
    return;
  blame(report, run::Event::drive_fault,
        std::string("told to ") + (phase_ == Phase::cutting ? "let go" : "stop") +
            ", the drive still says it is running: switch its supply off before you open the lid, "
            "and compare \"stop\" and \"running\" with its manual");
}

/// Where it ramps by itself the point of the ramp is not ours to judge by, only where it leads; and
/// a shaft that is to slow down may lag.
bool ModbusDrive::too_fast(Speed seen) {
  const auto at = walk_.segment();
  if (!at)
    return false;
  const Speed goal = segments_[*at].target;
  const Speed from = *at == 0 ? rpm(0) : segments_[*at - 1U].target;
  const bool by_itself = setup_.description.slope.has_value();
  const Speed asked = from > goal ? from : by_itself ? goal : walk_.target().speed;
  const Speed most = std::max(asked, setup_.description.limits.speed_min.value_or(rpm(0)));
  auto& since_when = watch_->fast_since;
  note_since(since_when, size_of(seen) > kFaster * most + kFasterBy);
  return since_when && since(*since_when) > kFastFor;
}

void ModbusDrive::judge_speed(Report& report) {
  const Speed seen = reading_.speed;
  const Speed asked = walk_.target().speed;
  fast_seen_ = size_of(seen) > kOverspeed * ceiling_ ? fast_seen_ + 1 : 0;
  if (fast_seen_ >= kReadingsInARow)
    blame(report, run::Event::overspeed,
          "the drive reads " + rpm_text(seen) + ", the limit is " + rpm_text(ceiling_));
  if (seen < rpm(-50))
    blame(report, run::Event::drive_fault,
          "the shaft turns the wrong way: check \"direction\" and the motor's phases");
  const std::string both = "the drive reads " + rpm_text(seen) + " where " + rpm_text(asked);
  const std::string fast = both + " was asked for, too fast: compare \"scale_rpm\" of \"target\" "
                                  "and \"actual\", and the motor's pole pairs, with the manual";
  if (too_fast(seen))
    blame(report, run::Event::overspeed, fast);
  if (walk_.stopping())
    lag(report, seen > 1.2 * asked + rpm(200), seconds(2), run::Event::drive_fault,
        both + " is the stop ramp");
  else if (walk_.phase() == link::Phase::dwell)
    lag(report, size_of(seen - asked) > 0.1 * asked + rpm(30), seconds(2),
        seen > asked ? run::Event::overspeed : run::Event::stall,
        seen > asked ? fast : both + " was asked for");
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
  note_since(tach_astray_since_, astray);
  const bool long_enough = tach_astray_since_ && since(*tach_astray_since_) > seconds(1.5);
  if (!silent && !long_enough)
    return;
  const bool lost = silent || tach_->status().still;
  blame(report, lost ? run::Event::tach_lost : run::Event::tach_implausible,
        silent ? "the tach's board has gone silent"
               : "the marks say " + rpm_text(marks) + ", the drive " + rpm_text(drive));
}

} // namespace whirler::drive
