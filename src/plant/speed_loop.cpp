#include "whirler/plant/speed_loop.hpp"

#include <algorithm>

namespace whirler::plant {
namespace {

constexpr double kAgesPerLoop = 2.0;

} // namespace

/// The motor without drag is first order with time constant J no_load/stall; the PI's zero cancels
/// it, which leaves one time constant for the closed loop.
SpeedLoop::SpeedLoop(const NominalMachine& nominal, Duration closed_loop)
    : nominal_(nominal), closed_loop_(closed_loop), inertia_(nominal.inertia.kg_m2()) {
  tau_s_ = nominal.inertia.kg_m2() * nominal.motor.no_load.rad_per_s() / nominal.motor.stall.N_m();
}

/// Command per rad/s. A loop cannot be faster than its news: with few marks it is made slower.
double SpeedLoop::gain(Duration age) const {
  const double closed_s = std::max(closed_loop_.s(), kAgesPerLoop * age.s());
  return tau_s_ / (closed_s * nominal_.motor.no_load.rad_per_s());
}

void SpeedLoop::reset() {
  integral_ = 0.0;
  integral_before_ = 0.0;
  slope_ = rad_per_s2(0.0);
  inertia_ = nominal_.inertia.kg_m2();
}

void SpeedLoop::learn(Ramp next_slope) {
  if (next_slope == slope_)
    return;
  if (slope_ != rad_per_s2(0.0)) {
    const double found =
        (integral_ - integral_before_) * nominal_.motor.stall.N_m() / slope_.rad_per_s2();
    inertia_ = std::clamp(inertia_ + found, 0.5 * nominal_.inertia.kg_m2(),
                          2.0 * nominal_.heaviest.kg_m2());
    integral_ = integral_before_;
  }
  integral_before_ = integral_;
  slope_ = next_slope;
}

double SpeedLoop::needed(Speed speed) const {
  return speed / nominal_.motor.no_load + drag_torque(nominal_.drag, speed) / nominal_.motor.stall;
}

double SpeedLoop::needed_at_most(Speed speed, Ramp slope) const {
  const double push = nominal_.heaviest.kg_m2() * std::max(slope.rad_per_s2(), 0.0);
  const double most = nominal_.motor.torque.N_m();
  return needed(speed) + std::min(push, most) / nominal_.motor.stall.N_m();
}

double SpeedLoop::update(const Target& target, const MeasuredSpeed& measured, double most,
                         Duration dt) {
  learn(target.slope);
  const double push = inertia_ * target.slope.rad_per_s2();
  const double then = target.speed.rad_per_s() - target.slope.rad_per_s2() * measured.age.s();
  const double error = then - measured.speed.rad_per_s();
  const double ahead = needed(target.speed) + push / nominal_.motor.stall.N_m();
  const double proportional = gain(measured.age) * error;
  const double asked = ahead + proportional + integral_;
  const bool pushes_past_end = (asked > most && error > 0.0) || (asked < 0.0 && error < 0.0);
  if (!pushes_past_end)
    integral_ += proportional * dt.s() / tau_s_;
  return std::clamp(asked, 0.0, most);
}

} // namespace whirler::plant
