// A coat over the radius from pour to end, in up to three stretches:
//
//   puddle    in its own frame until its front reaches the rim;
//   disc      all cells;
//   two       once the film is even but for the one mode that runs straight with (r/R)^2, its two
//             innermost cells alone: they know nothing of the others, and the others follow from
//             them. Unevenness fades as the fifth power of the thinning, so this comes early.
//
// The last stretch is not taken where something keeps the film uneven: a screw, a power-law liquid,
// turbulent air.
#pragma once

#include "whirler/film/radial.hpp"
#include "whirler/film/thinning_stepper.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

namespace whirler::film::thinning {

struct RadialStart {
  std::vector<double> wet_m; ///< of each cell
  double puddle_share = 1.0; ///< radius that it covers over the plate's
};

/// Wet thicknesses whose mean is `mean_m` and whose depth at the axis is `dome` times that at the
/// edge, a paraboloid.
[[nodiscard]] std::vector<double> domed(const RadialGrid& grid, double mean_m, double dome);

/// Dry and wet film across the plate. SI.
struct AcrossPoint {
  double t = 0.0;
  double dry_centre_m = 0.0, dry_mean_m = 0.0, dry_edge_m = 0.0;
  double dry_least_m = 0.0, dry_most_m = 0.0;
  double wet_centre_m = 0.0, wet_mean_m = 0.0, wet_edge_m = 0.0;
  double T_K = 298.15;
};

struct RadialStory {
  std::vector<AcrossPoint> points;  ///< each step
  std::vector<double> dry_m, wet_m; ///< each cell at the end
  std::optional<double> covered_s;  ///< when a puddle's front reached the rim
  double covered_share = 1.0;       ///< of the plate's radius at the end
  Counts counts;
};

template <class Closures, class Flow = NewtonFlow>
class RadialRun {
 public:
  using System = Radial<Closures, Flow>;
  using State = std::vector<double>;

  /// `air_m2_s`: the air's kinematic viscosity, to find where it turns turbulent; 0: nowhere.
  RadialRun(const Closures& closures, const RadialGrid& grid, Flow flow, double air_m2_s,
            double accuracy)
      : closures_(closures), grid_(grid), flow_(flow), air_m2_s_(air_m2_s), accuracy_(accuracy) {}

  /// None: no admissible film ahead.
  [[nodiscard]] std::optional<RadialStory> run(std::span<const Piece> pieces,
                                               const RadialStart& start) {
    rest_.assign(pieces.begin(), pieces.end());
    y_ = System(closures_, grid_, flow_).start(start.wet_m);
    story_ = {};
    story_.covered_share = start.puddle_share;
    if (start.puddle_share < 1.0 && !spread(start.puddle_share))
      return std::nullopt;
    if (!rest_.empty() && !cover(pieces))
      return std::nullopt;
    return story_;
  }

 private:
  struct Knot {
    double t = 0.0;
    State y, f;
  };

  /// The puddle's stretch. Leaves rest_ empty where it never reaches the rim.
  bool spread(double share) {
    System system(closures_, grid_, flow_, true);
    const double rim = -2.0 * std::log(share); // ln a^2 there
    const std::size_t front = system.front_at();
    Knot before, after;
    Stepper<System> stepper(system, y_, accuracy_);
    const auto seen = [&](double t, const State& y, const State& f) {
      before.t = after.t, before.y.swap(after.y), before.f.swap(after.f);
      after.t = t, after.y = y, after.f = f;
      if (y[front] >= rim)
        return Next::stop;
      record(system, t, y);
      return Next::go_on;
    };
    if (!stepper.run(rest_, y_, seen))
      return false;
    count(stepper.counts());
    if (y_[front] < rim) {
      story_.covered_share = share * std::exp(0.5 * y_[front]);
      finish_cells(system, grid_.size());
      rest_.clear();
      return true;
    }
    return land_on_rim(system, before, after, rim);
  }

  /// From the step before the front passed the rim exactly to where it meets it.
  bool land_on_rim(System& system, const Knot& before, const Knot& after, double rim) {
    const std::size_t front = system.front_at();
    double low = before.t, high = after.t;
    for (int i = 0; i < 60 && high - low > 1e-15 * high; ++i) {
      const double t = 0.5 * (low + high);
      const double x = (t - before.t) / (after.t - before.t);
      const double h = after.t - before.t;
      const double rise = after.y[front] - before.y[front];
      const double at =
          before.y[front] + x * rise +
          x * (1.0 - x) *
              ((1.0 - x) * (before.f[front] * h - rise) + x * (rise - after.f[front] * h));
      (at < rim ? low : high) = t;
    }
    y_ = before.y;
    const auto last = pieces_until(pieces_from(rest_, before.t), high);
    Stepper<System> stepper(system, y_, accuracy_);
    stepper.set_next_step(high - before.t);
    const auto go_on = [](double, const State&, const State&) { return Next::go_on; };
    if (!stepper.run(last, y_, go_on))
      return false;
    count(stepper.counts());
    step_ = high - before.t;
    y_[front] = 0.0;
    story_.covered_s = high;
    story_.covered_share = 1.0;
    rest_ = pieces_from(rest_, high);
    return true;
  }

  bool cover(std::span<const Piece> pieces) {
    System system(closures_, grid_, flow_);
    system.set_air_viscosity(air_m2_s_);
    const bool may_drop = stays_straight(pieces);
    double reached = rest_.front().start_s;
    bool even = false;
    Stepper<System> stepper(system, y_, accuracy_);
    stepper.set_next_step(step_);
    const auto seen = [&](double t, const State& y, const State&) {
      record(system, t, y);
      reached = t;
      even = may_drop && t < rest_.back().end_s && is_straight(system, y);
      return even ? Next::stop : Next::go_on;
    };
    if (!stepper.run(rest_, y_, seen))
      return false;
    count(stepper.counts());
    step_ = stepper.next_step();
    if (even)
      return follow_two(reached);
    finish_cells(system, grid_.size());
    return true;
  }

  bool follow_two(double from_s) {
    System two(closures_, innermost_two(grid_), flow_);
    const std::size_t kept = 2 * System::kBlock;
    State y(y_.begin(), y_.begin() + static_cast<std::ptrdiff_t>(kept));
    y.insert(y.end(), y_.end() - 2, y_.end());
    Stepper<System> stepper(two, y, accuracy_);
    stepper.set_next_step(step_);
    const auto seen = [&](double t, const State& at, const State&) {
      if (t > from_s)
        record(two, t, at);
      return Next::go_on;
    };
    if (!stepper.run(pieces_from(rest_, from_s), y, seen))
      return false;
    count(stepper.counts());
    y_ = std::move(y);
    finish_cells(two, grid_.size());
    return true;
  }

  [[nodiscard]] bool stays_straight(std::span<const Piece> pieces) const {
    constexpr double kTurbulentFrom = 1.95e5;
    const double rim2 = grid_.radius_m * grid_.radius_m;
    const bool calm = air_m2_s_ <= 0.0 || top_omega(pieces) * rim2 / air_m2_s_ < kTurbulentFrom;
    const bool no_screw = grid_.faces[0] < 1.5 * grid_.width;
    return calm && no_screw && std::is_same_v<Flow, NewtonFlow> && grid_.size() > 2;
  }

  /// Whether all cells lie on the line through the first two, and near enough to even that the
  /// square of the unevenness is nothing.
  [[nodiscard]] bool is_straight(const System& system, const State& y) const {
    const double allowed = kStraightness * accuracy_;
    constexpr std::size_t b = System::kBlock;
    const double u = y[0];
    const double slope_u = (y[b] - u) / u;
    const auto last = static_cast<double>(system.cells() - 1);
    if (std::pow(0.5 * slope_u * last, 2) > allowed)
      return false;
    const double whole = 1.0 + total(System::solvents(y, 0));
    for (std::size_t i = system.cells(); i-- > 2;) {
      const auto x = static_cast<double>(i);
      if (std::abs((y[i * b] - u) / u - x * slope_u) > 2.0 * allowed)
        return false;
      for (std::size_t k = 1; k < b; ++k)
        if (std::abs(y[i * b + k] - y[k] - x * (y[b + k] - y[k])) > allowed * whole)
          return false;
    }
    return true;
  }

  /// A cell's value, or one on the line through the first two where only they are followed.
  template <class Read>
  [[nodiscard]] double cell(const System& system, std::size_t i, Read&& read) const {
    if (i < system.cells())
      return read(i);
    return read(0) + static_cast<double>(i) * (read(1) - read(0));
  }

  void record(const System& system, double t, const State& y) {
    const std::size_t n = grid_.size();
    const auto dry = [&](std::size_t i) { return System::dry_m(y, i); };
    const auto wet = [&](std::size_t i) { return System::wet_m(y, i); };
    AcrossPoint p;
    p.t = t;
    p.T_K = y[system.heat_at()];
    p.dry_centre_m = dry(0);
    p.wet_centre_m = wet(0);
    p.dry_edge_m = cell(system, n - 1, dry);
    p.wet_edge_m = cell(system, n - 1, wet);
    p.dry_least_m = std::min(p.dry_centre_m, p.dry_edge_m);
    p.dry_most_m = std::max(p.dry_centre_m, p.dry_edge_m);
    p.dry_mean_m = 0.5 * (p.dry_centre_m + p.dry_edge_m);
    p.wet_mean_m = 0.5 * (p.wet_centre_m + p.wet_edge_m);
    if (system.cells() == n) {
      p.dry_mean_m = p.wet_mean_m = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        const double here = dry(i);
        p.dry_mean_m += here / static_cast<double>(n);
        p.wet_mean_m += wet(i) / static_cast<double>(n);
        p.dry_least_m = std::min(p.dry_least_m, here);
        p.dry_most_m = std::max(p.dry_most_m, here);
      }
    }
    story_.points.push_back(p);
  }

  void finish_cells(const System& system, std::size_t n) {
    const auto dry = [&](std::size_t i) { return System::dry_m(y_, i); };
    const auto wet = [&](std::size_t i) { return System::wet_m(y_, i); };
    for (std::size_t i = 0; i < n; ++i) {
      story_.dry_m.push_back(cell(system, i, dry));
      story_.wet_m.push_back(cell(system, i, wet));
    }
  }

  void count(const Counts& counts) {
    story_.counts.steps += counts.steps;
    story_.counts.rejected += counts.rejected;
  }

  static constexpr double kStraightness = 0.1; // of the accuracy

  Closures closures_;
  RadialGrid grid_;
  Flow flow_;
  double air_m2_s_;
  double accuracy_;
  double step_ = 0.0;
  State y_;
  std::vector<Piece> rest_;
  RadialStory story_;
};

} // namespace whirler::film::thinning
