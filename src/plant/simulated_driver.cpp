#include "whirler/plant/simulated_driver.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::plant {
namespace {

constexpr Duration kStep = microseconds(250.0);
constexpr int kStepsAProgramStep = 4;
constexpr Duration kProgramStep = milliseconds(1.0);
constexpr Duration kWatchdog = milliseconds(250.0);
constexpr int kGarbageBytesAStep = 5; // some 5 kB/s

SeenAngle seen(const Spinner& spinner) { return {spinner.seen_angle(), spinner.seen_rate()}; }

} // namespace

SimulatedDriver::SimulatedDriver(const Setup& setup)
    : setup_(setup), spinner_(setup.spinner), sensor_(setup.marks, setup.seed + 2, seen(spinner_)),
      faults_(setup.faults), random_(setup.seed + 3),
      controller_(setup.controller, link::Latch::power_up), powered_at_(-setup.awake_for) {
  controller_.advance(setup.awake_for, ticks(seconds(0.0)));
  apply_faults();
}

Truth SimulatedDriver::truth() const {
  const Motion& motion = spinner_.motion();
  const bool lost = boots_left_ > seconds(0.0);
  return {kStep * static_cast<double>(steps_),
          spinner_.speed(),
          motion.theta / kRadPerTurn,
          metres(std::hypot(motion.x, motion.y)),
          lost ? 0.0 : controller_.command(),
          !lost && controller_.enabled(),
          controller_.state(),
          controller_.latch()};
}

Duration SimulatedDriver::unfed() const {
  return awake() && controller_.turning() ? controller_.since_fed() : seconds(0.0);
}

/// The driver's counter, not wrapped, at a simulated time.
std::int64_t SimulatedDriver::ticks(Duration at) const {
  const double own_s = (at - powered_at_).s() * (1.0 + setup_.clock_error);
  const auto& driver = setup_.controller.driver;
  return static_cast<std::int64_t>(
      std::floor(own_s * driver.tick_denominator / driver.tick_numerator));
}

void SimulatedDriver::advance(Duration dt) {
  owed_ += dt;
  while (owed_ >= kStep) {
    owed_ -= kStep;
    step_mechanics();
    ++steps_;
    if (steps_ % kStepsAProgramStep == 0)
      step_program();
  }
}

void SimulatedDriver::step_mechanics() {
  Drive drive;
  const bool on = boots_left_ <= seconds(0.0) && controller_.enabled();
  drive.powered = on && !faults_.holds(FaultWord::estop);
  drive.command = faults_.holds(FaultWord::runaway) ? 1.0 : controller_.command();
  drive.load = newton_metres(load_N_m_);
  drive.jammed = faults_.holds(FaultWord::stall);
  spinner_.advance(kStep, drive);
  pulses_.clear();
  sensor_.advance(kStep, seen(spinner_), pulses_);
  feel_pulses();
}

/// What the wire to the driver lets through.
void SimulatedDriver::feel_pulses() {
  const auto drop = faults_.value(FaultWord::drop);
  for (const MarkPulse& pulse : pulses_) {
    ++seen_pulses_;
    const bool lost = drop && seen_pulses_ % static_cast<std::uint64_t>(*drop) == 0;
    if (lost || faults_.holds(FaultWord::tach) || !awake())
      continue;
    controller_.pulse(ticks(sensor_began_ + pulse.at), pulse.mark == 0);
  }
}

void SimulatedDriver::step_program() {
  apply_faults();
  wander();
  const Duration now = kStep * static_cast<double>(steps_);
  hang_left_ -= hung() ? kProgramStep : seconds(0.0);
  if (hang_began_ && !hung())
    boot(link::Latch::watchdog_reset);
  boots_left_ -= boots_left_ > seconds(0.0) ? kProgramStep : seconds(0.0);
  if (awake()) {
    controller_.advance((1.0 + setup_.clock_error) * kProgramStep, ticks(now));
    speak();
  }
  if (faults_.holds(FaultWord::garbage) && plugged()) {
    std::vector<std::uint8_t> noise(kGarbageBytesAStep);
    for (auto& byte : noise)
      byte = static_cast<std::uint8_t>(random_());
    output_.insert(output_.end(), noise.begin(), noise.end());
  }
  while (!late_.empty() && late_.front().due <= now) {
    output_.insert(output_.end(), late_.front().bytes.begin(), late_.front().bytes.end());
    late_.pop_front();
  }
}

void SimulatedDriver::apply_faults() {
  const Duration now = kStep * static_cast<double>(steps_);
  const auto since_start = first_start_ ? std::optional(now - *first_start_) : std::nullopt;
  faults_.advance(now, since_start);
  if (awake())
    controller_.lid(lid_open_ || faults_.holds(FaultWord::lid));
  if (faults_.begins(FaultWord::marks) || faults_.ends(FaultWord::marks))
    switch_marks();
  if (faults_.begins(FaultWord::reset))
    boot(link::Latch::external_reset);
  if (faults_.begins(FaultWord::brownout))
    boot(link::Latch::brown_out_reset);
  if (faults_.begins(FaultWord::hang)) {
    hang_left_ = kWatchdog;
    hang_began_ = true;
  }
  if (faults_.begins(FaultWord::cable)) {
    late_.clear();
    output_.clear();
  }
}

/// Another disc of marks, seen from where the spindle is now.
void SimulatedDriver::switch_marks() {
  MarkModel marks = setup_.marks;
  if (const auto count = faults_.value(FaultWord::marks)) {
    marks.per_turn = static_cast<int>(*count);
    marks.pitch_error = workshop_pattern(marks.per_turn, milliradians(5.0), setup_.seed + 4);
  }
  sensor_ = MarkSensor(marks, setup_.seed + 5, seen(spinner_));
  sensor_began_ = kStep * static_cast<double>(steps_);
}

/// An Ornstein-Uhlenbeck walk: exact for its step, so its size does not depend on the step.
void SimulatedDriver::wander() {
  const double keeps = std::exp(-kProgramStep.s() / setup_.load.memory.s());
  load_N_m_ =
      keeps * load_N_m_ + std::sqrt(1.0 - keeps * keeps) * setup_.load.rms.N_m() * normal_(random_);
}

void SimulatedDriver::boot(link::Latch woke_by) {
  powered_at_ = kStep * static_cast<double>(steps_);
  controller_ = MotorController(setup_.controller, woke_by);
  stops_ = {};
  decoder_ = link::Decoder(link::kMaxHostPayload);
  boots_left_ = setup_.boots_in;
  hang_left_ = seconds(0.0);
  hang_began_ = false;
  late_.clear();
  to_report_ = seconds(0.0);
}

} // namespace whirler::plant
