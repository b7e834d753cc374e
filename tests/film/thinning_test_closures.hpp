// Closures for which the equations have closed forms, and the curves that the tests run.
#pragma once

#include "whirler/film/closures.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <array>
#include <vector>

namespace whirler::film::thinning::testing {

/// Constant viscosity, constant evaporation whatever is left: the textbook's dilute film.
struct SteadyDrying {
  static constexpr std::size_t kSolvents = 1;
  static constexpr bool kUniform = true;
  double start_phi = 0.1;
  double base_mobility = 1.0; // rho/(3 eta) [s/m2]
  double e_m_per_s = 0.0;
  double power_of_omega = 0.0; // E ~ (omega/omega_ref)^power
  double omega_ref = 1.0;
  std::array<double, 1> share{1.0};
  HeatStore<1> store;

  [[nodiscard]] Moment<1> at(double omega, double) const {
    Moment<1> c;
    c.pull[0] = e_m_per_s;
    if (power_of_omega != 0.0) {
      c.pull[0] *= std::pow(omega / omega_ref, power_of_omega);
      c.pull_dw[0] = omega > 0.0 ? c.pull[0] * power_of_omega / omega : 0.0;
    }
    return c;
  }
  [[nodiscard]] double mobility(const Moment<1>&, double) const { return base_mobility; }
  [[nodiscard]] Mobility mobility_slope(const Moment<1>&, double) const {
    return {base_mobility, 0.0};
  }
  [[nodiscard]] Evaporation<1> evaporation(const Moment<1>& c, const std::array<double, 1>&,
                                           double) const {
    return {{c.pull[0]}};
  }
  [[nodiscard]] EvaporationSlopes<1>
  evaporation_slopes(const Moment<1>& c, const std::array<double, 1>&, double) const {
    EvaporationSlopes<1> s;
    s.e[0] = c.pull[0];
    s.by_omega[0] = c.pull_dw[0];
    return s;
  }
};

inline std::vector<Piece> held(Speed speed, Duration time) {
  return {{0.0, time.s(), speed.rad_per_s(), 0.0}};
}

inline double mobility_of(Density rho, Viscosity eta) {
  return rho.kg_per_m3() / (3.0 * eta.Pa_s());
}

} // namespace whirler::film::thinning::testing
