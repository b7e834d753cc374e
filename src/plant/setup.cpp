#include "whirler/plant/setup.hpp"

#include "whirler/blank/properties.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace whirler::plant {
namespace {

// Proportions of a small bench motor (common practice, no source): it could give four times its
// torque limit at standstill, brakes with half of it, and runs 1.6 times as fast as it is used.
constexpr double kStallOverTorque = 4.0;
constexpr double kBrakeOverTorque = 0.5;
constexpr double kNoLoadOverLimit = 1.6;
// What the driver's maker believed of the rotor with a plate on it, as shares of the bare rotor.
constexpr double kNominalInertia = 1.3;
constexpr double kHeaviestInertia = 2.5;

machine::Mount plain_mount() { return {hertz(15.0), 0.08, grams(575.0)}; }

link::HelloReply capabilities(const machine::Machine& machine, const Unknowns& unknowns) {
  link::HelloReply driver;
  driver.firmware_minor = 1;
  driver.tick_numerator = 1;
  driver.tick_denominator = 2000000;
  driver.tick_bits = unknowns.tick_bits;
  driver.marks_per_turn = static_cast<std::uint16_t>(machine.tach.marks_per_turn);
  driver.index = machine.tach.index;
  driver.enable_output = true;
  driver.lid_switch = machine.lid != machine::Lid::none;
  driver.max_speed = machine.limits.speed;
  driver.min_speed = machine.limits.speed_min;
  driver.max_slope = machine.limits.ramp;
  driver.max_segments = 32;
  const Duration interval_at_10rpm = seconds(6.0 / machine.tach.marks_per_turn);
  driver.still_after = std::max(seconds(1.0), interval_at_10rpm);
  driver.name = "simulated spinner";
  return driver;
}

constexpr double kMostPitchError = 0.05; ///< rms, as a share of the distance between two marks

std::complex<double> vector(Unbalance unbalance, Angle at) {
  return std::polar(unbalance.kg_m(), at.rad());
}

/// Adds the plate: its inertia, its drag, and its unbalance as a vector. Its mass is in what the
/// machine file says of the mount already.
void bolt_on(const blank::Properties& plate, const machine::Machine& machine,
             const Unknowns& unknowns, SpinnerModel& spinner) {
  const bool plate_turns_its_way = machine.direction == machine::Direction::counterclockwise;
  const Angle in_plate = plate.offset.direction(); // counted counter-clockwise from above
  const Angle at = unknowns.plate_x_at + (plate_turns_its_way ? in_plate : -in_plate);
  const auto total = vector(spinner.unbalance, spinner.heavy_side) + vector(plate.unbalance, at);
  spinner.unbalance = kilogram_metres(std::abs(total));
  spinner.heavy_side = radians(std::arg(total));
  spinner.inertia += plate.inertia;
  spinner.drag.air_radius = plate.drag_radius;
}

SpinnerModel bare_spinner(const machine::Machine& machine, const Unknowns& unknowns) {
  const machine::Mount mount = machine.mount.value_or(plain_mount());
  const Torque torque = machine.motor ? machine.motor->torque : millinewton_metres(100.0);
  SpinnerModel spinner;
  spinner.inertia = machine.rotor.inertia;
  spinner.moving = mount.moving;
  spinner.natural = mount.natural;
  spinner.damping = mount.damping;
  spinner.unbalance = unknowns.hub_unbalance;
  spinner.heavy_side = unknowns.hub_heavy_side;
  spinner.mark_radius = machine.tach.mark_radius;
  spinner.motor = {torque, kBrakeOverTorque * torque, kNoLoadOverLimit * machine.limits.speed,
                   kStallOverTorque * torque};
  return spinner;
}

Outcome check_machine(const machine::Machine& machine) {
  if (machine.tach.marks_per_turn < 1 || machine.tach.marks_per_turn > 1024)
    return input_fault("a simulated tach has 1 to 1024 marks a turn", "", "correct the file");
  if (!(machine.limits.speed > rpm(0.0) && machine.limits.speed_min > rpm(0.0) &&
        machine.limits.ramp > rpm_per_s(0.0)))
    return input_fault("a simulated spinner needs limits of speed and ramp above 0", "",
                       "correct the machine file");
  return Done{};
}

} // namespace

Result<Setup> make_setup(const machine::Machine& machine, const std::optional<blank::Blank>& blank,
                         const Unknowns& unknowns) {
  if (const auto possible = check_machine(machine); !possible)
    return possible.fault();
  Setup setup;
  setup.seed = unknowns.seed;
  setup.spinner = bare_spinner(machine, unknowns);
  setup.controller.driver = capabilities(machine, unknowns);
  setup.controller.nominal = {setup.spinner.motor, setup.spinner.drag,
                              kNominalInertia * machine.rotor.inertia,
                              kHeaviestInertia * machine.rotor.inertia};
  if (blank) {
    const auto plate = blank::properties(*blank);
    if (!plate)
      return plate.fault();
    bolt_on(*plate, machine, unknowns, setup.spinner);
  }
  setup.marks.per_turn = machine.tach.marks_per_turn;
  setup.marks.index = machine.tach.index;
  setup.marks.noise = unknowns.pulse_noise;
  setup.marks.pitch_error =
      workshop_pattern(machine.tach.marks_per_turn, unknowns.pitch_rms, unknowns.seed + 1);
  if (const auto possible = check(setup.spinner); !possible)
    return possible.fault();
  return setup;
}

std::vector<Angle> workshop_pattern(int per_turn, Angle rms, std::uint64_t seed) {
  return pitch_pattern(per_turn, std::min(rms, turns(kMostPitchError / per_turn)), seed);
}

machine::Machine plain_machine() {
  machine::Machine machine;
  machine.name = "plain spinner";
  machine.drive.type = machine::DriveType::simulated;
  machine.tach = {6, millimetres(15.0), true, machine::SensorOn::ground};
  machine.limits = {rpm(6000.0), rpm(200.0), rpm_per_s(3000.0), millimetres_per_s(6.3)};
  machine.rotor = {grams(300.0), kg_m2(1e-4)};
  machine.motor = machine::Motor{millinewton_metres(100.0), machine::MotorCurrent::ac};
  machine.mount = plain_mount();
  return machine;
}

} // namespace whirler::plant
