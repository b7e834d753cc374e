#include "whirler/tach/run_up.hpp"

#include "run_up_of_turns.hpp"
#include "run_up_problem.hpp"
#include "run_up_search.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kFoundNatural = 0.06; ///< spread below which the natural speed counts as seen
constexpr double kFoundDamping = 0.6;
constexpr double kSure = 1e-4;
/// What a corner of b rad makes the whirl uncertain by, over the whirl, is this times b^2: measured
/// on simulated run-ups with corners at once (500 to 3000 rpm/s from 500 rpm: 0.4, 2.5 and 12 %).
constexpr double kOfCorner = 0.25;
/// Known masses on a laboratory rotor were recovered to 6 % at best (M-Nouioua,
/// rk4-rotor-unbalance-estimation, CC BY 4.0): two of these.
constexpr double kAtBest = 0.03;

OnceVector as_vector(Complex c) { return {radians(c.real()), radians(c.imag())}; }

FittingMount fitting(const RunUpProblem& problem, Point at, double variance) {
  const auto s = problem.solve_with(at.mount());
  const std::size_t k = problem.whirl_column();
  return {hertz(at.mount().wn / kTwoPi),
          at.mount().z,
          as_vector(s.far_above),
          {s.border.covariance(k, k) * variance, s.border.covariance(k, k + 1) * variance,
           s.border.covariance(k + 1, k + 1) * variance}};
}

/// Curvature of the cost about the best: how well natural speed and damping are known.
bool weigh_mount(const Search& search, const Trial& best, double variance, RunUp& out) {
  const double z = std::exp(best.at.ln_z);
  out.step = {std::clamp(0.3 * z, 0.003, 0.03), 0.15};
  const double a = out.step[0];
  const double b = out.step[1];
  const auto at = [&](double i, double j) {
    return Point{best.at.ln_wn + i * a, best.at.ln_z + j * b};
  };
  const std::array<Point, 4> beside{at(1, 0), at(-1, 0), at(0, 1), at(0, -1)};
  std::array<double, 4> cost{};
  for (std::size_t i = 0; i < 4; ++i) {
    cost[i] = search.cost(beside[i]);
    if (cost[i] >= 1e299)
      return false;
    out.beside[i] = fitting(*search.problem, beside[i], variance);
  }
  const double corner = search.cost(at(1, 1));
  const double ww = (cost[0] - 2.0 * best.cost + cost[1]) / (a * a);
  const double zz = (cost[2] - 2.0 * best.cost + cost[3]) / (b * b);
  const double wz = (corner - cost[0] - cost[2] + best.cost) / (a * b);
  const double det = ww * zz - wz * wz;
  if (!(ww > 0.0 && zz > 0.0 && det > 0.0))
    return false;
  out.of_mount = {2.0 * variance * zz / det, -2.0 * variance * wz / det, 2.0 * variance * ww / det};
  return true;
}

void fill_linear_part(const RunUpProblem& problem, const RunUpProblem::Solution& s, double variance,
                      double order_one_scale, RunUp& out) {
  const auto pair = [&](std::size_t at, double scale, bool both, OnceVector& v, OnceCovariance& c) {
    const auto value = [&](std::size_t i) { return s.border.value[at + i] * scale; };
    const auto cov = [&](std::size_t i, std::size_t j) {
      return s.border.covariance(at + i, at + j) * scale * scale * variance;
    };
    v = {radians(value(0)), radians(both ? value(1) : 0.0)};
    c = both ? OnceCovariance{cov(0, 0), cov(0, 1), cov(1, 1)} : OnceCovariance{cov(0, 0), 0, 0};
  };
  const bool both = problem.plumb_columns() == 2;
  pair(0, 1.0 / order_one_scale, both, out.pattern, out.pattern_covariance);
  pair(problem.plumb_column(), 1.0, both, out.plumb, out.plumb_covariance);
  pair(problem.whirl_column(), 1.0, true, out.far_above, out.covariance);
}

double chance_of(OnceVector v, OnceCovariance c, double freedom) {
  const double det = c.re_re * c.im_im - c.re_im * c.re_im;
  const double x = v.re.rad();
  const double y = v.im.rad();
  if (!(det > 0.0))
    return c.re_re > 0.0 ? tail_t_both(x / std::sqrt(c.re_re), freedom) : 1.0;
  const double square = (c.im_im * x * x - 2.0 * c.re_im * x * y + c.re_re * y * y) / det;
  return tail_f2(0.5 * square, freedom);
}

/// What the model leaves out, over the whirl. A speed loop that sees its speed through the marks
/// answers every lateness with torque: the shaft then swings by a share of pattern and whirl alike
/// that falls with speed. What of the pattern seems to fall so measures that share.
double model_spread(const RunUpProblem& problem, const RunUp& fit) {
  const double corner = kOfCorner * std::pow(problem.sharpest_corner(), 2);
  double loop = 0.0;
  if (fit.p_plumb < kSure) {
    const double pattern = std::max(fit.pattern.amplitude().rad(), fit.plumb.amplitude().rad());
    const double where = std::max(kTwoPi * fit.mount.natural.Hz(), problem.slowest());
    loop = 0.5 * fit.plumb.amplitude().rad() / pattern * problem.slowest() / where;
  }
  return std::min(0.5, std::hypot(kAtBest, corner, loop));
}

RunUp describe(const Search& search, const std::vector<Trial>& tried, const Trial& best,
               const RunUpProblem::Solution& without, double order_one_scale) {
  const RunUpProblem& problem = *search.problem;
  const auto with = problem.solve_with(best.at.mount());
  RunUp out;
  out.freedom = std::max(1.0, with.freedom - 2.0);
  const double variance = with.border.rss / out.freedom;
  out.pulse_noise = radians(std::sqrt(variance));
  fill_linear_part(problem, with, variance, order_one_scale, out);
  out.slowest = rad_per_s(problem.slowest());
  out.fastest = rad_per_s(problem.fastest());
  out.plumb_at = out.slowest;
  out.p_plumb = chance_of(out.plumb, out.plumb_covariance, out.freedom);
  // Four unknowns more, and a search over some ten distinct valleys for two of them.
  constexpr double kValleys = 10.0;
  const double gain = (without.border.rss - with.border.rss) / 4.0 / variance;
  out.p_growth = std::min(1.0, kValleys * tail_f(gain, 4.0, out.freedom));
  // Above its natural speed a mount's whirl is a constant and a part that falls with speed squared:
  // just what uneven marks and an axis out of plumb make. One that the record never ran below
  // proves no unbalance.
  const bool unseen = best.at.mount().wn < 1.05 * problem.slowest();
  if (unseen)
    out.p_growth = 1.0;
  out.mount = {hertz(best.at.mount().wn / kTwoPi), best.at.mount().z, 1.0, 1.0, false};
  if (weigh_mount(search, best, variance, out)) {
    out.mount.natural_spread = std::sqrt(out.of_mount.re_re);
    out.mount.damping_spread = std::sqrt(out.of_mount.im_im);
    out.mount.found = !unseen && out.p_growth < kSure && out.mount.natural_spread < kFoundNatural &&
                      out.mount.damping_spread < kFoundDamping;
  }
  out.model_spread = model_spread(problem, out);
  out.fitting.push_back(fitting(problem, best.at, variance));
  // Without a sure growth every mount fits: none is worse than no unbalance at all.
  const double worse = out.p_growth < kSure ? kFitsToo * variance : 1e300;
  for (const Trial& trial : tried) {
    if (out.mount.found || !search.allowed(trial.at))
      break;
    if (worse > 1e299 || search.cost(trial.at) < best.cost + worse)
      out.fitting.push_back(fitting(problem, trial.at, variance));
  }
  return out;
}

/// What a bearing that rubs once a turn, or an axis a few degrees out of plumb, does at the slowest
/// speed is small on a machine that runs at all: where the record does not say otherwise it is held
/// to that, if the inertia is known. Common practice, no source: 0.2 mN m, and what of the pattern
/// a speed loop may answer.
bool expect_plumb(RunUpProblem& problem, MountNumbers mount, const SpinnerModel& model,
                  double order_one_scale) {
  constexpr double kRub = 2e-4;        // N m
  constexpr double kAnswered = 0.1;    // of the pattern
  constexpr double kContradicts = 6.0; // chi^2 of two at 95 %
  if (!model.inertia)
    return false;
  const auto s = problem.solve_with(mount);
  if (!s.border.solvable)
    return false;
  const double rub = kRub / (model.inertia->kg_m2() * std::pow(problem.slowest(), 2));
  const double answered =
      kAnswered * std::hypot(s.border.value[0], s.border.value[1]) / order_one_scale;
  const double sd = std::hypot(rub, answered);
  double square = 0.0;
  for (std::size_t i = 0; i < problem.plumb_columns(); ++i) {
    const std::size_t at = problem.plumb_column() + i;
    square +=
        std::pow(s.border.value[at], 2) / (s.border.covariance(at, at) * s.variance() + sd * sd);
  }
  if (square > kContradicts)
    return false;
  problem.expect_plumb(sd);
  return true;
}

/// The longest turn over the shortest.
double speed_range(const TurnSlots& slots, std::size_t marks) {
  std::int64_t longest = 1;
  std::int64_t shortest = std::numeric_limits<std::int64_t>::max();
  for (std::size_t at = 0; at + marks < slots.ticks.size(); at += marks) {
    const std::int64_t turn = slots.ticks[at + marks] - slots.ticks[at];
    longest = std::max(longest, turn);
    shortest = std::min(shortest, std::max<std::int64_t>(turn, 1));
  }
  return static_cast<double>(longest) / static_cast<double>(shortest);
}

} // namespace

OnceVector steady_whirl(OnceVector far_above, Frequency natural, double damping, Speed speed) {
  const Complex gain = steady_gain({natural.Hz() * kTwoPi, damping}, speed.rad_per_s());
  return as_vector(Complex{far_above.re.rad(), far_above.im.rad()} * std::conj(gain));
}

Whirl RunUp::whirl_at(Speed speed) const {
  return whirl_through([&](const FittingMount& m) {
    return std::conj(steady_gain({m.natural.Hz() * kTwoPi, m.damping}, speed.rad_per_s()));
  });
}

Whirl RunUp::far_whirl() const {
  return whirl_through([](const FittingMount&) { return Complex{1.0, 0.0}; });
}

template <class Gain>
Whirl RunUp::whirl_through(Gain gain) const {
  const auto of = [&](const FittingMount& m) {
    return as_vector(Complex{m.far_above.re.rad(), m.far_above.im.rad()} * gain(m));
  };
  const auto gain2 = [&](const FittingMount& m) { return std::norm(gain(m)); };
  const auto covariance_at = [&](const FittingMount& m) {
    const double worst = m.covariance.largest() * gain2(m);
    return OnceCovariance{worst, 0.0, worst};
  };
  Whirl out;
  out.vector = of(fitting.front());
  out.covariance = covariance_at(fitting.front());
  if (mount.found) {
    // What the mount's own spread adds: d/d(ln natural) and d/d(ln damping), the rest fitted anew.
    const auto slope = [&](std::size_t i) {
      const OnceVector d = of(beside[2 * i]) - of(beside[2 * i + 1]);
      return std::array<double, 2>{d.re.rad() / (2.0 * step[i]), d.im.rad() / (2.0 * step[i])};
    };
    const auto w = slope(0);
    const auto z = slope(1);
    const auto add = [&](std::size_t i, std::size_t j) {
      return of_mount.re_re * w[i] * w[j] + of_mount.re_im * (w[i] * z[j] + z[i] * w[j]) +
             of_mount.im_im * z[i] * z[j];
    };
    out.covariance = out.covariance + OnceCovariance{add(0, 0), add(0, 1), add(1, 1)};
  }
  const double corner = std::pow(model_spread * out.vector.amplitude().rad(), 2);
  out.covariance = out.covariance + OnceCovariance{corner, 0.0, corner};
  out.interval = amplitude_interval(out.vector, out.covariance, freedom);
  for (std::size_t i = 1; i < fitting.size(); ++i) {
    const auto other = amplitude_interval(of(fitting[i]), covariance_at(fitting[i]), freedom);
    out.interval.low = std::min(out.interval.low, other.low);
    out.interval.high = std::max(out.interval.high, other.high);
  }
  if (p_growth > kSure)
    out.interval.low = radians(0.0);
  return out;
}

std::optional<RunUp> fit_run_up(const TurnSlots& of, Duration tick, std::size_t marks,
                                const SpinnerModel& model) {
  constexpr double kOneSpeed = 1.25; // fastest over slowest; less tells nothing apart
  if (marks < 2 || of.turns(marks) < 2 * kLeastTurns || speed_range(of, marks) < kOneSpeed)
    return std::nullopt;
  // Order 1 and the mean alone: cogging changes the other orders with speed, and no pattern that is
  // the same at every speed would hold them.
  const TurnBasis basis(marks, 3, 1);
  TurnSlots slots = of; // bad stamps will be mended in it
  RunUpProblem problem(basis, slots, tick);
  const auto without = problem.solve_with(std::nullopt);
  if (!without.border.solvable)
    return std::nullopt;
  Search search{&problem, std::nullopt, std::nullopt, 0.0, without.variance()};
  if (model.natural)
    search.named_wn = kTwoPi * model.natural->Hz();
  if (model.natural && model.damping && *model.damping > 0.0)
    search.named_z = std::clamp(*model.damping, 2.0 * kLeastDamping, 0.5 * kMostDamping);
  search.stiffest = std::max(4.0 * problem.fastest(), search.named_wn.value_or(0.0));
  const auto tried = coarse_trials(search);
  const Trial least = least_of(tried);
  if (least.cost >= 1e299)
    return std::nullopt;
  search.variance = problem.solve_with(least.at.mount()).variance();
  Trial best = descend(search, {least.at, search.cost(least.at)}, 0.3);
  for (int pass = 0; pass < 3 && problem.drop_jolts(best.at.mount()); ++pass) {
  }
  for (int pass = 0; pass < 2; ++pass) {
    problem.weigh_by_speed(best.at.mount());
    search.variance = problem.solve_with(best.at.mount()).variance();
    best = descend(search, {best.at, search.cost(best.at)}, 0.1);
    if (!search.named_wn)
      best = or_stiff(search, best);
  }
  if (expect_plumb(problem, best.at.mount(), model, basis.order_one_scale)) {
    search.variance = problem.solve_with(best.at.mount()).variance();
    best = descend(search, {best.at, search.cost(best.at)}, 0.1);
  }
  const auto without_whirl = problem.solve_with(std::nullopt);
  if (const auto any = instead_of_named(search, best)) {
    RunUp out = describe(any->search, any->tried, any->best, without_whirl, basis.order_one_scale);
    out.against_named = out.p_growth < kSure; // without a sure growth nothing speaks of a mount
    if (out.against_named)
      return out;
  }
  return describe(search, tried, best, without_whirl, basis.order_one_scale);
}

} // namespace whirler::tach
