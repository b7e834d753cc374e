// What the thinning solver must be told about a liquid and its air: how easily the film flows, how
// fast each solvent leaves, and what heat that takes. A seam: the solver is a template over it, so
// that tests plug the closures for which the equations have closed forms, and the product's own
// cost no virtual call in the innermost loop.
//
// Two levels, because they are asked at different rates. `at(omega, T)` gathers all that the whole
// disc shares at one moment (three exponentials, two square roots). `mobility` and `evaporation`
// then answer for one place from the film's composition (two exponentials).
//
// Unknowns of the film, by which the closures are asked: w_i, the volume of solvent i over the
// volume of solids at a place, and phi = 1/(1 + sum w). Volumes add.
//
//   mobility   m(phi) = rho/(3 eta), so that K = m omega^2
//     eta = eta_s [1 + X exp(k_M X)], X = B phi/phi0 (Martin), B from the bottle's viscosity;
//     rho the film's own, phi rho_solids + (1 - phi) rho_solvent;
//     times (1 - phi)/(1 - phi0): a film that has dried does not creep. Chosen, not derived: it
//     takes 10 to 20 % off the mobility where the film sets, and without it "set" drifts for ever.
//   evaporation E_i = g_i [p_i a_i - p_far,i] S, a_i = phi_i exp(phi + chi phi^2)
//     (Flory and Huggins, solids of long chains; for a mixture one chi and equal molar volumes, so
//     that dilute solids leave Raoult's law by volume);
//     g_i = k_i M_i/(rho_i R T_air), k_i from the disc and the still air as squares (air.hpp);
//     S the outward wind of the vapour (Stefan), by mole fractions at the surface and far away.
//   heat        C dT/dt = faces h_g (T_air - T) - sum L_i rho_i E_i, one T for film and plate.
//
// Gas properties are those of the room's temperature: the film is at most a few kelvin colder.
#pragma once

#include "whirler/film/solvents.hpp"

#include <array>
#include <cmath>
#include <cstddef>

namespace whirler::film::thinning {

/// Shared by the whole disc at one omega and T. Inner numbers, SI.
template <std::size_t N>
struct Moment {
  double fluidity = 1.0;                              ///< temperature's factor on the mobility
  double fluidity_dT = 0.0;                           ///< 1/K
  std::array<double, N> pull{}, pull_dT{}, pull_dw{}; ///< g_i p_i [m/s], by T, by omega
  std::array<double, N> intake{}, intake_dw{};        ///< g_i p_far,i [m/s], by omega
  std::array<double, N> surface{};                    ///< p_i/P, for Stefan's factor
  double heat = 0.0, heat_dw = 0.0;                   ///< faces h_g [W/(m2 K)], by omega
};

/// A value with its slope by phi.
struct Mobility {
  double m = 0.0;      ///< s/m2
  double m_dphi = 0.0; ///< s/m2
};

/// Evaporation at one place [m/s].
template <std::size_t N>
struct Evaporation {
  std::array<double, N> e{};
};
/// `by_w[i][j]` = dE_i/dw_j.
template <std::size_t N>
struct EvaporationSlopes {
  std::array<double, N> e{}, by_T{}, by_omega{};
  std::array<std::array<double, N>, N> by_w{};
};

/// Heat that a litre of each part stores, and what evaporation takes. SI.
template <std::size_t N>
struct HeatStore {
  double plate = 3.0e3;            ///< J/(m2 K)
  double solids = 1.8e6;           ///< rho c_p [J/(m3 K)]
  std::array<double, N> solvent{}; ///< rho c_p [J/(m3 K)]
  std::array<double, N> latent{};  ///< L rho [J/m3]
  double air_K = 298.15;
};

/// One solvent's part in the product's closures. SI.
struct SolventLaw {
  double gas = 0.0;     ///< M/(rho R T_air) [m/s of liquid per m/s of gas and Pa]
  double still2 = 0.0;  ///< (k at rest)^2 [m2/s2]
  double pumped2 = 0.0; ///< k^2 = still2 + pumped2 omega [m2/s]
  double antoine_a = 0.0, antoine_b = 0.0, antoine_c = 0.0; ///< ln(p/Pa) = a - b/(T + c)
  double far_Pa = 0.0;
};

/// The closures of the header's top, for N solvents of a drying resist. `Glass` is the factor
/// (1 - phi)/(1 - phi0).
template <std::size_t N, bool Glass = true>
struct DryingClosures {
  static constexpr std::size_t kSolvents = N;
  static constexpr bool kUniform = true; ///< nothing here depends on the radius

  double start_phi = 1.0;
  double base_mobility = 1.0; ///< 1/(3 eta_solvent) at the label's temperature [1/(Pa s)]
  double martin_b = 0.0;      ///< B/phi0
  double martin_k = 0.4;
  double chi = 0.4;
  double density_solids = 1200.0, density_solvent = 1000.0; // kg/m3
  double arrhenius_K = 0.0;                                 ///< E_a/R
  double label_K = 298.15;                      ///< temperature at which base_mobility holds
  double heat_still2 = 0.0, heat_pumped2 = 0.0; ///< (faces h_g)^2 = still2 + pumped2 omega
  bool stefan = false; ///< whether the vapour's own wind is worth its logarithm
  double far_mole_share = 0.0;
  std::array<SolventLaw, N> solvent{};
  std::array<double, N> share{}; ///< of the solvents' volume at the start
  HeatStore<N> store;

  [[nodiscard]] Moment<N> at(double omega, double T) const {
    Moment<N> c;
    const double inverse = 1.0 / T;
    c.fluidity = std::exp(-arrhenius_K * (inverse - 1.0 / label_K));
    c.fluidity_dT = c.fluidity * arrhenius_K * inverse * inverse;
    for (std::size_t i = 0; i < N; ++i) {
      const SolventLaw& s = solvent[i];
      const double k = std::sqrt(s.still2 + s.pumped2 * omega);
      const double g = s.gas * k;
      const double g_dw = k > 0.0 ? s.gas * 0.5 * s.pumped2 / k : 0.0;
      const double reach = 1.0 / (T + s.antoine_c);
      const double p = std::exp(s.antoine_a - s.antoine_b * reach);
      c.pull[i] = g * p;
      c.pull_dT[i] = g * p * s.antoine_b * reach * reach;
      c.pull_dw[i] = g_dw * p;
      c.intake[i] = g * s.far_Pa;
      c.intake_dw[i] = g_dw * s.far_Pa;
      c.surface[i] = p / kAtmosphere.Pa();
    }
    c.heat = std::sqrt(heat_still2 + heat_pumped2 * omega);
    c.heat_dw = c.heat > 0.0 ? 0.5 * heat_pumped2 / c.heat : 0.0;
    return c;
  }

  [[nodiscard]] double mobility(const Moment<N>& c, double phi) const {
    const double x = martin_b * phi;
    const double thick = 1.0 + x * std::exp(martin_k * x);
    return c.fluidity * base_mobility * density(phi) * glass(phi) / thick;
  }

  [[nodiscard]] Mobility mobility_slope(const Moment<N>& c, double phi) const {
    const double x = martin_b * phi;
    const double swell = std::exp(martin_k * x);
    const double thick = 1.0 + x * swell;
    const double base = c.fluidity * base_mobility / thick;
    const double thick_dphi = martin_b * (1.0 + martin_k * x) * swell;
    const double top = density(phi) * glass(phi);
    const double top_dphi = (density_solids - density_solvent) * glass(phi) +
                            (Glass ? -density(phi) / (1.0 - start_phi) : 0.0);
    return {base * top, base * (top_dphi - top * thick_dphi / thick)};
  }

  [[nodiscard]] Evaporation<N> evaporation(const Moment<N>& c, const std::array<double, N>& w,
                                           double phi) const {
    const double a = phi * std::exp(phi + chi * phi * phi);
    const double wind = stefan ? wind_factor(c, w, a).value : 1.0;
    Evaporation<N> out;
    for (std::size_t i = 0; i < N; ++i)
      out.e[i] = (c.pull[i] * w[i] * a - c.intake[i]) * wind;
    return out;
  }

  [[nodiscard]] EvaporationSlopes<N>
  evaporation_slopes(const Moment<N>& c, const std::array<double, N>& w, double phi) const {
    const double a = phi * std::exp(phi + chi * phi * phi);
    const double a_dw = -phi * a * (1.0 + phi + 2.0 * chi * phi * phi);
    const Wind wind = stefan ? wind_factor(c, w, a) : Wind{};
    EvaporationSlopes<N> out;
    for (std::size_t i = 0; i < N; ++i) {
      const double bare = c.pull[i] * w[i] * a - c.intake[i];
      out.e[i] = bare * wind.value;
      out.by_T[i] = c.pull_dT[i] * w[i] * a * wind.value;
      out.by_omega[i] = (c.pull_dw[i] * w[i] * a - c.intake_dw[i]) * wind.value;
      if (stefan) // the share at the surface moves with T as the pull does
        for (std::size_t j = 0; j < N; ++j)
          if (c.pull[j] > 0.0)
            out.by_T[i] += bare * wind.slope * c.surface[j] * w[j] * a * c.pull_dT[j] / c.pull[j];
      for (std::size_t j = 0; j < N; ++j) {
        out.by_w[i][j] = c.pull[i] * w[i] * a_dw * wind.value;
        if (stefan)
          out.by_w[i][j] += bare * wind.slope * (c.surface[j] * a + moles(c, w) * a_dw);
      }
      out.by_w[i][i] += c.pull[i] * a * wind.value;
    }
    return out;
  }

 private:
  struct Wind {
    double value = 1.0;
    double slope = 0.0; ///< by the mole share at the surface
  };
  [[nodiscard]] double density(double phi) const {
    return density_solvent + (density_solids - density_solvent) * phi;
  }
  [[nodiscard]] double glass(double phi) const {
    return Glass ? (1.0 - phi) / (1.0 - start_phi) : 1.0;
  }
  [[nodiscard]] static double moles(const Moment<N>& c, const std::array<double, N>& w) {
    double sum = 0.0;
    for (std::size_t i = 0; i < N; ++i)
      sum += c.surface[i] * w[i];
    return sum;
  }
  /// ln[(1 - y_far)/(1 - y)]/(y - y_far) and its slope by y; y kept under 0.98, where the air
  /// film would be all vapour.
  [[nodiscard]] Wind wind_factor(const Moment<N>& c, const std::array<double, N>& w,
                                 double a) const {
    constexpr double kFullest = 0.98;
    constexpr double kThin = 1e-4;
    const double y = std::min(moles(c, w) * a, kFullest);
    const double d = y - far_mole_share;
    const double q = d / (1.0 - far_mole_share);
    if (std::abs(q) < kThin) {
      const double near = 1.0 / (1.0 - far_mole_share);
      return {near * (1.0 + q * (0.5 + q / 3.0)), near * near * (0.5 + q * 2.0 / 3.0)};
    }
    const double value = -std::log1p(-q) / d;
    return {value, y < kFullest ? (1.0 / (1.0 - y) - value) / d : 0.0};
  }
};

/// A liquid that does not dry: nothing leaves, and the temperature stays the room's.
struct WetClosures {
  static constexpr std::size_t kSolvents = 0;
  static constexpr bool kUniform = true;

  double start_phi = 1.0;
  double base_mobility = 1.0; ///< rho/(3 eta) at the room's temperature [s/m2]
  std::array<double, 0> share{};
  HeatStore<0> store;

  [[nodiscard]] Moment<0> at(double, double) const { return {}; }
  [[nodiscard]] double mobility(const Moment<0>&, double) const { return base_mobility; }
  [[nodiscard]] Mobility mobility_slope(const Moment<0>&, double) const {
    return {base_mobility, 0.0};
  }
  [[nodiscard]] Evaporation<0> evaporation(const Moment<0>&, const std::array<double, 0>&,
                                           double) const {
    return {};
  }
  [[nodiscard]] EvaporationSlopes<0>
  evaporation_slopes(const Moment<0>&, const std::array<double, 0>&, double) const {
    return {};
  }
};

} // namespace whirler::film::thinning
