// The film over the radius, for what is not even: a domed, hollow or puddled pour, a screw that
// covers the centre, a power-law liquid, a rim in turbulent air. Finite volumes in xi = (r/R)^2:
// equal cells have equal areas, 1/r disappears, and one mode of unevenness, delta ~ xi, is exact on
// any grid. What leaves a cell is what its neighbour receives, so solids are conserved by the
// scheme itself; upwind, since the pull is outward everywhere.
//
//   du_i/dt = (4/d) [out_i - in_i u_i^(3/2)],  in_i = out_(i-1) u_(i-1)^(-3/2)
//   dw_i/dt = u_i^(1/2) [(2/d) in_i (w_(i-1) - w_i) - E_i]
//   out = xi_i K (1 + w)^2 for Newton's liquid; d the cell's width in xi; in_1 = 0.
//
// A puddle that has not reached the rim is followed in its own frame, xi = (r/a)^2: the front is a
// shock that moves with the liquid behind it, a'/a = K h_N^2 = kappa, and each circle of the frame
// moves with xi. Then out loses xi kappa u and du/dt gains 4 kappa u; an even puddle stays exactly
// even and a^2 h_s constant. Rejected: the front on a fixed grid, which smears it over cells and
// needs an infinitesimal film ahead of it. The frame still takes the inner neighbour as upwind
// where characteristics run outward in it, 3 K h^2 > kappa: a puddle may be hollow, but no cell
// thinner than 0.6 of its edge.
#pragma once

#include "whirler/film/radial_blocks.hpp"
#include "whirler/film/radial_flow.hpp"
#include "whirler/film/thinning_cell.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace whirler::film::thinning {

/// Cells from the axis (or the edge of the screw) outward.
struct RadialGrid {
  double width = 1.0;         ///< of each cell, in xi
  std::vector<double> faces;  ///< outer face of each cell, in xi
  std::vector<double> weight; ///< share of the plate's evaporation that each cell stands for
  double radius_m = 0.05;     ///< xi = 1

  [[nodiscard]] std::size_t size() const { return faces.size(); }
  [[nodiscard]] double middle(std::size_t i) const { return faces[i] - 0.5 * width; }
};

/// `cells` equal areas between a screw's edge at `hub_m` (0: none) and the rim at `radius_m`.
[[nodiscard]] RadialGrid radial_grid(std::size_t cells, double radius_m, double hub_m = 0.0);

/// The innermost `kept` cells of a grid. Nothing flows inward, so they are a film of their own;
/// where the film over all cells is a polynomial of the cell's number, of a degree under `kept`,
/// the others follow from them (Newton's forward differences), and the weights are those of that
/// polynomial.
[[nodiscard]] RadialGrid innermost(const RadialGrid& grid, std::size_t kept);

/// i over k: the weight of the k-th forward difference at i cells from the innermost.
[[nodiscard]] double binomial(std::size_t i, std::size_t k);

/// Whether the cells stand still on the plate, or spread with a puddle's front.
enum class Frame { plate, puddle };

/// System of the stepper: y = (u_1, w_1.., u_2, .., T), and ln a^2 in a puddle's frame.
template <class Closures, class Flow = NewtonFlow, Frame kFrame = Frame::plate>
class Radial {
 public:
  static constexpr std::size_t kSolvents = Closures::kSolvents;
  static constexpr std::size_t kBlock = kSolvents + 1;
  static constexpr bool kMoving = kFrame == Frame::puddle;
  static constexpr std::size_t kBorders = kMoving ? 2 : 1; // T, kappa
  using State = std::vector<double>;

  Radial(const Closures& closures, RadialGrid grid, Flow flow = {})
      : closures_(closures), grid_(std::move(grid)), flow_(flow) {
    blocks_.cells.resize(grid_.size());
    blocks_.moving[0] = true;
    air_factor_.assign(grid_.size(), {});
    places_.resize(grid_.size());
  }

  [[nodiscard]] std::size_t cells() const { return grid_.size(); }
  [[nodiscard]] const RadialGrid& grid() const { return grid_; }
  [[nodiscard]] const Closures& closures() const { return closures_; }
  [[nodiscard]] std::size_t heat_at() const { return cells() * kBlock; }
  [[nodiscard]] std::size_t front_at() const { return cells() * kBlock + 1; }

  /// A film of these wet thicknesses [m], fresh from the bottle, as warm as the room; ln a^2 = 0.
  [[nodiscard]] State start(std::span<const double> wet_m) const {
    State y(cells() * kBlock + kBorders, 0.0);
    for (std::size_t i = 0; i < cells(); ++i) {
      const double solids = wet_m[i] * closures_.start_phi;
      y[i * kBlock] = 1.0 / (solids * solids);
      for (std::size_t k = 0; k < kSolvents; ++k)
        y[i * kBlock + 1 + k] = closures_.share[k] * (1.0 / closures_.start_phi - 1.0);
    }
    y[heat_at()] = closures_.store.air_K;
    return y;
  }

  /// Where the air over the rim turns turbulent; 0 (as made): nowhere.
  void set_air_viscosity(double m2_per_s) { air_m2_s_ = m2_per_s; }

  void enter(const Piece& piece) { piece_ = piece; }

  void rhs(double t, const State& y, State& f) {
    const double omega = std::abs(piece_.omega(t));
    const auto c = closures_.at(omega, y[heat_at()]);
    meet_air(omega);
    const double kappa = kMoving ? front_speed(y, c, omega) : 0.0;
    const double four = 4.0 / grid_.width;
    double in = 0.0, taken = 0.0, stored = closures_.store.plate;
    std::array<double, kSolvents> w_in{};
    for (std::size_t i = 0; i < cells(); ++i) {
      const double u = y[i * kBlock];
      const auto w = solvents(y, i);
      PlaceRates<kSolvents> r = rates_at(closures_, c, omega * omega, w);
      stir(i, r);
      const double root = std::sqrt(u);
      const double cube = u * root;
      const double out =
          flow_.out(grid_.faces[i], layer(u, w, r.spread)) - grid_.faces[i] * kappa * u;
      f[i * kBlock] = four * (out - in * cube) + 4.0 * kappa * u;
      for (std::size_t k = 0; k < kSolvents; ++k)
        f[i * kBlock + 1 + k] = root * (0.5 * four * in * (w_in[k] - w[k]) - r.e[k]);
      taken += grid_.weight[i] * r.heat_taken;
      const double scale = 1.0 / cube;
      stored += grid_.weight[i] * stored_in(w) * (u * scale);
      in = out * scale;
      w_in = w;
    }
    f[heat_at()] =
        kSolvents > 0 ? (c.heat * (closures_.store.air_K - y[heat_at()]) - taken) / stored : 0.0;
    if constexpr (kMoving)
      f[front_at()] = 2.0 * kappa;
  }

  void linearise(double t, const State& y, State& f, State& f_t);
  void factor(double s) {
    shift_ = s;
    blocks_.factor(s);
  }

  void solve(State& b) const {
    if constexpr (!kMoving) {
      blocks_.solve(b);
    } else {
      // kappa is a border without a derivative of its own: its place is lent by ln a^2, which
      // nothing depends on and which then follows from kappa.
      const double front = b[front_at()];
      b[front_at()] = 0.0;
      blocks_.solve(b);
      b[front_at()] = (front + 2.0 * b[front_at()]) / shift_;
    }
  }

  /// The step's error as a share of the film's thickness, in the worst cell.
  [[nodiscard]] double error(const State& e, const State& y0, const State& y1) const;

  [[nodiscard]] static std::array<double, kSolvents> solvents(const State& y, std::size_t i) {
    std::array<double, kSolvents> w{};
    for (std::size_t k = 0; k < kSolvents; ++k)
      w[k] = y[i * kBlock + 1 + k];
    return w;
  }
  [[nodiscard]] static double dry_m(const State& y, std::size_t i) {
    return 1.0 / std::sqrt(y[i * kBlock]);
  }
  [[nodiscard]] static double wet_m(const State& y, std::size_t i) {
    return (1.0 + total(solvents(y, i))) * dry_m(y, i);
  }

 private:
  [[nodiscard]] double stored_in(const std::array<double, kSolvents>& w) const {
    double film = closures_.store.solids;
    for (std::size_t k = 0; k < kSolvents; ++k)
      film += w[k] * closures_.store.solvent[k];
    return film;
  }
  [[nodiscard]] static Layer layer(double u, const std::array<double, kSolvents>& w,
                                   double spread) {
    Layer at;
    at.u = u;
    at.whole = 1.0 + total(w);
    at.spread = spread;
    return at;
  }
  void stir(std::size_t i, PlaceRates<kSolvents>& r) const {
    if (!turbulent_)
      return;
    for (double& e : r.e)
      e *= air_factor_[i].factor;
    r.heat_taken *= air_factor_[i].factor;
  }
  void meet_air(double omega) {
    constexpr double kNowhere = 1.95e5; // Re, as turbulence()
    turbulent_ = air_m2_s_ > 0.0 && omega * grid_.radius_m * grid_.radius_m / air_m2_s_ > kNowhere;
    if (!turbulent_)
      return;
    for (std::size_t i = 0; i < cells(); ++i)
      air_factor_[i] =
          turbulence(omega * grid_.radius_m * grid_.radius_m * grid_.middle(i) / air_m2_s_);
  }
  [[nodiscard]] double front_speed(const State& y, const Moment<kSolvents>& c, double omega) const {
    const std::size_t last = cells() - 1;
    const auto w = solvents(y, last);
    const double whole = 1.0 + total(w);
    return closures_.mobility(c, 1.0 / whole) * omega * omega * whole * whole / y[last * kBlock];
  }

  struct CellSlopes {
    PlaceSlopes<kSolvents> slopes;
    Crossing crossing;                         ///< relative to the frame once linearise is through
    double u = 0.0, root = 0.0, inverse = 0.0; ///< u, u^(1/2), 1/u
    std::array<double, kSolvents> w{};
  };
  void look_at_places(const State& y, const Moment<kSolvents>& c, double omega);
  void stir_slopes(std::size_t i, double omega, PlaceSlopes<kSolvents>& s) const;
  void solids_row(std::size_t i, double four, double kappa, const Inflow& in, State& f);
  void solvent_rows(std::size_t i, double two, const Inflow& in,
                    const std::array<double, kSolvents>& w_in, State& f);
  void time_rows(std::size_t i, double two, const Inflow& in,
                 const std::array<double, kSolvents>& w_in, double kappa_t, State& f_t) const;
  void heat_rows(const State& y, const Moment<kSolvents>& c, State& f, State& f_t);
  void front_rows(const State& y, double kappa);

  Closures closures_;
  RadialGrid grid_;
  Flow flow_;
  bool turbulent_ = false;
  double air_m2_s_ = 0.0;
  double shift_ = 1.0;
  Piece piece_;
  std::vector<Turbulence> air_factor_;
  std::vector<CellSlopes> places_;
  BorderedBlocks<kBlock, kBorders> blocks_;
};

} // namespace whirler::film::thinning

#include "whirler/film/radial_slopes.hpp"
