// How much film crosses a circle: for liquids whose viscosity does not depend on the shear, and for
// power-law ones; and where the air over the plate turns turbulent.
//
// Power law, shear stress kappa rate^n: thinner than Newton's near the rim where the pull is
// strong, and for n < 1 infinitely stiff at the axis, where nothing pulls: the centre would never
// thin at all. No real liquid does that. Below a shear rate of 1/s the viscosity is taken as
// constant, at kappa (1/s)^(n-1) [common practice, no source]. Nor does thinning go on for ever: a
// millimetre poured onto a turning plate is sheared a million times faster than a gauge shears it,
// where the bare law would make the liquid thinner than air. It stops at the viscosity of the
// solvent. The flux over all regions is exact:
//   q = h^2 rate_c Q(x), x = stress at the plate over the stress at rate_c, m = the thinnest
//   viscosity over that at rate_c, reached at x_m = m^(n/(n-1)),
//   Q = x/3 below 1, [1/3 + n/(2n+1) (x^(2+1/n) - 1)]/x^2 above,
//       [1/3 + n/(2n+1) (x_m^(2+1/n) - 1) + (x^3 - x_m^3)/(3 m)]/x^2 above x_m.
// The centre that such a film leaves is as thick as that floor says: take it as an upper bound.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace whirler::film::thinning {

/// Solids that cross a circle, times u^(3/2)/2, and its slopes. For an even film of Newton's kind
/// this is xi K (1 + w)^2. Inner numbers, 1/(m2 s).
struct Crossing {
  double out = 0.0;
  double by_u = 0.0, by_w = 0.0, by_T = 0.0, by_omega = 0.0;
};

/// What a flow law is asked with: the place's solids, composition and mobility.
struct Layer {
  double u = 0.0;      // h_s^-2
  double whole = 1.0;  // 1 + w
  double spread = 0.0; // K (1 + w)^2
  double spread_w = 0.0, spread_T = 0.0;
  double mobility_w = 0.0;       // d ln m/dw
  double warming = 0.0;          // d ln m/dT
  double twice_over_omega = 0.0; // 2/omega; 0 at rest
};

struct NewtonFlow {
  [[nodiscard]] Crossing cross(double xi, const Layer& at) const {
    return {xi * at.spread, 0.0, xi * at.spread_w, xi * at.spread_T,
            xi * at.spread * at.twice_over_omega};
  }
  [[nodiscard]] double out(double xi, const Layer& at) const { return xi * at.spread; }
};

/// `pull_s3`: rho R/(kappa rate_c^n) over the mobility of the fresh liquid, so that
/// x = pull sqrt(xi) h m omega^2.
struct PowerFlow {
  static constexpr double kRateFloor = 1.0; // 1/s

  double n = 1.0;
  double pull = 0.0; // x per (sqrt(xi) h K), s/m
  double radius_m = 0.05;
  double thinnest = 0.0; // m; 0: the law holds at any shear

  struct Shape {
    double q = 0.0;
    double power = 1.0; // d ln Q/d ln x
  };
  [[nodiscard]] Shape shape(double x) const {
    if (x <= 1.0 || thinnest >= 1.0)
      return {x / 3.0, 1.0};
    const double limit = limit_stress();
    const double grown = std::pow(std::min(x, limit), 2.0 + 1.0 / n);
    double top = 1.0 / 3.0 + n / (2.0 * n + 1.0) * (grown - 1.0);
    if (x <= limit)
      return {top / (x * x), grown / top - 2.0};
    top += (x * x * x - limit * limit * limit) / (3.0 * thinnest);
    return {top / (x * x), x * x * x / (thinnest * top) - 2.0};
  }
  /// x_m.
  [[nodiscard]] double limit_stress() const {
    if (thinnest <= 0.0 || n >= 1.0)
      return std::numeric_limits<double>::infinity();
    return std::pow(thinnest, n / (n - 1.0));
  }
  [[nodiscard]] double stress(double xi, const Layer& at) const {
    // h K = spread/(whole sqrt(u))
    return pull * std::sqrt(xi) * at.spread / (at.whole * std::sqrt(at.u));
  }
  [[nodiscard]] double out(double xi, const Layer& at) const {
    return std::sqrt(xi) / radius_m * at.whole * std::sqrt(at.u) * kRateFloor *
           shape(stress(xi, at)).q;
  }
  [[nodiscard]] Crossing cross(double xi, const Layer& at) const {
    const Shape s = shape(stress(xi, at));
    Crossing c;
    c.out = std::sqrt(xi) / radius_m * at.whole * std::sqrt(at.u) * kRateFloor * s.q;
    c.by_u = 0.5 * c.out * (1.0 - s.power) / at.u;
    c.by_w = c.out * ((1.0 + s.power) / at.whole + s.power * at.mobility_w);
    c.by_T = c.out * s.power * at.warming;
    c.by_omega = s.power * c.out * at.twice_over_omega;
    return c;
  }
};

/// What a cell gets from its inner neighbour, solids over area and time by h_s^-3 of the giver.
struct Inflow {
  double in = 0.0;
  double by_u = 0.0, by_w = 0.0, by_T = 0.0, by_omega = 0.0, by_kappa = 0.0;
};

/// From a cell with crossing `c` (relative to the frame) at u, 1/u and u^(1/2), and its outer face.
[[nodiscard]] inline Inflow inflow_from(const Crossing& c, double u, double inverse, double root,
                                        double face) {
  const double scale = inverse * inverse * root; // u^(-3/2)
  return {c.out * scale,      (c.by_u - 1.5 * c.out * inverse) * scale,
          c.by_w * scale,     c.by_T * scale,
          c.by_omega * scale, -face * u * scale};
}

/// Evaporation over that in laminar air at Re = omega r^2/nu_air, and its slope by ln Re. Local
/// Nusselt numbers of a disc in still air, 1e-19 Re^4 from 1.95e5 and 0.0188 Re^0.8 from 2.5e5
/// (Popiel and Boguslawski 1975, from memory), over 0.326 Re^0.5; vapour follows heat.
struct Turbulence {
  double factor = 1.0;
  double power = 0.0;
};
[[nodiscard]] inline Turbulence turbulence(double reynolds) {
  constexpr double kFrom = 1.95e5;
  constexpr double kFull = 2.5e5;
  if (reynolds <= kFrom)
    return {};
  const double middle = std::pow(std::min(reynolds, kFull) / kFrom, 3.5);
  if (reynolds <= kFull)
    return {middle, 3.5};
  return {middle * std::pow(reynolds / kFull, 0.3), 0.3};
}

} // namespace whirler::film::thinning
