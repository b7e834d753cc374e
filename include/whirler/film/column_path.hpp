// The column's whole history, to be read at any time: what set detection, the trace and the chart
// look at. Between two steps a cubic through both ends and their slopes: as good as the steps.
#pragma once

#include "whirler/film/column.hpp"

#include <algorithm>
#include <span>
#include <vector>

namespace whirler::film::thinning {

template <class Closures>
class ColumnPath {
 public:
  using State = typename Column<Closures>::State;
  struct Knot {
    double t = 0.0; // s
    State y{};
    State f{}; // dy/dt to the right of t
  };

  [[nodiscard]] bool empty() const { return knots_.empty(); }
  [[nodiscard]] std::span<const Knot> knots() const { return knots_; }
  [[nodiscard]] double end_s() const { return knots_.back().t; }
  void append(double t, const State& y, const State& f) { knots_.push_back({t, y, f}); }

  /// Both end values outside.
  [[nodiscard]] State at(double t) const {
    const auto after = std::upper_bound(knots_.begin(), knots_.end(), t,
                                        [](double x, const Knot& k) { return x < k.t; });
    if (after == knots_.begin())
      return knots_.front().y;
    if (after == knots_.end())
      return knots_.back().y;
    return between(*(after - 1), *after, t);
  }

 private:
  [[nodiscard]] static State between(const Knot& a, const Knot& b, double t) {
    const double h = b.t - a.t;
    if (!(h > 0.0))
      return b.y;
    const double x = (t - a.t) / h;
    State y{};
    for (std::size_t i = 0; i < y.size(); ++i) {
      const double rise = b.y[i] - a.y[i];
      const double left = a.f[i] * h - rise;
      const double right = rise - b.f[i] * h;
      y[i] = a.y[i] + x * rise + x * (1.0 - x) * ((1.0 - x) * left + x * right);
    }
    return y;
  }

  std::vector<Knot> knots_;
};

/// Runs the column from `y` over the pieces, appending every step to `path`. False: no admissible
/// state ahead (closures that take more solvent than there is).
template <class Closures, class Method = FourStages>
[[nodiscard]] bool follow(Column<Closures>& column, std::span<const Piece> pieces,
                          typename Column<Closures>::State& y, double tolerance,
                          ColumnPath<Closures>& path) {
  Stepper<Column<Closures>, Method> stepper(column, y, tolerance);
  return stepper.run(pieces, y, [&](double t, const auto& at, const auto& f) {
    path.append(t, at, f);
    return Next::go_on;
  });
}

/// The same without a history: the state at the end.
template <class Closures, class Method = FourStages>
[[nodiscard]] bool finish(Column<Closures>& column, std::span<const Piece> pieces,
                          typename Column<Closures>::State& y, double tolerance,
                          Counts* counts = nullptr) {
  Stepper<Column<Closures>, Method> stepper(column, y, tolerance);
  const bool done =
      stepper.run(pieces, y, [](double, const auto&, const auto&) { return Next::go_on; });
  if (counts != nullptr)
    *counts = stepper.counts();
  return done;
}

} // namespace whirler::film::thinning
