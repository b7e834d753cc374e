// The radial system's right side with its Jacobian, and its error measure. Part of radial.hpp.
#pragma once

#include "whirler/film/radial.hpp"

namespace whirler::film::thinning {

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::look_at_places(const State& y, const Moment<kSolvents>& c,
                                                    double omega) {
  const double twice_over_omega = omega > 0.0 ? 2.0 / omega : 0.0;
  const double warming = c.fluidity_dT / c.fluidity;
  for (std::size_t i = 0; i < cells(); ++i) {
    CellSlopes& cell = places_[i];
    cell.u = y[i * kBlock];
    cell.root = std::sqrt(cell.u);
    cell.inverse = 1.0 / cell.u;
    cell.w = solvents(y, i);
    PlaceSlopes<kSolvents>& s = cell.slopes;
    s = slopes_at(closures_, c, omega * omega, cell.w);
    if (turbulent_)
      stir_slopes(i, omega, s);
    Layer at = layer(cell.u, cell.w, s.rates.spread);
    at.twice_over_omega = twice_over_omega;
    at.spread_w = s.spread_w;
    at.spread_T = s.spread_T;
    at.mobility_w = s.mobility_w;
    at.warming = warming;
    cell.crossing = flow_.cross(grid_.faces[i], at);
  }
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::stir_slopes(std::size_t i, double omega,
                                                 PlaceSlopes<kSolvents>& s) const {
  const Turbulence air = air_factor_[i];
  for (std::size_t k = 0; k < kSolvents; ++k) {
    s.e.by_omega[k] = air.factor * (s.e.by_omega[k] + air.power * s.e.e[k] / omega);
    s.e.by_T[k] *= air.factor;
    for (std::size_t l = 0; l < kSolvents; ++l)
      s.e.by_w[k][l] *= air.factor;
    s.heat_taken_w[k] *= air.factor;
  }
  s.heat_taken_omega = air.factor * (s.heat_taken_omega + air.power * s.rates.heat_taken / omega);
  s.heat_taken_T *= air.factor;
  stir(i, s.rates);
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::linearise(double t, const State& y, State& f, State& f_t) {
  const double omega = std::abs(piece_.omega(t));
  const auto c = closures_.at(omega, y[heat_at()]);
  meet_air(omega);
  look_at_places(y, c, omega);
  const double kappa = kMoving ? front_speed(y, c, omega) : 0.0;
  const double kappa_t = omega > 0.0 ? 2.0 * kappa * piece_.slope / omega : 0.0;
  const double four = 4.0 / grid_.width, two = 2.0 / grid_.width;
  Inflow inflow;
  std::array<double, kSolvents> w_in{};
  for (std::size_t i = 0; i < cells(); ++i) {
    CellSlopes& cell = places_[i];
    Crossing& x = cell.crossing;
    if constexpr (kMoving) {
      x.out -= grid_.faces[i] * kappa * cell.u;
      x.by_u -= grid_.faces[i] * kappa;
    }
    solids_row(i, four, kappa, inflow, f);
    solvent_rows(i, two, inflow, w_in, f);
    time_rows(i, two, inflow, w_in, kappa_t, f_t);
    inflow = inflow_from(x, cell.u, cell.inverse, cell.root, grid_.faces[i]);
    w_in = cell.w;
  }
  heat_rows(y, c, f, f_t);
  if constexpr (kMoving) {
    front_rows(y, kappa);
    f[front_at()] = 2.0 * kappa;
    f_t[front_at()] = 2.0 * kappa_t;
  }
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::solids_row(std::size_t i, double four, double kappa,
                                                const Inflow& in, State& f) {
  const Crossing& x = places_[i].crossing;
  const double u = places_[i].u, root = places_[i].root;
  const double cube = u * root;
  auto& b = blocks_.cells[i];
  f[i * kBlock] = four * (x.out - in.in * cube) + 4.0 * kappa * u;
  b.own[0][0] = four * (x.by_u - 1.5 * in.in * root) + 4.0 * kappa;
  b.inner[0][0] = -four * in.by_u * cube;
  for (std::size_t k = 0; k < kSolvents; ++k) {
    b.own[0][1 + k] = four * x.by_w;
    b.inner[0][1 + k] = -four * in.by_w * cube;
  }
  b.column[0][0] = four * (x.by_T - in.by_T * cube);
  if constexpr (kMoving)
    b.column[1][0] = four * (-grid_.faces[i] * u - in.by_kappa * cube) + 4.0 * u;
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::solvent_rows(std::size_t i, double two, const Inflow& in,
                                                  const std::array<double, kSolvents>& w_in,
                                                  State& f) {
  const EvaporationSlopes<kSolvents>& e = places_[i].slopes.e;
  const auto& w = places_[i].w;
  const double root = places_[i].root;
  auto& b = blocks_.cells[i];
  for (std::size_t k = 0; k < kSolvents; ++k) {
    const double mixing = w_in[k] - w[k];
    const double rate = root * (two * in.in * mixing - places_[i].slopes.rates.e[k]);
    f[i * kBlock + 1 + k] = rate;
    b.own[1 + k][0] = 0.5 * rate * places_[i].inverse;
    b.inner[1 + k][0] = root * two * in.by_u * mixing;
    for (std::size_t l = 0; l < kSolvents; ++l) {
      b.own[1 + k][1 + l] = -root * e.by_w[k][l];
      b.inner[1 + k][1 + l] = root * two * in.by_w * mixing;
    }
    b.own[1 + k][1 + k] -= root * two * in.in;
    b.inner[1 + k][1 + k] += root * two * in.in;
    b.column[0][1 + k] = root * (two * in.by_T * mixing - e.by_T[k]);
    if constexpr (kMoving)
      b.column[1][1 + k] = root * two * in.by_kappa * mixing;
  }
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::time_rows(std::size_t i, double two, const Inflow& in,
                                               const std::array<double, kSolvents>& w_in,
                                               double kappa_t, State& f_t) const {
  const double u = places_[i].u, root = places_[i].root;
  const auto& w = places_[i].w;
  const double turn = piece_.slope;
  f_t[i * kBlock] = 2.0 * two * (places_[i].crossing.by_omega - in.by_omega * u * root) * turn;
  for (std::size_t k = 0; k < kSolvents; ++k)
    f_t[i * kBlock + 1 + k] =
        root * (two * in.by_omega * (w_in[k] - w[k]) - places_[i].slopes.e.by_omega[k]) * turn;
  if constexpr (kMoving)
    for (std::size_t k = 0; k < kBlock; ++k)
      f_t[i * kBlock + k] += blocks_.cells[i].column[1][k] * kappa_t;
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::heat_rows(const State& y, const Moment<kSolvents>& c, State& f,
                                               State& f_t) {
  f[heat_at()] = f_t[heat_at()] = 0.0;
  blocks_.corner[0] = {};
  if constexpr (kSolvents > 0) {
    const double behind = closures_.store.air_K - y[heat_at()];
    double taken = 0.0, by_T = 0.0, by_omega = 0.0, stored = closures_.store.plate;
    for (std::size_t i = 0; i < cells(); ++i) {
      const PlaceSlopes<kSolvents>& s = places_[i].slopes;
      taken += grid_.weight[i] * s.rates.heat_taken;
      by_T += grid_.weight[i] * s.heat_taken_T;
      by_omega += grid_.weight[i] * s.heat_taken_omega;
      stored += grid_.weight[i] * stored_in(places_[i].w) * (places_[i].root * places_[i].inverse);
    }
    const double over_stored = 1.0 / stored;
    const double warming = (c.heat * behind - taken) * over_stored;
    f[heat_at()] = warming;
    f_t[heat_at()] = (c.heat_dw * behind - by_omega) * piece_.slope / stored;
    blocks_.corner[0][0] = (c.heat + by_T) / stored;
    for (std::size_t i = 0; i < cells(); ++i) {
      const CellSlopes& cell = places_[i];
      const double share = grid_.weight[i] * over_stored;
      const double over_root = cell.root * cell.inverse;
      auto& row = blocks_.cells[i].row[0];
      row[0] = 0.5 * share * warming * stored_in(cell.w) * over_root * cell.inverse;
      for (std::size_t k = 0; k < kSolvents; ++k)
        row[1 + k] = -share * (cell.slopes.heat_taken_w[k] +
                               warming * closures_.store.solvent[k] * over_root);
    }
  }
}

template <class Closures, class Flow, Frame kFrame>
void Radial<Closures, Flow, kFrame>::front_rows(const State& y, double kappa) {
  blocks_.corner[1] = {};
  blocks_.corner[1][1] = 1.0;
  const std::size_t last = cells() - 1;
  const PlaceSlopes<kSolvents>& s = places_[last].slopes;
  const double u = y[last * kBlock];
  blocks_.cells[last].row[1][0] = -kappa / u;
  for (std::size_t k = 0; k < kSolvents; ++k)
    blocks_.cells[last].row[1][1 + k] = s.spread_w / u;
  blocks_.corner[1][0] = -s.spread_T / u;
}

template <class Closures, class Flow, Frame kFrame>
double Radial<Closures, Flow, kFrame>::error(const State& e, const State& y0,
                                             const State& y1) const {
  /// A kelvin moves a film by some 3 %: so many kelvin would be the whole of it.
  constexpr double kKelvinPerFilm = 30.0;
  double worst = std::abs(e[heat_at()]) / kKelvinPerFilm;
  if constexpr (kMoving)
    worst = std::max(worst, std::abs(e[front_at()]));
  for (std::size_t i = 0; i < cells(); ++i) {
    const double u = y1[i * kBlock];
    const double whole = 1.0 + total(solvents(y1, i));
    if (!(u > 0.0) || !(whole > 0.0))
      return std::numeric_limits<double>::infinity();
    // Compared by products: only a new worst cell costs a division.
    const double of = 2.0 * std::max(y0[i * kBlock], u);
    if (const double off = std::abs(e[i * kBlock]); !(off <= worst * of))
      worst = off / of;
    for (std::size_t k = 0; k < kSolvents; ++k)
      if (const double off = std::abs(e[i * kBlock + 1 + k]); !(off <= worst * whole))
        worst = off / whole;
  }
  if (!(y1[heat_at()] > 0.0) || !std::isfinite(worst))
    return std::numeric_limits<double>::infinity();
  return worst;
}

} // namespace whirler::film::thinning
