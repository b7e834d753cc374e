// The film at one radius. A uniform film under a uniform evaporation stays uniform, whatever the
// profile, so this column is the whole disc then, and it costs microseconds: it is what inversion
// and the interval run thousands of times. The innermost cell of any film is such a column too,
// since nothing flows inward.
#pragma once

#include "whirler/film/thinning_cell.hpp"
#include "whirler/film/thinning_stepper.hpp"

#include <array>
#include <limits>
#include <span>
#include <vector>

namespace whirler::film::thinning {

/// System of the stepper: y = (u, w_1..w_N, T); without solvents y = (u).
template <class Closures>
class Column {
 public:
  static constexpr std::size_t kSolvents = Closures::kSolvents;
  static constexpr std::size_t kSize = kSolvents > 0 ? kSolvents + 2 : 1;
  static constexpr std::size_t kHeat = kSize - 1; ///< where T stands
  using State = std::array<double, kSize>;

  explicit Column(const Closures& closures) : closures_(closures) {}

  /// A film of this wet thickness [m], fresh from the bottle, as warm as the room.
  [[nodiscard]] State start(double wet_m) const {
    State y{};
    const double solids = wet_m * closures_.start_phi;
    y[0] = 1.0 / (solids * solids);
    for (std::size_t i = 0; i < kSolvents; ++i)
      y[1 + i] = closures_.share[i] * (1.0 / closures_.start_phi - 1.0);
    if constexpr (kSolvents > 0)
      y[kHeat] = closures_.store.air_K;
    return y;
  }

  void enter(const Piece& piece) { piece_ = piece; }

  void rhs(double t, const State& y, State& f) const {
    const double omega = std::abs(piece_.omega(t));
    const auto c = closures_.at(omega, temperature(y));
    const auto w = solvents(y);
    const PlaceRates<kSolvents> r = rates_at(closures_, c, omega * omega, w);
    f[0] = 4.0 * r.spread;
    if constexpr (kSolvents > 0) {
      const double root = std::sqrt(y[0]);
      for (std::size_t i = 0; i < kSolvents; ++i)
        f[1 + i] = -r.e[i] * root;
      f[kHeat] = (c.heat * (closures_.store.air_K - y[kHeat]) - r.heat_taken) / capacity(w, root);
    }
  }

  void linearise(double t, const State& y, State& f, State& f_t) {
    const double omega = std::abs(piece_.omega(t));
    const double turn = piece_.slope; // d omega/dt
    const auto c = closures_.at(omega, temperature(y));
    const auto w = solvents(y);
    const PlaceSlopes<kSolvents> s = slopes_at(closures_, c, omega * omega, w);
    f[0] = 4.0 * s.rates.spread;
    f_t[0] = omega > 0.0 ? 2.0 * f[0] * turn / omega : 0.0;
    jacobian_[0][0] = 0.0;
    if constexpr (kSolvents > 0) {
      for (std::size_t j = 0; j < kSolvents; ++j)
        jacobian_[0][1 + j] = 4.0 * s.spread_w;
      jacobian_[0][kHeat] = 4.0 * s.spread_T;
      linearise_drying(y, s, turn, f, f_t);
      linearise_heat(y, c, s, turn, f, f_t);
    }
  }

  void factor(double s) {
    for (std::size_t i = 0; i < kSize; ++i)
      for (std::size_t j = 0; j < kSize; ++j)
        lu_[i][j] = (i == j ? s : 0.0) - jacobian_[i][j];
    // No pivoting: the diagonal leads. Drying and cooling damp themselves, and the one product
    // across the diagonal, flow by solvent times drying by flow, adds to it.
    for (std::size_t k = 0; k < kSize; ++k) {
      lu_[k][k] = 1.0 / lu_[k][k];
      for (std::size_t i = k + 1; i < kSize; ++i) {
        lu_[i][k] *= lu_[k][k];
        for (std::size_t j = k + 1; j < kSize; ++j)
          lu_[i][j] -= lu_[i][k] * lu_[k][j];
      }
    }
  }

  void solve(State& b) const {
    for (std::size_t i = 1; i < kSize; ++i)
      for (std::size_t j = 0; j < i; ++j)
        b[i] -= lu_[i][j] * b[j];
    for (std::size_t i = kSize; i-- > 0;) {
      for (std::size_t j = i + 1; j < kSize; ++j)
        b[i] -= lu_[i][j] * b[j];
      b[i] *= lu_[i][i];
    }
  }

  /// The step's error as a share of the film's thickness.
  [[nodiscard]] double error(const State& e, const State& y0, const State& y1) const {
    if (!(y1[0] > 0.0))
      return std::numeric_limits<double>::infinity();
    double worst = std::abs(e[0]) / (2.0 * std::max(y0[0], y1[0]));
    if constexpr (kSolvents > 0) {
      const double whole = 1.0 + total(solvents(y1));
      if (!(whole > 0.0) || !(y1[kHeat] > 0.0))
        return std::numeric_limits<double>::infinity();
      for (std::size_t i = 0; i < kSolvents; ++i)
        worst = std::max(worst, std::abs(e[1 + i]) / whole);
      worst = std::max(worst, std::abs(e[kHeat]) / kKelvinPerFilm);
    }
    return worst == worst ? worst : std::numeric_limits<double>::infinity();
  }

  [[nodiscard]] const Closures& closures() const { return closures_; }

  [[nodiscard]] static std::array<double, kSolvents> solvents(const State& y) {
    std::array<double, kSolvents> w{};
    for (std::size_t i = 0; i < kSolvents; ++i)
      w[i] = y[1 + i];
    return w;
  }
  [[nodiscard]] static double dry_m(const State& y) { return 1.0 / std::sqrt(y[0]); }
  [[nodiscard]] static double wet_m(const State& y) {
    return (1.0 + total(solvents(y))) / std::sqrt(y[0]);
  }
  [[nodiscard]] double temperature(const State& y) const {
    if constexpr (kSolvents > 0)
      return y[kHeat];
    return closures_.store.air_K;
  }

 private:
  /// A kelvin moves a film by some 3 %: so many kelvin would be the whole of it.
  static constexpr double kKelvinPerFilm = 30.0;

  [[nodiscard]] double capacity(const std::array<double, kSolvents>& w, double root_u) const {
    double film = closures_.store.solids;
    for (std::size_t i = 0; i < kSolvents; ++i)
      film += w[i] * closures_.store.solvent[i];
    return closures_.store.plate + film / root_u;
  }

  void linearise_drying(const State& y, const PlaceSlopes<kSolvents>& s, double turn, State& f,
                        State& f_t) {
    const double root = std::sqrt(y[0]);
    for (std::size_t i = 0; i < kSolvents; ++i) {
      f[1 + i] = -s.rates.e[i] * root;
      f_t[1 + i] = -s.e.by_omega[i] * turn * root;
      jacobian_[1 + i][0] = 0.5 * f[1 + i] / y[0];
      for (std::size_t j = 0; j < kSolvents; ++j)
        jacobian_[1 + i][1 + j] = -s.e.by_w[i][j] * root;
      jacobian_[1 + i][kHeat] = -s.e.by_T[i] * root;
    }
  }

  void linearise_heat(const State& y, const Moment<kSolvents>& c, const PlaceSlopes<kSolvents>& s,
                      double turn, State& f, State& f_t) {
    const double root = std::sqrt(y[0]);
    const double store = capacity(solvents(y), root);
    const double behind = closures_.store.air_K - y[kHeat];
    const double warming = (c.heat * behind - s.rates.heat_taken) / store;
    f[kHeat] = warming;
    f_t[kHeat] = (c.heat_dw * behind - s.heat_taken_omega) * turn / store;
    const double film = store - closures_.store.plate;
    jacobian_[kHeat][0] = 0.5 * warming * film / (store * y[0]);
    for (std::size_t j = 0; j < kSolvents; ++j)
      jacobian_[kHeat][1 + j] =
          (-s.heat_taken_w[j] - warming * closures_.store.solvent[j] / root) / store;
    jacobian_[kHeat][kHeat] = (-c.heat - s.heat_taken_T) / store;
  }

  Closures closures_;
  Piece piece_;
  std::array<std::array<double, kSize>, kSize> jacobian_{};
  std::array<std::array<double, kSize>, kSize> lu_{};
};

} // namespace whirler::film::thinning
