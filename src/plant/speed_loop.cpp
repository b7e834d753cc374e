#include "whirler/plant/speed_loop.hpp"

#include <algorithm>

namespace whirler::plant {

/// The motor without drag is first order with time constant J no_load/stall; the PI's zero cancels
/// it, which leaves one time constant for the closed loop.
SpeedLoop::SpeedLoop(const NominalMachine& nominal, Duration closed_loop)
    : nominal_(nominal), integral_(0.0) {
  const double no_load = nominal.motor.no_load.rad_per_s();
  const double tau = nominal.inertia.kg_m2() * no_load / nominal.motor.stall.N_m();
  gain_ = tau / (closed_loop.s() * no_load);
  rate_ = 1.0 / tau;
}

void SpeedLoop::reset() { integral_ = 0.0; }

double SpeedLoop::needed(Speed speed) const {
  return speed / nominal_.motor.no_load + drag_torque(nominal_.drag, speed) / nominal_.motor.stall;
}

double SpeedLoop::needed_at_most(Speed speed, Ramp slope) const {
  const double push = nominal_.heaviest.kg_m2() * std::max(slope.rad_per_s2(), 0.0);
  const double most = nominal_.motor.torque.N_m();
  return needed(speed) + std::min(push, most) / nominal_.motor.stall.N_m();
}

double SpeedLoop::update(const Target& target, Speed measured, double most, Duration dt) {
  const double push = nominal_.inertia.kg_m2() * target.slope.rad_per_s2();
  const double error = (target.speed - measured).rad_per_s();
  const double ahead = needed(target.speed) + push / nominal_.motor.stall.N_m();
  const double asked = ahead + gain_ * error + integral_;
  const bool pushes_past_end = (asked > most && error > 0.0) || (asked < 0.0 && error < 0.0);
  if (!pushes_past_end)
    integral_ += gain_ * rate_ * error * dt.s();
  return std::clamp(asked, 0.0, most);
}

} // namespace whirler::plant
