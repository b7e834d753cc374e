// A coat over the radius from pour to end, with as few cells as the film still needs:
//
//   puddle    in its own frame until its front reaches the rim;
//   disc      all cells;
//   few       once the film is a polynomial of low degree in (r/R)^2, its innermost cells alone:
//             nothing flows inward, so they know nothing of the others, and the others follow from
//             their differences. A mode of degree k fades as the (3k + 2)nd power of the thinning
//             (the fifth for the last to go), so this comes early;
//   two       once it is even but for the one mode that runs straight.
//
// Few and two are not taken where something keeps the film uneven: a screw, a power-law liquid,
// turbulent air.
//
// Solids are conserved by construction, at any tolerance: what crosses a circle is what the cells
// within it lose, the same number for both its sides, and what leaves the plate is what all lose.
// A step's error is one of when they leave, never of solids made or lost. Rejected: an account of
// its own for the rim, the flux there integrated beside the cells and the cells scaled to it. Its
// error is a share of what was poured, and a two-hundredth of that stays on.
#pragma once

#include "whirler/film/radial_course.hpp"
#include "whirler/film/thinning_stepper.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>
#include <span>
#include <vector>

namespace whirler::film::thinning {

template <class Closures, class Flow = NewtonFlow>
class RadialRun {
 public:
  using System = Radial<Closures, Flow>;
  using State = std::vector<double>;

  /// `air_m2_s`: the air's kinematic viscosity, to find where it turns turbulent; 0: nowhere.
  RadialRun(const Closures& closures, const RadialGrid& grid, Flow flow, double air_m2_s,
            double accuracy)
      : closures_(closures), grid_(grid), flow_(flow), air_m2_s_(air_m2_s), accuracy_(accuracy) {}

  /// Without its points: only what the end leaves.
  void forget_points() { keeps_points_ = false; }

  /// None: no admissible film ahead.
  [[nodiscard]] std::optional<RadialStory> run(std::span<const Piece> pieces,
                                               const RadialStart& start) {
    rest_.assign(pieces.begin(), pieces.end());
    story_ = {};
    story_.covered_share = start.puddle_share;
    story_.poured_m = closures_.start_phi * start.puddle_share * start.puddle_share *
                      std::accumulate(start.wet_m.begin(), start.wet_m.end(), 0.0) /
                      static_cast<double>(start.wet_m.size());
    step_ = 0.0;
    if (start.puddle_share < 1.0) {
      if (!spread(start))
        return std::nullopt;
    } else {
      y_ = System(closures_, grid_, flow_).start(start.wet_m);
    }
    if (!rest_.empty() && !cover(pieces))
      return std::nullopt;
    return story_;
  }

 private:
  struct Knot {
    double t = 0.0;
    State y, f;
  };

  using Puddle = Radial<Closures, Flow, Frame::puddle>;

  /// The puddle's stretch. Leaves rest_ empty where it never reaches the rim. An even puddle stays
  /// even, and one cell of its frame is all of it.
  bool spread(const RadialStart& start) {
    const bool even = std::all_of(start.wet_m.begin(), start.wet_m.end(),
                                  [&](double h) { return h == start.wet_m.front(); });
    Puddle puddle(closures_, even ? radial_grid(1, grid_.radius_m) : grid_, flow_);
    y_ = puddle.start(std::span(start.wet_m).first(puddle.cells()));
    const double rim = -2.0 * std::log(start.puddle_share); // ln a^2 there
    const std::size_t front = puddle.front_at();
    Knot before, after;
    Stepper<Puddle> stepper(puddle, y_, accuracy_);
    const auto seen = [&](double t, const State& y, const State& f) {
      std::swap(before, after);
      after.t = t, after.y = y, after.f = f;
      if (y[front] >= rim)
        return Next::stop;
      record(puddle, t, y);
      return Next::go_on;
    };
    if (!stepper.run(rest_, y_, seen))
      return false;
    count(stepper.counts());
    if (y_[front] < rim) {
      story_.covered_share = start.puddle_share * std::exp(0.5 * y_[front]);
      finish_cells(puddle);
      rest_.clear();
      return true;
    }
    return land_on_rim(puddle, before, after, rim);
  }

  /// From the step before the front passed the rim exactly to where it meets it.
  bool land_on_rim(Puddle& puddle, const Knot& before, const Knot& after, double rim) {
    const std::size_t front = puddle.front_at();
    const double h = after.t - before.t;
    const double rise = after.y[front] - before.y[front];
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 50; ++i) {
      const double x = 0.5 * (low + high);
      const double at =
          before.y[front] + x * rise +
          x * (1.0 - x) *
              ((1.0 - x) * (before.f[front] * h - rise) + x * (rise - after.f[front] * h));
      (at < rim ? low : high) = x;
    }
    const double landing = before.t + high * h;
    y_ = before.y;
    Stepper<Puddle> stepper(puddle, y_, accuracy_);
    stepper.set_next_step(high * h);
    const auto go_on = [](double, const State&, const State&) { return Next::go_on; };
    if (!stepper.run(pieces_until(pieces_from(rest_, before.t), landing), y_, go_on))
      return false;
    count(stepper.counts());
    step_ = h;
    story_.covered_s = landing;
    story_.covered_share = 1.0;
    rest_ = pieces_from(rest_, landing);
    lay_on_plate(puddle);
    return true;
  }

  /// The puddle's cells become the plate's: (r/a)^2 is (r/R)^2 once a is R. They share out what was
  /// poured, since the step's error in a would else be solids made or lost.
  void lay_on_plate(const Puddle& puddle) {
    constexpr std::size_t b = System::kBlock;
    State y;
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      const auto from =
          y_.begin() + static_cast<std::ptrdiff_t>(std::min(i, puddle.cells() - 1) * b);
      y.insert(y.end(), from, from + static_cast<std::ptrdiff_t>(b));
    }
    double solids_m = 0.0;
    for (std::size_t i = 0; i < grid_.size(); ++i)
      solids_m += 1.0 / std::sqrt(y[i * b]) / static_cast<double>(grid_.size());
    for (std::size_t i = 0; i < grid_.size(); ++i)
      y[i * b] *= std::pow(solids_m / story_.poured_m, 2);
    y.push_back(y_[puddle.heat_at()]);
    y_ = std::move(y);
  }

  /// From a covered plate to the end, over ever fewer cells.
  bool cover(std::span<const Piece> pieces) {
    const std::vector<std::size_t> levels =
        stays_smooth(pieces) ? std::vector<std::size_t>{grid_.size(), few(), 2, 0}
                             : std::vector<std::size_t>{grid_.size(), 0};
    for (std::size_t i = 0; i + 1 < levels.size() && !rest_.empty(); ++i)
      if (!follow(levels[i], levels[i + 1]))
        return false;
    return true;
  }

  /// `cells` innermost ones, until `next` suffice (0: to the end).
  bool follow(std::size_t cells, std::size_t next) {
    System system(closures_, cells < grid_.size() ? innermost(grid_, cells) : grid_, flow_);
    system.set_air_viscosity(cells < grid_.size() ? 0.0 : air_m2_s_);
    const double from = rest_.front().start_s;
    double reached = from;
    bool fewer = false;
    Stepper<System> stepper(system, y_, accuracy_);
    stepper.set_next_step(step_);
    const auto seen = [&](double t, const State& y, const State&) {
      if (story_.points.empty() || t > story_.points.back().t)
        record(system, t, y);
      reached = t;
      fewer = next > 0 && next < cells && t < rest_.back().end_s && suffice(next, system, y);
      return fewer ? Next::stop : Next::go_on;
    };
    if (!stepper.run(rest_, y_, seen))
      return false;
    count(stepper.counts());
    step_ = stepper.next_step();
    if (!fewer && reached >= rest_.back().end_s) {
      finish_cells(system);
      rest_.clear();
      return true;
    }
    rest_ = pieces_from(rest_, reached);
    keep_innermost(next);
    return true;
  }

  void keep_innermost(std::size_t cells) {
    const auto shared = y_.end() - static_cast<std::ptrdiff_t>(System::kBorders);
    State y(y_.begin(), y_.begin() + static_cast<std::ptrdiff_t>(cells * System::kBlock));
    y.insert(y.end(), shared, y_.end());
    y_ = std::move(y);
  }

  [[nodiscard]] bool stays_smooth(std::span<const Piece> pieces) const {
    constexpr double kTurbulentFrom = 1.95e5;
    const double rim2 = grid_.radius_m * grid_.radius_m;
    const bool calm = air_m2_s_ <= 0.0 || top_omega(pieces) * rim2 / air_m2_s_ < kTurbulentFrom;
    const bool no_screw = grid_.faces[0] < 1.5 * grid_.width;
    return calm && no_screw && std::is_same_v<Flow, NewtonFlow> && grid_.size() > kMostKept;
  }

  /// How many cells may stand for all: the last difference multiplies their rounding errors.
  [[nodiscard]] std::size_t few() const {
    constexpr double kRounding = 1e-15;
    std::size_t kept = kMostKept;
    while (kept > 3 &&
           binomial(grid_.size() - 1, kept - 1) * std::ldexp(kRounding, static_cast<int>(kept)) >
               kNegligible * accuracy_)
      --kept;
    return kept;
  }

  /// Whether all cells lie on the polynomial through the innermost `kept`.
  [[nodiscard]] bool suffice(std::size_t kept, const System& system, const State& y) const {
    constexpr std::size_t b = System::kBlock;
    const std::size_t cells = system.cells();
    // What the polynomial misses of all cells fades at once, as the (3 kept + 2)nd power of the
    // thinning, so it may be as large as the accuracy itself; what runs straight stays longest.
    const double allowed = (cells == grid_.size() ? 1.0 : kNegligible) * accuracy_;
    const double whole = 1.0 + total(System::solvents(y, 0));
    if (kept == 2 &&
        std::pow(0.5 * (y[b] / y[0] - 1.0) * static_cast<double>(grid_.size() - 1), 2) > allowed)
      return false; // the square of what runs straight would bend it again
    for (std::size_t k = 0; k < b; ++k) {
      const double scale = k == 0 ? 2.0 * y[0] : whole;
      const auto value = [&](std::size_t i) { return y[i * b + k]; };
      const auto kept_poly = differences(kept, value);
      if (cells < grid_.size()) {
        const auto poly = differences(cells, value);
        double beyond = 0.0;
        for (std::size_t j = kept; j < cells; ++j)
          beyond += std::abs(poly[j]) * binomial(grid_.size() - 1, j);
        if (beyond > allowed * scale)
          return false;
        continue;
      }
      for (std::size_t i = cells; i-- > kept;)
        if (std::abs(value(i) - along(kept_poly, i)) > allowed * scale)
          return false;
    }
    return true;
  }

  static constexpr std::size_t kMostKept = 8;
  /// Forward differences at the innermost cell.
  struct Polynomial {
    std::array<double, kMostKept> term{};
    std::size_t count = 0;
    [[nodiscard]] double operator[](std::size_t k) const { return term[k]; }
  };
  template <class Value>
  [[nodiscard]] static Polynomial differences(std::size_t kept, Value&& value) {
    Polynomial p;
    p.count = kept;
    for (std::size_t i = 0; i < kept; ++i)
      p.term[i] = value(i);
    for (std::size_t k = 1; k < kept; ++k)
      for (std::size_t i = kept; i-- > k;)
        p.term[i] -= p.term[i - 1];
    return p;
  }
  [[nodiscard]] static double along(const Polynomial& p, std::size_t i) {
    double sum = 0.0, weight = 1.0;
    for (std::size_t k = 0; k < p.count; ++k) {
      sum += weight * p.term[k];
      weight *= (static_cast<double>(i) - static_cast<double>(k)) / static_cast<double>(k + 1);
    }
    return sum;
  }

  /// All cells of a system that follows some or all of them.
  struct Cells {
    std::vector<double> dry_m, wet_m;
  };
  template <class Some>
  [[nodiscard]] Cells all_cells(const Some& system, const State& y) const {
    constexpr std::size_t b = System::kBlock;
    Cells all;
    std::array<Polynomial, b> poly;
    const std::size_t cells = system.cells();
    if (cells < grid_.size())
      for (std::size_t k = 0; k < b; ++k)
        poly[k] = differences(cells, [&](std::size_t i) { return y[i * b + k]; });
    for (std::size_t i = 0; i < grid_.size(); ++i) {
      double whole = 1.0;
      const double u = i < cells ? y[i * b] : along(poly[0], i);
      for (std::size_t k = 1; k < b; ++k)
        whole += i < cells ? y[i * b + k] : along(poly[k], i);
      all.dry_m.push_back(1.0 / std::sqrt(u));
      all.wet_m.push_back(whole / std::sqrt(u));
    }
    return all;
  }

  template <class Some>
  void record(const Some& system, double t, const State& y) {
    if (!keeps_points_)
      return;
    const Cells all = all_cells(system, y);
    const auto n = static_cast<double>(grid_.size());
    const auto [least, most] = std::minmax_element(all.dry_m.begin(), all.dry_m.end());
    AcrossPoint p;
    p.t = t;
    p.T_K = y[system.heat_at()];
    p.dry_centre_m = all.dry_m.front();
    p.dry_edge_m = all.dry_m.back();
    p.dry_least_m = *least;
    p.dry_most_m = *most;
    p.dry_mean_m = std::accumulate(all.dry_m.begin(), all.dry_m.end(), 0.0) / n;
    p.wet_centre_m = all.wet_m.front();
    p.wet_edge_m = all.wet_m.back();
    p.wet_mean_m = std::accumulate(all.wet_m.begin(), all.wet_m.end(), 0.0) / n;
    if constexpr (Some::kMoving)
      p.covered = story_.poured_m / p.dry_mean_m; // none is lost before the rim
    else
      p.gone_m = story_.poured_m - p.dry_mean_m;
    story_.points.push_back(p);
  }

  template <class Some>
  void finish_cells(const Some& system) {
    Cells all = all_cells(system, y_);
    story_.dry_m = std::move(all.dry_m);
    story_.wet_m = std::move(all.wet_m);
  }

  void count(const Counts& counts) {
    story_.counts.steps += counts.steps;
    story_.counts.rejected += counts.rejected;
  }

  static constexpr double kNegligible = 0.2; // of the accuracy

  Closures closures_;
  RadialGrid grid_;
  Flow flow_;
  double air_m2_s_;
  double accuracy_;
  double step_ = 0.0;
  bool keeps_points_ = true;
  State y_;
  std::vector<Piece> rest_;
  RadialStory story_;
};

} // namespace whirler::film::thinning
