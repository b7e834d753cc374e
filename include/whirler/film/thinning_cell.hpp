// One place of the film: what its solids and solvents do, with the slopes that the implicit step
// needs. Column and radial grid are both made of it.
//
// Unknowns at a place: u = h_s^-2 [1/m2] with h_s the thickness of the solids alone, and w_i, the
// solvents' volumes over the solids'. Then flow and drying separate:
//   du/dt   =  4 K (1 + w)^2                    (nothing but flow moves solids)
//   dw_i/dt = -E_i u^(1/2)                      (nothing but drying moves the composition)
// u grows by ten decades but almost linearly in time while the film is wet, and stands still once
// it is dry: long steps. h and phi themselves, the unknowns of the textbook, change fast at once.
// w rather than phi: phi' = phi^2 E u^(1/2) turns a steady evaporation into a pole.
#pragma once

#include "whirler/film/closures.hpp"

#include <array>
#include <cmath>
#include <cstddef>

namespace whirler::film::thinning {

template <std::size_t N>
struct Place {
  double u = 0.0;            // 1/m2
  std::array<double, N> w{}; // solvent volume per solids volume
};

/// Flow and drying at a place.
template <std::size_t N>
struct PlaceRates {
  double spread = 0.0;       // K (1 + w)^2 [1/(m2 s)], a quarter of du/dt of an even film
  double heat_taken = 0.0;   // sum L rho E [W/m2]
  std::array<double, N> e{}; // m/s
};

template <std::size_t N>
struct PlaceSlopes {
  PlaceRates<N> rates;
  double spread_w = 0.0; // by any w_i
  double spread_T = 0.0;
  double mobility_w = 0.0; // d ln K/dw, for flows that are not linear in K
  double heat_taken_T = 0.0, heat_taken_omega = 0.0;
  std::array<double, N> heat_taken_w{};
  EvaporationSlopes<N> e;
};

template <std::size_t N>
[[nodiscard]] inline double total(const std::array<double, N>& w) {
  double sum = 0.0;
  for (const double x : w)
    sum += x;
  return sum;
}

template <class Closures, std::size_t N>
[[nodiscard]] inline PlaceRates<N> rates_at(const Closures& closures, const Moment<N>& c,
                                            double omega2, const std::array<double, N>& w) {
  const double whole = 1.0 + total(w);
  const double phi = 1.0 / whole;
  PlaceRates<N> out;
  out.spread = closures.mobility(c, phi) * omega2 * whole * whole;
  if constexpr (N > 0) {
    out.e = closures.evaporation(c, w, phi).e;
    for (std::size_t i = 0; i < N; ++i)
      out.heat_taken += closures.store.latent[i] * out.e[i];
  }
  return out;
}

template <class Closures, std::size_t N>
[[nodiscard]] inline PlaceSlopes<N> slopes_at(const Closures& closures, const Moment<N>& c,
                                              double omega2, const std::array<double, N>& w) {
  const double whole = 1.0 + total(w);
  const double phi = 1.0 / whole;
  const Mobility m = closures.mobility_slope(c, phi);
  PlaceSlopes<N> out;
  out.rates.spread = m.m * omega2 * whole * whole;
  out.spread_w = omega2 * (2.0 * m.m * whole - m.m_dphi);
  out.spread_T = out.rates.spread * c.fluidity_dT / c.fluidity;
  out.mobility_w = m.m > 0.0 ? -m.m_dphi * phi * phi / m.m : 0.0;
  if constexpr (N > 0) {
    out.e = closures.evaporation_slopes(c, w, phi);
    out.rates.e = out.e.e;
    for (std::size_t i = 0; i < N; ++i) {
      const double latent = closures.store.latent[i];
      out.rates.heat_taken += latent * out.e.e[i];
      out.heat_taken_T += latent * out.e.by_T[i];
      out.heat_taken_omega += latent * out.e.by_omega[i];
      for (std::size_t j = 0; j < N; ++j)
        out.heat_taken_w[j] += latent * out.e.by_w[i][j];
    }
  }
  return out;
}

} // namespace whirler::film::thinning
