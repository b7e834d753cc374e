#include "rig.hpp"

#include <algorithm>
#include <numbers>
#include <utility>

namespace bench {

using whirler::plant::MarkPulse;
using whirler::plant::SeenAngle;

namespace {
constexpr Cycles kStep = kCyclesPerMs / 10;
constexpr double kMarkShare = 0.5; ///< of a mark's pitch that is mark, not gap
constexpr double kWideMarkShare = 0.8;
constexpr double kNarrowMarkShare = 0.4;

SeenAngle seen(const whirler::plant::Spinner& spinner) {
  return {spinner.seen_angle(), spinner.seen_rate()};
}
} // namespace

Rig::Rig(Chip& chip, const RigModel& model)
    : chip_(chip), model_(model), controller_(model.controller), spinner_(model.setup.spinner),
      sensor_(model.setup.marks, model.setup.seed, seen(spinner_)), began_(chip.now()) {
  chip_.drive(kTachPin, false);
  chip_.drive(kIndexPin, model_.setup.marks.per_turn == 1 && !model_.wide_index);
  lid(false);
  chip_.on_enable([this](bool on) { enable_changed(on); });
  chip_.on_servo_pulse([this](Cycles width) { servo_pulse(width); });
  supply_changed();
  step();
}

void Rig::lid(bool open) { chip_.drive(kLidPin, open); } // a closed contact pulls the pin low

void Rig::emergency_stop(bool pressed) {
  stop_pressed_ = pressed;
  supply_changed();
}

void Rig::cut_tach_wire() {
  tach_cut_ = true;
  level(true);
}

void Rig::enable_changed(bool on) {
  if (on)
    ++enabled_count_;
  else
    disabled_at_ = chip_.now();
  supply_changed();
}

void Rig::supply_changed() {
  chip_.drive(kSupplyPin, !stop_pressed_ || !model_.supply_wire);
  powered_ = chip_.output(kEnablePin) && !stop_pressed_;
  controller_.supply(powered_, chip_.now());
}

double Rig::command() const {
  if (stuck_)
    return 1.0;
  if (model_.stage == MotorStage::pwm)
    return chip_.pwm_duty();
  return controller_.command(chip_.now());
}

void Rig::step() {
  const Cycles now = chip_.now();
  whirler::plant::Drive drive;
  drive.command = command();
  drive.powered = powered_;
  drive.load = load_;
  drive.jammed = jammed_;
  const whirler::Duration dt = whirler::seconds(to_s(kStep));
  pulses_.clear();
  spinner_.advance(dt, drive);
  sensor_.advance(dt, seen(spinner_), pulses_);
  for (const MarkPulse& pulse : pulses_)
    mark(pulse);
  if (tracing_ && (now / kStep) % 10 == 0)
    trace_.push_back({now, rpm(), drive.command, chip_.output(kEnablePin)});
  chip_.at(now + kStep, [this] { step(); });
}

void Rig::mark(const MarkPulse& pulse) {
  const double pitch = 2.0 * std::numbers::pi / model_.setup.marks.per_turn;
  double share = kMarkShare;
  if (model_.wide_index)
    share = pulse.mark == 0 ? kWideMarkShare : kNarrowMarkShare;
  const double rate = std::max(spinner_.seen_rate(), 1e-3);
  const auto rise =
      began_ + static_cast<Cycles>(pulse.at.s() * static_cast<double>(kCyclesPerSecond));
  const auto width =
      static_cast<Cycles>(share * pitch / rate * static_cast<double>(kCyclesPerSecond));
  pass(rise, width, pulse.mark);
}

/// A mark that began while the rotor hardly moved was given a long time; it ends before the next
/// one begins all the same.
constexpr Cycles kLeastGap = 100;

void Rig::level(bool high) {
  chip_.drive(kTachPin, high || tach_cut_);
  if (model_.wide_index)
    chip_.drive(kIndexPin, high || tach_cut_);
}

/// The index sensor's slot is open from the gap before mark 0 to the gap behind it.
void Rig::gap_after(int mark) {
  level(false);
  const bool last = mark == model_.setup.marks.per_turn - 1;
  const bool has_slot = model_.setup.marks.index && !model_.wide_index;
  if (has_slot && model_.setup.marks.per_turn > 1 && (last || mark == 0))
    chip_.drive(kIndexPin, last);
}

void Rig::pass(Cycles rise, Cycles width, int mark) {
  if (++marks_passed_ % static_cast<std::uint64_t>(see_every_) != 0)
    return;
  edges_.push_back(rise);
  chip_.at(rise - kLeastGap, [this] {
    if (under_sensor_)
      gap_after(*std::exchange(under_sensor_, std::nullopt));
  });
  chip_.at(rise, [this, mark] {
    under_sensor_ = mark;
    index_passes_ += mark == 0 ? 1 : 0;
    level(true);
  });
  chip_.at(rise + width, [this, mark] {
    if (under_sensor_ == mark)
      gap_after(*std::exchange(under_sensor_, std::nullopt));
  });
}

} // namespace bench
