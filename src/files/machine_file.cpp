#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"
#include "whirler/units/text.hpp"

#include <array>

namespace whirler::files {
namespace {

using namespace machine;

Conflicts port_missing(const DriveLine& drive) {
  if (drive.type == DriveType::simulated || !drive.port.empty())
    return {};
  return {{"port", "no port", "the name of the serial port, unless the drive is simulated",
           "add \"port\""}};
}

/// What was left out is told from what was written by values that cannot be written.
struct DriveKeys : DriveLine {
  DriveKeys() {
    baud = 0;
    stop_bits = 0;
  }
  std::optional<Parity> said_parity;
};

Conflicts description_missing(const DriveKeys& drive) {
  if (drive.type != DriveType::modbus || !drive.description.empty())
    return {};
  return {{"description", "no description", "the drive's file, which says where its registers are",
           "add \"description\""}};
}

/// A key that only a Modbus drive has.
Rule<DriveKeys> modbus_only(const std::string& key) {
  return {{"type", key}, [key](const DriveKeys& drive) -> Conflicts {
            if (drive.type == DriveType::modbus)
              return {};
            return {{key, "\"" + key + "\" of a drive that is no Modbus drive",
                     "\"" + key + "\" with \"type\": \"modbus\" only", "take it out"}};
          }};
}

Field<DriveKeys> parity_field() {
  return custom<DriveKeys>("parity", optional, "\"none\", \"even\" or \"odd\"",
                           [](const Place& place, DriveKeys& into) {
                             const auto chosen = read_word(place, {"none", "even", "odd"});
                             if (chosen)
                               into.said_parity = static_cast<Parity>(*chosen);
                             return chosen.has_value();
                           });
}

Schema<DriveKeys> drive_schema() {
  using D = DriveKeys;
  const auto type = word<DriveLine, DriveType>("type", required,
                                               {{"link", DriveType::link},
                                                {"modbus", DriveType::modbus},
                                                {"simulated", DriveType::simulated}},
                                               &DriveLine::type);
  Schema<D> schema{
      {custom<D>("type", required, type.allowed,
                 [read = type.read](const Place& place, D& into) { return read(place, into); }),
       text<D>("port", optional, &D::port, 0),
       integer<D>("baud", optional, 300, 4'000'000, &D::baud), parity_field(),
       integer<D>("stop_bits", optional, 1, 2, &D::stop_bits),
       text<D>("description", optional, &D::description),
       integer<D>("unit", optional, 1, 247, &D::unit),
       text<D>("tach_port", optional, &D::tach_port),
       integer<D>("tach_baud", optional, 300, 4'000'000, &D::tach_baud)},
      {},
      {{{"type"}, [](const D& drive) { return port_missing(drive); }},
       {{"type"}, description_missing}}};
  for (const char* key : {"parity", "stop_bits", "description", "unit", "tach_port", "tach_baud"})
    schema.rules.push_back(modbus_only(key));
  return schema;
}

/// The serial line guide (V1.02, 2.5.1) has 19200 baud, even parity and one stop bit unless said
/// otherwise, and two stop bits where there is no parity.
DriveLine with_defaults(const DriveKeys& keys) {
  DriveLine line = keys;
  const bool modbus = line.type == DriveType::modbus;
  line.parity = keys.said_parity.value_or(modbus ? Parity::even : Parity::none);
  if (line.baud == 0)
    line.baud = modbus ? 19200 : DriveLine{}.baud;
  if (line.stop_bits == 0)
    line.stop_bits = modbus && line.parity == Parity::none ? 2 : 1;
  return line;
}

Field<Machine> drive_field() {
  return custom<Machine>("drive", required, "an object {…}",
                         [schema = drive_schema()](const Place& place, Machine& into) {
                           DriveKeys keys;
                           const bool good = read_object(place, schema, keys);
                           into.drive = with_defaults(keys);
                           return good;
                         });
}

Schema<Tach> tach_schema() {
  return {
      {integer("marks_per_turn", required, 1, 1024, &Tach::marks_per_turn),
       quantity("mark_radius_mm", required, above(0, 500, "mm"), &Tach::mark_radius, millimetres),
       flag("index", required, &Tach::index),
       word<Tach, SensorOn>("sensor_on", required,
                            {{"ground", SensorOn::ground}, {"sprung", SensorOn::sprung}},
                            &Tach::sensor_on)},
      {},
      {}};
}

Conflicts slowest_over_fastest(const Limits& limits) {
  if (limits.speed_min <= limits.speed)
    return {};
  return {{"speed_min_rpm", number_text(limits.speed_min.rpm(), 6),
           "at most speed_rpm, which is " + number_text(limits.speed.rpm(), 6),
           "correct one of the two"}};
}

Schema<Limits> limits_schema() {
  return {{quantity("speed_rpm", required, above(0, 100'000, "rpm"), &Limits::speed, rpm),
           quantity("speed_min_rpm", required, from_to(0, 100'000, "rpm"), &Limits::speed_min, rpm),
           quantity("ramp_rpm_s", required, above(0, 1'000'000, "rpm/s"), &Limits::ramp, rpm_per_s),
           quantity("balance_grade_mm_s", optional, above(0, 4000, "mm/s"), &Limits::balance_grade,
                    millimetres_per_s)},
          {},
          {{{"speed_min_rpm", "speed_rpm"}, slowest_over_fastest}}};
}

Schema<Rotor> rotor_schema() {
  return {{quantity("mass_g", required, above(0, 100'000, "g"), &Rotor::mass, grams),
           quantity("inertia_kg_m2", required, above(0, 10, "kg m2"), &Rotor::inertia, kg_m2)},
          {},
          {}};
}

Schema<Motor> motor_schema() {
  return {{quantity("torque_N_m", required, above(0, 1000, "N m"), &Motor::torque, newton_metres),
           word<Motor, MotorCurrent>("current", required,
                                     {{"ac", MotorCurrent::ac}, {"brushed", MotorCurrent::brushed}},
                                     &Motor::current)},
          {},
          {}};
}

Schema<Mount> mount_schema() {
  return {{quantity("natural_hz", required, above(0, 1000, "Hz"), &Mount::natural, hertz),
           number("damping", required, above(0, 10), &Mount::damping),
           quantity("moving_mass_g", required, above(0, 1'000'000, "g"), &Mount::moving, grams)},
          {},
          {}};
}

/// `key`: what comes after "watch_" and "stop_".
template <class Q>
Conflicts crossed(Q watch, Q stop, const std::string& key, double (Q::*value)() const) {
  if (watch <= stop)
    return {};
  return {{"watch_" + key, number_text((watch.*value)(), 6),
           "at most stop_" + key + ", which is " + number_text((stop.*value)(), 6),
           "correct one of the two"}};
}

Conflicts velocities_crossed(const JitterLimits& l) {
  return crossed(*l.watch_velocity, *l.stop_velocity, "mm_s", &Velocity::mm_per_s);
}
Conflicts angles_crossed(const JitterLimits& l) {
  return crossed(*l.watch_angle, *l.stop_angle, "mrad", &Angle::mrad);
}
Conflicts forces_crossed(const JitterLimits& l) {
  return crossed(*l.watch_force, *l.stop_force, "N", &Force::N);
}

/// One and the same unbalance is held against one of them. The fault is told of `key`.
Rule<JitterLimits> beside_velocity(const std::string& key, const std::string& velocity) {
  return {{key, velocity}, [key, velocity](const JitterLimits& limits) -> Conflicts {
            if (velocity == "stop_mm_s" && limits.watch_velocity)
              return {}; // told already, beside that one
            return {{key, "a force, beside limits in mm/s",
                     "limits of the unbalance in N or in mm/s, not in both",
                     "keep one of the two; mrad may stand beside either"}};
          }};
}

struct LimitUnit {
  std::string key; ///< what comes after "watch_" and "stop_"
  std::string name;
  bool watch = false;
  std::string stop; ///< as text; empty where there is none
};

std::array<LimitUnit, 3> units_of(const JitterLimits& limits) {
  const auto text = [](const auto& limit, const auto& value) {
    return limit ? number_text(value(*limit), 6) : std::string();
  };
  return {{{"mm_s", "mm/s", limits.watch_velocity.has_value(),
            text(limits.stop_velocity, [](Velocity v) { return v.mm_per_s(); })},
           {"N", "N", limits.watch_force.has_value(),
            text(limits.stop_force, [](Force f) { return f.N(); })},
           {"mrad", "mrad", limits.watch_angle.has_value(),
            text(limits.stop_angle, [](Angle a) { return a.mrad(); })}}};
}

/// The stop limit of an angle cannot be held against the watch limit of an unbalance, nor the other
/// way round: which of the two counts would hang on whether mount and masses are known.
Conflicts units_mixed(const JitterLimits& limits) {
  const auto units = units_of(limits);
  for (const LimitUnit& one : units)
    for (const LimitUnit& other : units)
      if ((one.key == "mrad") != (other.key == "mrad") && one.watch && one.stop.empty() &&
          !other.watch && !other.stop.empty())
        return {{"stop_" + other.key, other.stop + " " + other.name,
                 "watch and stop limits in one unit, and watch_" + one.key + " is in " + one.name,
                 "give stop_" + one.key + ", or watch_" + other.key + " too"}};
  return {};
}

Schema<JitterLimits> jitter_schema() {
  const Range velocity = above(0, 10'000, "mm/s");
  const Range angle = above(0, 1000, "mrad");
  const Range force = above(0, 100'000, "N");
  using J = JitterLimits;
  return {{quantity("watch_mm_s", optional, velocity, &J::watch_velocity, millimetres_per_s),
           quantity("stop_mm_s", optional, velocity, &J::stop_velocity, millimetres_per_s),
           quantity("watch_mrad", optional, angle, &J::watch_angle, milliradians),
           quantity("stop_mrad", optional, angle, &J::stop_angle, milliradians),
           quantity("watch_N", optional, force, &J::watch_force, newtons),
           quantity("stop_N", optional, force, &J::stop_force, newtons)},
          {},
          {{{"watch_mm_s", "stop_mm_s"}, velocities_crossed},
           {{"watch_mrad", "stop_mrad"}, angles_crossed},
           {{"watch_N", "stop_N"}, forces_crossed},
           {{"watch_mm_s", "stop_mrad"}, units_mixed},
           {{"watch_mrad", "stop_mm_s"}, units_mixed},
           {{"watch_N", "stop_mrad"}, units_mixed},
           {{"watch_mrad", "stop_N"}, units_mixed},
           beside_velocity("watch_N", "watch_mm_s"),
           beside_velocity("watch_N", "stop_mm_s"),
           beside_velocity("stop_N", "watch_mm_s"),
           beside_velocity("stop_N", "stop_mm_s")}};
}

/// All that turns stands on the mount and moves with it.
Conflicts rotor_over_moving(const Machine& machine) {
  if (!machine.mount || machine.rotor.mass <= machine.mount->moving)
    return {};
  return {{"mount/moving_mass_g", number_text(machine.mount->moving.g(), 6),
           "at least rotor.mass_g, which is " + number_text(machine.rotor.mass.g(), 6) +
               ": the rotor moves with its mount",
           "weigh all that moves on the mount, rotor, spindle and motor"}};
}

Schema<Machine> machine_schema() {
  return {
      {text("name", optional, &Machine::name), drive_field(),
       word<Machine, Direction>(
           "direction", required,
           {{"cw", Direction::clockwise}, {"ccw", Direction::counterclockwise}},
           &Machine::direction),
       part("tach", required, tach_schema(), &Machine::tach),
       word<Machine, Lid>("lid", required,
                          {{"switch", Lid::interlock_switch},
                           {"wired_to_drive", Lid::wired_to_drive},
                           {"none", Lid::none}},
                          &Machine::lid),
       word<Machine, Air>("air", required,
                          {{"open", Air::open}, {"lidded", Air::lidded}, {"vented", Air::vented}},
                          &Machine::air),
       part("limits", required, limits_schema(), &Machine::limits),
       part("rotor", required, rotor_schema(), &Machine::rotor),
       part("motor", optional, motor_schema(), &Machine::motor),
       part("mount", optional, mount_schema(), &Machine::mount),
       part("jitter", optional, jitter_schema(), &Machine::jitter)},
      {},
      {{{"rotor", "mount"}, rotor_over_moving}}};
}

} // namespace

Read<machine::Machine> read_machine(std::string_view text, const std::string& file) {
  return read_file(text, file, "machine", machine_schema());
}

} // namespace whirler::files
