#include "whirler/plant/spinner.hpp"

#include "whirler/blank/air.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace whirler::plant {
namespace {

constexpr double kGravity = 9.80665;     // m/s2
constexpr double kDryFrictionFull = 1.0; // rad/s: dry friction grows to its full size up to here
constexpr double kStandsStill = 0.02;    // rad/s: friction holds the spindle below this
constexpr double kJamTorque = 2.0;       // N m
constexpr std::size_t kAirPoints = 512;  // of the air drag's table

/// `a` plus `h` times its rate of change.
Motion moved(const Motion& a, const Motion& rate, double h) {
  return {a.theta + h * rate.theta, a.omega + h * rate.omega, a.x + h * rate.x,
          a.y + h * rate.y,         a.vx + h * rate.vx,       a.vy + h * rate.vy};
}

double dry(double torque, double omega) { return torque * std::min(1.0, omega / kDryFrictionFull); }

/// The air's torque in N m at evenly spaced speeds up to twice the motor's own: the closed form
/// costs too much in every stage of every step.
std::vector<double> air_table(Length radius, double step_rad_s) {
  std::vector<double> table(kAirPoints, 0.0);
  if (radius > metres(0.0))
    for (std::size_t i = 1; i < kAirPoints; ++i)
      table[i] = blank::disc_drag(radius, rad_per_s(step_rad_s * static_cast<double>(i))).N_m();
  return table;
}

double looked_up(const std::vector<double>& table, double place) {
  const double last = static_cast<double>(table.size() - 2);
  const double at = std::min(std::floor(place), last);
  const auto i = static_cast<std::size_t>(at);
  return table[i] + (place - at) * (table[i + 1] - table[i]);
}

double viscous_Nms(const DragModel& drag) {
  return drag.viscous_at_1000rpm.N_m() / rpm(1000.0).rad_per_s();
}

} // namespace

Torque motor_torque(const MotorModel& motor, double command, Speed speed) {
  const double ask = motor.stall.N_m() * (command - speed / motor.no_load);
  return newton_metres(std::clamp(ask, -motor.brake.N_m(), motor.torque.N_m()));
}

Torque drag_torque(const DragModel& drag, Speed speed) {
  const double w = std::max(speed.rad_per_s(), 0.0);
  return newton_metres(dry(drag.bearing.N_m(), w) + viscous_Nms(drag) * w +
                       blank::disc_drag(drag.air_radius, rad_per_s(w)).N_m());
}

Outcome check(const SpinnerModel& m) {
  const bool finite = m.inertia.is_finite() && m.moving.is_finite() && m.natural.is_finite() &&
                      std::isfinite(m.damping) && m.unbalance.is_finite() &&
                      m.heavy_side.is_finite() && m.mark_radius.is_finite() && m.tilt.is_finite();
  if (!finite)
    return input_fault("a figure of the simulated spinner is not finite", "", "correct the file");
  if (m.inertia.kg_m2() <= 0.0 || m.moving.kg() <= 0.0 || m.natural.Hz() <= 0.0 ||
      m.damping < 0.0 || m.mark_radius.m() <= 0.0 || m.motor.no_load.rad_per_s() <= 0.0 ||
      m.motor.stall.N_m() <= 0.0)
    return input_fault("the simulated spinner needs mass, inertia, spring, marks and motor above 0",
                       "", "correct the machine file");
  const double whirl = m.unbalance.kg_m() * m.unbalance.kg_m() / m.moving.kg();
  if (2.0 * whirl > m.inertia.kg_m2())
    return input_fault("the unbalance is more than a rotor of this inertia can have", "",
                       "check the blank's hole and the rotor's inertia");
  return Done{};
}

Spinner::Spinner(const SpinnerModel& model, Motion at)
    : c_{}, motor_(model.motor), cogging_per_turn_(model.cogging_per_turn), now_(at) {
  const double wn = kRadPerTurn * model.natural.Hz();
  c_.j = model.inertia.kg_m2();
  c_.m = model.moving.kg();
  c_.k = c_.m * wn * wn;
  c_.c = 2.0 * model.damping * c_.m * wn;
  c_.u = model.unbalance.kg_m();
  c_.beta = model.heavy_side.rad();
  c_.r = model.mark_radius.m();
  c_.tilt_torque = c_.u * kGravity * std::sin(model.tilt.rad());
  c_.cogging = model.cogging.N_m();
  c_.bearing = model.drag.bearing.N_m();
  c_.viscous = viscous_Nms(model.drag);
  c_.air_step = 2.0 * model.motor.no_load.rad_per_s() / static_cast<double>(kAirPoints);
  air_ = air_table(model.drag.air_radius, c_.air_step);
}

double Spinner::torque(const Motion& at, const Drive& drive) const {
  const double w = std::max(at.omega, 0.0);
  double t = -drive.load.N_m() * std::min(1.0, w / kDryFrictionFull);
  t -= dry(c_.bearing, w) + c_.viscous * w + looked_up(air_, w / c_.air_step);
  if (drive.powered)
    t += motor_torque(motor_, drive.command, rad_per_s(w)).N_m();
  if (drive.jammed)
    t -= dry(kJamTorque, w);
  if (c_.tilt_torque != 0.0)
    t -= c_.tilt_torque * std::sin(at.theta + c_.beta);
  if (c_.cogging != 0.0)
    t += c_.cogging * std::sin(cogging_per_turn_ * at.theta);
  return t;
}

Motion Spinner::rate(const Motion& at, const Drive& drive) const {
  const double sine = std::sin(at.theta + c_.beta);
  const double cosine = std::cos(at.theta + c_.beta);
  const double e = c_.u / c_.m;
  const double pull = e * at.omega * at.omega;
  const double ax = pull * cosine - (c_.c * at.vx + c_.k * at.x) / c_.m; // without w'
  const double ay = pull * sine - (c_.c * at.vy + c_.k * at.y) / c_.m;
  const double spin = (torque(at, drive) + c_.u * (ax * sine - ay * cosine)) / (c_.j - c_.u * e);
  return {at.omega, spin, at.vx, at.vy, ax + e * spin * sine, ay - e * spin * cosine};
}

void Spinner::advance(Duration dt, const Drive& drive) {
  const double h = dt.s();
  const Motion k1 = rate(now_, drive);
  const Motion k2 = rate(moved(now_, k1, h / 2), drive);
  const Motion k3 = rate(moved(now_, k2, h / 2), drive);
  const Motion k4 = rate(moved(now_, k3, h), drive);
  now_ = moved(moved(moved(moved(now_, k1, h / 6), k2, h / 3), k3, h / 3), k4, h / 6);
  const bool held = !drive.powered && now_.omega < kStandsStill && c_.bearing > 0.0;
  if (now_.omega < 0.0 || held)
    now_.omega = 0.0;
}

double Spinner::seen_angle() const { return now_.theta + now_.y / c_.r; }
double Spinner::seen_rate() const { return now_.omega + now_.vy / c_.r; }

Energy Spinner::energy() const {
  const Motion& a = now_;
  const double phi = a.theta + c_.beta;
  const double coupled = c_.u * a.omega * (a.vy * std::cos(phi) - a.vx * std::sin(phi));
  return joules(0.5 * c_.j * a.omega * a.omega + 0.5 * c_.m * (a.vx * a.vx + a.vy * a.vy) +
                coupled + 0.5 * c_.k * (a.x * a.x + a.y * a.y));
}

} // namespace whirler::plant
