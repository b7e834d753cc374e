// The film by the textbook's own unknowns and another integrator: an independent check of the
// solver's change of variables, its Jacobian, its steps and its kinks.
#pragma once

#include "whirler/film/closures.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <functional>
#include <span>
#include <vector>

namespace whirler::film::thinning::testing {

/// dy/dt = f(t, y).
using RightSide = std::function<void(double t, const double* y, double* f)>;

/// SUNDIALS CVODE, BDF with a dense numerical Jacobian, from t0 to t1 in place. `scale`: the size
/// under which an unknown does not matter.
void cvode(const RightSide& f, double t0, double t1, std::vector<double>& y,
           const std::vector<double>& scale, double tolerance);

/// GSL, eighth-order Prince-Dormand: shares nothing with either.
void gsl_rk8pd(const RightSide& f, double t0, double t1, std::vector<double>& y, double tolerance);

using Integrator =
    std::function<void(const RightSide&, double t0, double t1, std::vector<double>& y)>;

struct TextbookFilm {
  double dry_m = 0.0;
  double wet_m = 0.0;
  double T_K = 0.0;
};

/// y = (h_s, h_solvent, T): dh_s/dt = -2 K h^2 h_s, dh_l/dt = -2 K h^2 h_l - E.
template <class Closures>
TextbookFilm textbook(const Closures& c, std::span<const Piece> pieces, double pour_m,
                      const Integrator& integrate) {
  std::vector<double> y = {pour_m * c.start_phi, pour_m * (1.0 - c.start_phi), c.store.air_K};
  for (const Piece& piece : pieces) {
    const RightSide f = [&](double t, const double* at, double* out) {
      const double omega = std::abs(piece.omega(t));
      const auto m = c.at(omega, at[2]);
      const double h = at[0] + at[1];
      const double thinning = 2.0 * c.mobility(m, at[0] / h) * omega * omega * h * h;
      const double e = c.evaporation(m, {at[1] / at[0]}, at[0] / h).e[0];
      out[0] = -thinning * at[0];
      out[1] = -thinning * at[1] - e;
      out[2] = (m.heat * (c.store.air_K - at[2]) - c.store.latent[0] * e) /
               (c.store.plate + c.store.solids * at[0] + c.store.solvent[0] * at[1]);
    };
    integrate(f, piece.start_s, piece.end_s, y);
  }
  return {y[0], y[0] + y[1], y[2]};
}

} // namespace whirler::film::thinning::testing
