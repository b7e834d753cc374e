#include "run_up_problem.hpp"

#include "dwell_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kPad = 2.5;              ///< s of a dwell that stay with the ramp beside it
constexpr std::size_t kPadTurns = 12;     ///< and turns
constexpr std::size_t kWorthIt = 100;     ///< turns that make a dwell worth a vector of its own
constexpr std::size_t kDwellTurns = 2000; ///< of a dwell that its vector is taken from
constexpr std::size_t kMostTurns = 4000;  ///< of ramps; beyond, slow ramps are thinned
constexpr std::size_t kPieceTurns = 40;   ///< a piece of a thinned ramp
constexpr double kJolt = 8.0;             ///< a turn's mean square over the usual

/// Places that stand out over `limit` and over their neighbours.
std::vector<std::size_t> peaks(const std::vector<double>& values, double limit) {
  constexpr std::size_t kReach = 5;
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto from = values.begin() + static_cast<std::ptrdiff_t>(i > kReach ? i - kReach : 0);
    const auto to =
        values.begin() + static_cast<std::ptrdiff_t>(std::min(i + kReach + 1, values.size()));
    if (values[i] > limit && values[i] >= *std::max_element(from, to))
      out.push_back(i);
  }
  return out;
}

} // namespace

RunUpProblem::RunUpProblem(const TurnBasis& basis, TurnSlots& slots, Duration tick,
                           double softest_hz)
    : basis_(&basis), transform_(basis), steps_(transform_.steps()) {
  const std::size_t turns = slots.turns(basis.marks);
  const TurnBegins begins(slots.ticks, basis.marks, tick);
  slowest_ = 1e300;
  for (std::size_t i = 0; i < turns; ++i) {
    const double speed = kTwoPi / std::max(begins[i + 1] - begins[i], tick.s());
    slowest_ = std::min(slowest_, speed);
    fastest_ = std::max(fastest_, speed);
  }
  std::vector<Dwell> long_dwells;
  const auto dwells = find_dwells(begins);
  leave_out_start(begins, dwells, softest_hz);
  for (Dwell d : dwells) {
    const auto pad = [&](std::size_t at, int way) { // turns within kPad of a dwell's end
      std::size_t n = 0;
      while (n < d.turns() / 3 &&
             (n < kPadTurns || std::abs(begins[way > 0 ? at + n : at - n] - begins[at]) < kPad))
        ++n;
      return n;
    };
    const std::size_t before = d.from == 0 ? 0 : pad(d.from, 1);
    const std::size_t after = d.to == turns ? 0 : pad(d.to, -1);
    d.from += before;
    d.to -= after;
    if (d.turns() >= kWorthIt)
      long_dwells.push_back(d);
  }
  lay_out(slots, tick, long_dwells);
}

/// Turns from rest and to rest, well below any speed that is held: friction, cogging and a loop
/// that has not yet seen a whole turn move them more than marks and plate do.
void RunUpProblem::leave_out_start(const TurnBegins& begins, std::span<const Dwell> dwells,
                                   double softest_hz) {
  constexpr double kOfSlowest = 0.5;
  constexpr double kOfSoftest = 0.786; // that far below a mount's natural speed a turn tells of it
  double held = kTwoPi * kOfSoftest * softest_hz / kOfSlowest;
  for (const Dwell& d : dwells)
    held = std::min(held, d.speed);
  if (dwells.empty() || slowest_ > kOfSlowest * held)
    return;
  least_speed_ = kOfSlowest * held;
  slowest_ = fastest_;
  for (std::size_t i = 0; i + 1 < begins.size(); ++i) {
    const double speed = kTwoPi / std::max(begins[i + 1] - begins[i], 1e-12);
    if (speed >= least_speed_)
      slowest_ = std::min(slowest_, speed);
  }
}

void RunUpProblem::lay_out(TurnSlots& slots, Duration tick, const std::vector<Dwell>& dwells) {
  std::vector<Dwell> ramps;
  std::size_t at = 0;
  for (const Dwell& d : dwells) {
    if (d.from > at)
      ramps.push_back({at, d.from, 0.0});
    at = d.to;
    add_dwell(slots, tick, d);
  }
  const std::size_t turns = slots.turns(basis_->marks);
  if (turns > at)
    ramps.push_back({at, turns, 0.0});
  std::size_t all = 0;
  for (const Dwell& r : ramps)
    all += r.turns();
  for (const Dwell& r : ramps) {
    if (all <= kMostTurns) {
      add_window(slots, tick, r.from, r.to);
      continue;
    }
    const std::size_t every = kPieceTurns * all / kMostTurns;
    for (std::size_t from = r.from; from < r.to; from += every)
      add_window(slots, tick, from, std::min(from + kPieceTurns, r.to));
  }
}

void RunUpProblem::add_dwell(TurnSlots& slots, Duration tick, const Dwell& dwell) {
  // Beyond some thousand turns the vector is known far better than the model of the ramps is.
  const std::size_t more = dwell.turns() > kDwellTurns ? dwell.turns() - kDwellTurns : 0;
  const DwellFit fit =
      fit_dwell(*basis_, slots, tick, dwell.from + more / 2, dwell.to - (more + 1) / 2);
  const OrderOne figure = figure_of(fit, *basis_);
  const double variance = basis_->marks > 2 ? figure.covariance.largest() : figure.covariance.re_re;
  if (!(variance > 0.0))
    return;
  dwells_.push_back({figure.vector, std::sqrt(variance), figure.speed.rad_per_s(), dwell.from});
  reference_ = std::max(reference_, fit.noise);
}

void RunUpProblem::add_window(const TurnSlots& slots, Duration tick, std::size_t from,
                              std::size_t to) {
  if (to < from + kLeastTurns)
    return;
  Window window;
  window.begin = from;
  window.rows = turn_rows(*basis_, slots, tick, from, to, Course::ramp);
  const std::size_t turns = window.rows.turns();
  window.left_out.resize(turns);
  window.weight.assign(turns, 1.0);
  for (std::size_t i = 0; i < turns; ++i)
    window.left_out[i] =
        std::abs(window.rows.slope[i]) > kTooFast || window.rows.speed[i] < least_speed_ ? 1 : 0;
  window.leave_out_corners(corners_);
  window.corners = window.left_out;
  window.weigh_unruly();
  lay_lateness(window);
  lay_steps(window);
  windows_.push_back(std::move(window));
}

class RunUpProblem::Whirls {
 public:
  Whirls(const RunUpProblem& problem, const Window& window, const Mounts& mounts)
      : problem_(&problem), window_(&window), moves_at_(mounts.moves_at), g_(2) {
    for (std::size_t m = 0; m < mounts.count; ++m)
      motions_.emplace_back(mounts.of[m], problem.steps_);
    for (std::size_t m = 0; m < mounts.count; ++m)
      if (!(moves_at_ && m == 0 && window.begin > *moves_at_)) // long since rung down
        motions_[m].settle(window.rows.speed[0], 0.0);
    for (auto& g : g_)
      g.resize(problem.steps_);
  }
  /// g at each step of turn `turn`, the next one, of each K.
  const std::vector<std::vector<Complex>>& live_through(std::size_t turn) {
    const std::size_t steps = problem_->steps_;
    const std::span<const double> step_s(window_->step_s.data() + turn * steps, steps);
    const double ramp = problem_->ramp_in(*window_, turn);
    for (std::size_t m = 0; m < motions_.size(); ++m)
      if (m == 0 && moves_at_ && window_->begin + turn >= *moves_at_)
        motions_[m].coast(step_s, g_[m]);
      else
        motions_[m].turn(step_s, ramp, g_[m]);
    for (std::size_t s = 0; moves_at_ && s < steps; ++s)
      g_[1][s] -= g_[0][s]; // of the whole what the plate does since it moved
    return g_;
  }

 private:
  const RunUpProblem* problem_;
  const Window* window_;
  std::optional<std::size_t> moves_at_;
  std::vector<MountMotion> motions_;
  std::vector<std::vector<Complex>> g_;
};

std::vector<double> RunUpProblem::columns(const Window& window, const Mounts& mounts) const {
  const std::size_t turns = window.rows.turns();
  const std::size_t rows = basis_->rows;
  const std::size_t plumbs = plumb_columns();
  const std::size_t all = extra(mounts);
  std::vector<double> out(turns * all * rows, 0.0);
  Whirls whirls(*this, window, mounts);
  for (std::size_t i = 0; i < turns; ++i) {
    double* column = out.data() + i * all * rows;
    const double speed = window.rows.speed[i];
    for (std::size_t p = 0; p < plumbs; ++p)
      column[p * rows + p + 1] = basis_->order_one_scale * (slowest_ * slowest_) / (speed * speed);
    const auto& g = whirls.live_through(i);
    for (std::size_t m = 0; m < mounts.count; ++m) {
      double* re = column + (plumbs + 2 * m) * rows;
      double* im = re + rows;
      transform_.add_whirl(g[m], {window.late.data() + i * steps_, steps_}, {re, rows}, {im, rows});
    }
  }
  return out;
}

std::vector<RunUpProblem::PlaceInRamp> RunUpProblem::places_in_ramps() const {
  constexpr std::size_t kClear = 4; // turns before and after: fewer say nothing of another K
  std::vector<PlaceInRamp> out;
  for (const Window& window : windows_)
    for (std::size_t i = kClear; i + kClear < window.rows.turns(); ++i)
      out.push_back({window.begin + i, window.rows.speed[i]});
  return out;
}

void RunUpProblem::add_dwells(Elimination& elimination, const Mounts& mounts) const {
  // Re and Im of: pattern + plumb (slowest/w)^2 + K conj(G) = D, weighed to a pulse's noise.
  for (const DwellVector& d : dwells_) {
    const double weight = reference_ / d.sd;
    const double plumb = slowest_ * slowest_ / (d.speed * d.speed);
    for (std::size_t part = 0; part < plumb_columns(); ++part) {
      std::array<double, kMostBorder> row{};
      row[part] = weight / basis_->order_one_scale;
      row[plumb_column() + part] = weight * plumb;
      for (std::size_t m = 0; m < mounts.count; ++m) {
        if (mounts.moves_at && (m == 0) == (d.begin >= *mounts.moves_at))
          continue;
        const Complex gain = steady_gain(mounts.of[m], d.speed);
        row[whirl_column(m)] = weight * (part == 0 ? gain.real() : -gain.imag());
        row[whirl_column(m) + 1] = weight * (part == 0 ? gain.imag() : gain.real());
      }
      const double value = part == 0 ? d.vector.re.rad() : d.vector.im.rad();
      elimination.add_border(std::span(row).first(elimination.border_size()), weight * value);
    }
  }
}

BorderNormal RunUpProblem::dwells_normal(const Mounts& mounts) const {
  Elimination only_dwells(*basis_, extra(mounts));
  add_dwells(only_dwells, mounts);
  for (std::size_t part = 0; plumb_sd_ && part < plumb_columns(); ++part) {
    std::array<double, kMostBorder> row{};
    row[plumb_column() + part] = reference_ / *plumb_sd_;
    only_dwells.add_border(std::span(row).first(only_dwells.border_size()), 0.0);
  }
  BorderNormal sum = only_dwells.border();
  sum.observations += double{kSplineWidth - 1};
  return sum;
}

void RunUpProblem::add_turns(Elimination& elimination, const Window& window,
                             std::span<const double> extra_rows, std::size_t more) const {
  const std::size_t size = more * basis_->rows;
  for (std::size_t i = 0; i < window.rows.turns(); ++i)
    if (window.left_out[i] != 0)
      elimination.skip_turn();
    else
      elimination.add_turn(window.rows.turn(i), window.rows.speed[i] / fastest_,
                           window.rows.slope[i], extra_rows.subspan(i * size, size),
                           window.weight[i]);
}

BorderNormal RunUpProblem::ramps_normal(const Window& window, const Mounts& mounts) const {
  const std::size_t more = extra(mounts);
  Elimination elimination(*basis_, more);
  const auto extra_rows = columns(window, mounts);
  add_turns(elimination, window, extra_rows, more);
  return elimination.border();
}

RunUpProblem::Solution RunUpProblem::solve_with(const Mounts& mounts) const {
  BorderNormal sum = dwells_normal(mounts);
  for (const Window& window : windows_)
    sum = sum + ramps_normal(window, mounts);
  Solution out;
  out.border = solve(sum);
  out.freedom = std::max(1.0, sum.observations - static_cast<double>(sum.size));
  for (std::size_t m = 0; m < mounts.count; ++m)
    out.far_above[m] = {out.border.value[whirl_column(m)], out.border.value[whirl_column(m) + 1]};
  return out;
}

/// A speed loop that changes its slope at once bends the angle more sharply than a spline can, and
/// the misfit rings for turns on both sides: where the third divided difference of angle over time
/// (none on any constant slope) stands out, three turns are left out and the spline is free there.
void RunUpProblem::Window::leave_out_corners(std::vector<Corner>& met) {
  const auto& t = rows.knots;
  if (t.size() < 6)
    return;
  std::vector<double> bend(t.size() - 3);
  for (std::size_t i = 0; i < bend.size(); ++i)
    bend[i] = bend_at(t, i);
  for (const std::size_t i : peaks(bend, kCorner)) {
    leave_out_about(i + 1);
    met.push_back({bend[i], rows.speed[i + 1]});
  }
}

void RunUpProblem::Window::leave_out_about(std::size_t turn) {
  const std::size_t from = turn > 0 ? turn - 1 : 0;
  for (std::size_t i = from; i < left_out.size() && i <= turn + 1; ++i)
    left_out[i] = 1;
}

std::vector<double> RunUpProblem::left_of(const Window& window, const Mounts& mounts,
                                          const BorderSolution& best) const {
  const std::size_t more = extra(mounts);
  Elimination elimination(*basis_, more, window.rows.turns());
  const auto extra_rows = columns(window, mounts);
  add_turns(elimination, window, extra_rows, more);
  return elimination.residuals(window.rows, fastest_, best, extra_rows);
}

std::vector<double> RunUpProblem::misfit(const Window& window, const Mounts& mounts,
                                         const BorderSolution& best) const {
  const auto left = left_of(window, mounts, best);
  std::vector<double> square(window.rows.turns(), 0.0);
  for (std::size_t i = 0; i < left.size(); ++i)
    if (window.left_out[i / basis_->rows] == 0)
      square[i / basis_->rows] += std::pow(window.weight[i / basis_->rows] * left[i], 2);
  return square;
}

bool RunUpProblem::drop_jolts(const Mounts& mounts) {
  const BorderSolution best = solve_with(mounts).border;
  std::vector<std::vector<double>> by_window;
  std::vector<double> all;
  for (const Window& window : windows_) {
    by_window.push_back(misfit(window, mounts, best));
    all.insert(all.end(), by_window.back().begin(), by_window.back().end());
  }
  if (all.empty())
    return false;
  const auto middle = all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2);
  std::nth_element(all.begin(), middle, all.end());
  const double limit = kJolt * *middle;
  bool any = false;
  for (std::size_t w = 0; w < windows_.size(); ++w) {
    const auto found = peaks(by_window[w], limit);
    if (20 * found.size() > windows_[w].rows.turns())
      continue; // no jolts but a misfit: leaving it out would only hide it
    for (const std::size_t i : found)
      windows_[w].leave_out_about(i);
    any = any || !found.empty();
  }
  return any;
}

} // namespace whirler::tach
