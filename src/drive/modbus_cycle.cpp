// The cycle of a Modbus drive: told its target, read, judged, reported.
#include <utility> // ahead of Asio, see serial_port.cpp

#include "modbus_watch.hpp"
#include "wall_time.hpp"
#include "whirler/modbus/cycle_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::drive {

using namespace modbus;

namespace {

/// Of a streamed ramp. Time that this loop was kept from running is not made up for there: the
/// ramp would jump. Dwells, and the ramps of a drive with a slope of its own, go by the clock.
constexpr Duration kLongestStep = modbus::kLongestStreamed;
constexpr Duration kPiece = milliseconds(5);  // so finely a cycle's time is told apart
constexpr Duration kWaitForRest = seconds(2); // at the stop ramp's end, before the drive lets go

/// `spent` of the program's time, of which a streamed ramp takes no more than the guard allows.
void advance(plant::ProgramWalk& walk, Duration spent, bool streamed) {
  Duration ramped;
  while (spent > Duration{}) {
    const Duration piece = std::min(spent, kPiece);
    spent = spent - piece;
    const bool ramp = walk.stopping() || walk.phase() == link::Phase::ramp;
    if (ramp && streamed && ramped >= kLongestStep)
      return;
    ramped = ramp ? ramped + piece : ramped;
    walk.advance(piece);
  }
}

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
    refused_ = answer.fault().what + "; " + answer.fault().next;
    digest();
  });
}

void ModbusDrive::begin_cycle() {
  if (phase_ == Phase::program && was_silent())
    return digest();
  walk();
  if (phase_ == Phase::program && walk_.at_rest()) {
    if (!walk_over_since_)
      walk_over_since_ = WallClock::now();
    if (rest_seen_ >= kReadingsInARow || since(*walk_over_since_) > kWaitForRest)
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
    reading_.speed = rad_per_s(std::abs(said.rad_per_s()));
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
  const Duration spent = since(walked_);
  walked_ = WallClock::now();
  if (phase_ == Phase::program)
    advance(walk_, spent, !setup_.description.slope);
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
        refused_ = answer.fault().what + "; " + answer.fault().next;
    });
}

/// The stop ramp has been walked: the drive lets go of the motor.
void ModbusDrive::end_program() {
  phase_ = Phase::ending;
  rest_under_power_ = rest_seen_ >= kReadingsInARow;
  last_cut_ = WallClock::now();
  watch_->running_since.reset();
  run_writes(setup_.description.stop, 0, [this] {
    if (phase_ == Phase::ending)
      phase_ = Phase::off;
    begin_cycle();
  });
}

} // namespace whirler::drive
