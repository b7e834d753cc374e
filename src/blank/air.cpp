#include "whirler/blank/air.hpp"

#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::blank {
namespace {

/// Radius at which the Reynolds number is `reynolds`, m.
double radius_at(double reynolds, double rad_s, const Air& air) {
  return std::sqrt(reynolds * air.kinematic_viscosity.m2_per_s() / rad_s);
}

double reynolds_at(double radius_m, double rad_s, const Air& air) {
  return rad_s * radius_m * radius_m / air.kinematic_viscosity.m2_per_s();
}

/// M = C_M rho omega^2 R^5 / 2, in N m.
double torque_N_m(double coefficient, double radius_m, double rad_s, const Air& air) {
  return coefficient * air.density.kg_per_m3() * rad_s * rad_s * std::pow(radius_m, 5.0) / 2.0;
}

double laminar_N_m(double radius_m, double rad_s, const Air& air) {
  const double re = reynolds_at(radius_m, rad_s, air);
  return torque_N_m(3.87 / std::sqrt(re), radius_m, rad_s, air);
}

double turbulent_N_m(double radius_m, double rad_s, const Air& air) {
  const double re = reynolds_at(radius_m, rad_s, air);
  return torque_N_m(0.146 * std::pow(re, -0.2), radius_m, rad_s, air);
}

} // namespace

Result<TurbulentZone> turbulent_zone(Speed speed, const Air& air) {
  const double rad_s = speed.rad_per_s();
  if (!(std::isfinite(rad_s) && rad_s > 0.0))
    return input_fault("the speed is " + number_text(speed.rpm(), 6) + " rpm", "",
                       "give a speed above 0");
  return TurbulentZone{metres(radius_at(kReynoldsOnset, rad_s, air)),
                       metres(radius_at(kReynoldsTurbulent, rad_s, air))};
}

Torque disc_drag(Length radius, Speed speed, const Air& air) {
  const double rad_s = std::abs(speed.rad_per_s());
  if (rad_s == 0.0 || radius.m() <= 0.0)
    return newton_metres(0.0);
  const double edge_m = radius.m();
  if (reynolds_at(edge_m, rad_s, air) <= kReynoldsTurbulent)
    return newton_metres(laminar_N_m(edge_m, rad_s, air));
  const double inner_m = radius_at(kReynoldsTurbulent, rad_s, air);
  return newton_metres(turbulent_N_m(edge_m, rad_s, air) - turbulent_N_m(inner_m, rad_s, air) +
                       laminar_N_m(inner_m, rad_s, air));
}

Torque air_drag(const Properties& plate, Speed speed, const Air& air) {
  return disc_drag(plate.drag_radius, speed, air);
}

} // namespace whirler::blank
