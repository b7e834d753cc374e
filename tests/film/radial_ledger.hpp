// The rim's account beside the cells': what solids are left on the plate by what the flow law sends
// over its edge. The solver itself has no such account; this one, carried as one more unknown by
// the same steps, is what its cells are checked against.
//
// In U = M^-2, M the mean thickness of solids left: dU/dt = 4/(1 - xi_hub) U^(3/2) out(rim)
// u_rim^(-3/2). Nothing depends on U, so its row of the matrix is solved after all others.
#pragma once

#include "whirler/film/radial.hpp"

#include <cmath>
#include <limits>
#include <span>

namespace whirler::film::thinning::testing {

/// A disc with its account: y is the disc's own, then U.
template <class Closures, class Flow = NewtonFlow>
class RadialLedger : public Radial<Closures, Flow> {
 public:
  using Disc = Radial<Closures, Flow>;
  using State = typename Disc::State;
  static constexpr std::size_t kSolvents = Disc::kSolvents;
  static constexpr std::size_t kBlock = Disc::kBlock;

  RadialLedger(const Closures& closures, const RadialGrid& grid, Flow flow = {})
      : Disc(closures, grid, flow), flow_(flow),
        scale_(4.0 / (grid.width * static_cast<double>(grid.size()))) {}

  /// The disc's start with all of it still on the plate.
  [[nodiscard]] State start(std::span<const double> wet_m) const {
    State y = Disc::start(wet_m);
    y.push_back(1.0 / (held_m(y) * held_m(y)));
    return y;
  }
  /// Solids over the plate's area, by the cells and by the rim.
  [[nodiscard]] double held_m(const State& y) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < this->cells(); ++i)
      sum += Disc::dry_m(y, i) / static_cast<double>(this->cells());
    return sum;
  }
  [[nodiscard]] double left_m(const State& y) const { return 1.0 / std::sqrt(y[ledger_at()]); }

  [[nodiscard]] std::size_t ledger_at() const { return this->heat_at() + Disc::kBorders; }

  void enter(const Piece& piece) {
    Disc::enter(piece);
    piece_ = piece;
  }

  void rhs(double t, const State& y, State& f) {
    Disc::rhs(t, y, f);
    f[ledger_at()] = rate(at_rim(y), look(t, y, at_rim(y)).out, y);
  }

  void linearise(double t, const State& y, State& f, State& f_t) {
    Disc::linearise(t, y, f, f_t);
    const Place<kSolvents> rim = at_rim(y);
    const Crossing x = look(t, y, rim);
    const double one = rate(rim, 1.0, y);
    f[ledger_at()] = one * x.out;
    f_t[ledger_at()] = one * x.by_omega * piece_.slope;
    by_u_ = one * (x.by_u - 1.5 * x.out / rim.u);
    by_w_ = one * x.by_w;
    by_T_ = one * x.by_T;
    by_ledger_ = 1.5 * one * x.out / y[ledger_at()];
  }

  void factor(double s) {
    Disc::factor(s);
    own_ = 1.0 / (s - by_ledger_);
  }

  void solve(State& b) const {
    Disc::solve(b);
    const std::size_t last = (this->cells() - 1) * kBlock;
    double sum = b[ledger_at()] + by_T_ * b[this->heat_at()] + by_u_ * b[last];
    for (std::size_t k = 0; k < kSolvents; ++k)
      sum += by_w_ * b[last + 1 + k];
    b[ledger_at()] = own_ * sum;
  }

  [[nodiscard]] double error(const State& e, const State& y0, const State& y1) const {
    const double cells = Disc::error(e, y0, y1);
    const double left = y1[ledger_at()];
    if (!(left > 0.0))
      return std::numeric_limits<double>::infinity();
    return std::max(cells, std::abs(e[ledger_at()]) / (2.0 * left));
  }

 private:
  [[nodiscard]] Place<kSolvents> at_rim(const State& y) const {
    const std::size_t last = this->cells() - 1;
    return {y[last * kBlock], Disc::solvents(y, last)};
  }

  /// What crosses the rim, by its own composition and the film's temperature.
  [[nodiscard]] Crossing look(double t, const State& y, const Place<kSolvents>& rim) const {
    const double omega = std::abs(piece_.omega(t));
    const auto moment = this->closures().at(omega, y[this->heat_at()]);
    const auto slopes = slopes_at(this->closures(), moment, omega * omega, rim.w);
    Layer layer;
    layer.u = rim.u;
    layer.whole = 1.0 + total(rim.w);
    layer.spread = slopes.rates.spread;
    layer.spread_w = slopes.spread_w;
    layer.spread_T = slopes.spread_T;
    layer.mobility_w = slopes.mobility_w;
    layer.warming = moment.fluidity_dT / moment.fluidity;
    layer.twice_over_omega = omega > 0.0 ? 2.0 / omega : 0.0;
    return flow_.cross(1.0, layer);
  }

  [[nodiscard]] double rate(const Place<kSolvents>& rim, double out, const State& y) const {
    const double ratio = y[ledger_at()] / rim.u;
    return scale_ * out * ratio * std::sqrt(ratio);
  }

  Flow flow_;
  double scale_;
  Piece piece_;
  double by_u_ = 0.0, by_w_ = 0.0, by_T_ = 0.0, by_ledger_ = 0.0;
  double own_ = 1.0;
};

} // namespace whirler::film::thinning::testing
