// The spinner as its owner describes it: drive, tach, lid, limits, moving masses and mount.
#pragma once

#include "whirler/units/line_format.hpp"
#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>

namespace whirler::machine {

enum class DriveType { link, modbus, simulated };
enum class Direction { clockwise, counterclockwise }; ///< seen from above
enum class SensorOn { ground, sprung };
enum class Lid { interlock_switch, wired_to_drive, none };
enum class Air { open, lidded, vented };
enum class MotorCurrent { ac, brushed };

struct DriveLine {
  DriveType type = DriveType::link;
  std::string port;
  int baud = 500000;
  // Of a Modbus drive:
  Parity parity = Parity::none;
  int stop_bits = 1;
  std::string description; ///< the drive's file; a relative path is from the machine file's folder
  int unit = 0;            ///< 0: the description's
  std::string tach_port;   ///< of a board that counts marks; empty: there is no tach
  int tach_baud = 500000;

  [[nodiscard]] LineFormat line() const { return {baud, parity, stop_bits}; }
};

struct Tach {
  int marks_per_turn = 1;
  Length mark_radius;
  bool index = false;
  SensorOn sensor_on = SensorOn::ground;
};

struct Limits {
  Speed speed;
  Speed speed_min;
  Ramp ramp;
  std::optional<Velocity> balance_grade; ///< ISO 21940-11, e_per times omega
};

/// All that turns with the spindle, the plate excepted.
struct Rotor {
  Mass mass;
  Inertia inertia;
};

struct Motor {
  Torque torque;
  MotorCurrent current = MotorCurrent::ac;
};

/// What carries the spindle: one degree of freedom each way, the same in all directions. Both
/// figures are of the machine as it runs, with a usual plate on it: nothing is added for the plate.
struct Mount {
  Frequency natural;
  double damping = 0.0; ///< ratio to critical
  Mass moving;          ///< all that moves on the mount: M in U/(M R_m)
};

/// Limits of the once-per-turn figure: of the force that the unbalance pulls with, or of the
/// rotor's e times omega, where mount and masses are known; else of the bare angle.
struct JitterLimits {
  std::optional<Velocity> watch_velocity;
  std::optional<Velocity> stop_velocity;
  std::optional<Angle> watch_angle;
  std::optional<Angle> stop_angle;
  std::optional<Force> watch_force;
  std::optional<Force> stop_force;
};

struct Machine {
  std::string name;
  DriveLine drive;
  Direction direction = Direction::clockwise;
  Tach tach;
  Lid lid = Lid::interlock_switch;
  Air air = Air::open;
  Limits limits;
  Rotor rotor;
  std::optional<Motor> motor;
  std::optional<Mount> mount;
  JitterLimits jitter;
};

} // namespace whirler::machine
