#include "run_up_account.hpp"

#include "complex_vector.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kFoundNatural = 0.06; ///< spread below which the natural speed counts as seen
constexpr double kFoundDamping = 0.6;
constexpr double kSure = 1e-4;
/// What a corner of b rad makes the whirl uncertain by, over the whirl, is this times b^2: measured
/// on simulated run-ups with corners at once (500 to 3000 rpm/s from 500 rpm, 0.55 of the mount's
/// natural speed: 0.4, 2.5 and 12 %). What whirls at the corner is what it disturbs, and far below
/// the natural speed that falls with the speed squared.
constexpr double kOfCorner = 0.25;
/// Of three marks one goes into the turn's length and none is left to see the ramp by.
constexpr double kOfThreeMarks = 5.0;
constexpr double kCornersMeasuredAt = 0.55;
/// Known masses on a laboratory rotor were recovered to 6 % at best (M-Nouioua,
/// rk4-rotor-unbalance-estimation, CC BY 4.0): two of these.
constexpr double kAtBest = 0.03;

using Points = std::vector<Point>;

Mounts mounts_of(const Points& at) {
  return at.size() == 1 ? Mounts(at[0].mount()) : Mounts(at[0].mount(), at[1].mount());
}

double cost_of(const Search& search, const Points& at) {
  return at.size() == 1 ? search.cost(at[0]) : search.cost(Pair{at[0], at[1]});
}

FittingMount fitting(const RunUpProblem& problem, const Points& at, double variance) {
  const auto s = problem.solve_with(mounts_of(at));
  const std::size_t k = problem.whirl_column();
  FittingMount out{hertz(at[0].mount().wn / kTwoPi),
                   at[0].mount().z,
                   as_vector(s.far_above[0]),
                   {s.border.covariance(k, k) * variance, s.border.covariance(k, k + 1) * variance,
                    s.border.covariance(k + 1, k + 1) * variance}};
  if (at.size() == 1)
    return out;
  out.second =
      SecondMount{hertz(at[1].mount().wn / kTwoPi), at[1].mount().z, as_vector(s.far_above[1])};
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t j = 0; j < 4; ++j)
      out.joint[4 * i + j] = s.border.covariance(k + i, k + j) * variance;
  return out;
}

/// The best fit with its natural speeds and dampings moved: coordinate 2 m is mount m's ln of
/// natural speed, 2 m + 1 that of its damping.
Points moved(const Points& from, std::size_t coordinate, double by) {
  Points out = from;
  (coordinate % 2 == 0 ? out[coordinate / 2].ln_wn : out[coordinate / 2].ln_z) += by;
  return out;
}

/// Curvature of the cost about the best: how well natural speed and damping are known.
bool weigh_mount(const Search& search, const BestFit& best, double variance, RunUp& out) {
  const std::size_t n = 2 * best.at.size();
  for (const Point& p : best.at) {
    out.step.push_back(std::clamp(0.3 * std::exp(p.ln_z), 0.003, 0.03));
    out.step.push_back(0.15);
  }
  std::vector<double> up(n);
  BorderNormal curvature;
  curvature.size = n;
  for (std::size_t i = 0; i < n; ++i) {
    const Points above = moved(best.at, i, out.step[i]);
    const Points below = moved(best.at, i, -out.step[i]);
    up[i] = cost_of(search, above);
    const double down = cost_of(search, below);
    if (std::max(up[i], down) >= 1e299)
      return false;
    out.beside.push_back(fitting(*search.problem, above, variance));
    out.beside.push_back(fitting(*search.problem, below, variance));
    curvature.at(i, i) = (up[i] - 2.0 * best.cost + down) / (out.step[i] * out.step[i]);
    for (std::size_t j = 0; j < i; ++j) {
      const double corner = cost_of(search, moved(above, j, out.step[j]));
      curvature.at(i, j) = curvature.at(j, i) =
          (corner - up[i] - up[j] + best.cost) / (out.step[i] * out.step[j]);
    }
  }
  const BorderSolution inverse = solve(curvature);
  if (!inverse.solvable)
    return false;
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j < n; ++j)
      out.of_mount.push_back(2.0 * variance * inverse.covariance(i, j));
  return true;
}

/// `last`: the mount, or the K of a plate that moved, that counts.
void fill_linear_part(const RunUpProblem& problem, const RunUpProblem::Solution& s, double variance,
                      double order_one_scale, RunUp& out, std::size_t last = 0) {
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
  pair(problem.whirl_column(last), 1.0, true, out.far_above, out.covariance);
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

double corner_spread(const RunUpProblem& problem, double softest_wn) {
  const double toll = problem.marks() > 3 ? kOfCorner : kOfThreeMarks * kOfCorner;
  double most = 0.0;
  for (const RunUpProblem::Corner& c : problem.corners()) {
    const double whirls = std::min(1.0, c.speed / (kCornersMeasuredAt * softest_wn));
    most = std::max(most, toll * std::pow(c.bend * whirls, 2));
  }
  return most;
}

/// What the model leaves out, over the whirl. A speed loop that sees its speed through the marks
/// answers every lateness with torque: the shaft then swings by a share of pattern and whirl alike
/// that falls with speed. What of the pattern seems to fall so measures that share.
double model_spread(const RunUpProblem& problem, const RunUp& fit, double softest_wn) {
  const double corner = corner_spread(problem, softest_wn);
  double loop = 0.0;
  if (fit.p_plumb < kSure) {
    const double pattern = std::max(fit.pattern.amplitude().rad(), fit.plumb.amplitude().rad());
    const double where = std::max(kTwoPi * fit.mount.natural.Hz(), problem.slowest());
    loop = 0.5 * fit.plumb.amplitude().rad() / pattern * problem.slowest() / where;
  }
  return std::min(0.5, std::hypot(kAtBest, corner, loop));
}

/// Above its natural speed a mount's whirl is a constant and a part that falls with speed squared:
/// just what uneven marks and an axis out of plumb make. One that the record never ran below
/// proves no unbalance.
bool never_below(const RunUpProblem& problem, const Points& at) {
  return std::all_of(at.begin(), at.end(),
                     [&](const Point& p) { return p.mount().wn < 1.05 * problem.slowest(); });
}

/// Every mount that was tried and fits as well. Without a sure growth every mount fits: none is
/// worse than no unbalance at all.
void add_fitting(const Search& search, const BestFit& best, double variance, RunUp& out) {
  const double worse = out.p_growth < kSure ? kFitsToo * variance : 1e300;
  for (const Trial& trial : best.tried) {
    if (out.mount.found || !search.allowed(trial.at))
      break;
    if (worse > 1e299 || search.cost(trial.at) < best.cost + worse)
      out.fitting.push_back(fitting(*search.problem, {trial.at}, variance));
  }
}

} // namespace

Mounts mounts_of(const FittingMount& mount) {
  const MountNumbers one{kTwoPi * mount.natural.Hz(), mount.damping};
  if (!mount.second)
    return one;
  return {one, {kTwoPi * mount.second->natural.Hz(), mount.second->damping}};
}

RunUp describe(const Search& search, const BestFit& best, const RunUpProblem::Solution& without,
               double order_one_scale) {
  const RunUpProblem& problem = *search.problem;
  const auto with = problem.solve_with(mounts_of(best.at));
  RunUp out;
  const double unknowns = 2.0 * static_cast<double>(best.at.size());
  out.freedom = std::max(1.0, with.freedom - unknowns);
  const double variance = with.border.rss / out.freedom;
  out.pulse_noise = radians(std::sqrt(variance));
  fill_linear_part(problem, with, variance, order_one_scale, out);
  out.slowest = rad_per_s(problem.slowest());
  out.fastest = rad_per_s(problem.fastest());
  out.plumb_at = out.slowest;
  out.p_plumb = chance_of(out.plumb, out.plumb_covariance, out.freedom);
  // Two more unknowns for each one searched for, and a search over some ten distinct valleys.
  constexpr double kValleys = 10.0;
  const double gain = (without.border.rss - with.border.rss) / (2.0 * unknowns) / variance;
  out.p_growth = std::min(1.0, kValleys * tail_f(gain, 2.0 * unknowns, out.freedom));
  const bool unseen = never_below(problem, best.at) || search.at_the_edge(best.at[0]);
  if (unseen)
    out.p_growth = 1.0;
  const MountNumbers first = best.at[0].mount();
  out.mount = {hertz(first.wn / kTwoPi), first.z, 1.0, 1.0, false};
  if (weigh_mount(search, best, variance, out)) {
    out.mount.natural_spread = std::sqrt(out.of_mount[0]);
    out.mount.damping_spread = std::sqrt(out.of_mount[2 * best.at.size() + 1]);
    out.mount.found = !unseen && out.p_growth < kSure && out.mount.natural_spread < kFoundNatural &&
                      out.mount.damping_spread < kFoundDamping;
  }
  double softest_wn = first.wn;
  for (const Point& p : best.at)
    softest_wn = std::min(softest_wn, p.mount().wn);
  out.model_spread = model_spread(problem, out, softest_wn);
  out.fitting.push_back(fitting(problem, best.at, variance));
  add_fitting(search, best, variance, out);
  return out;
}

RunUp describe_moved(const RunUpProblem& problem, const MovedFound& found, double order_one_scale) {
  constexpr double kOfMount = 0.06; // of K: a mount's numbers beside a jump are good to that
  const MountNumbers mount = found.mount.mount();
  const auto with = problem.solve_with(Mounts::moved_plate(mount, found.turn));
  RunUp out;
  out.freedom = std::max(1.0, with.freedom - 3.0);
  const double variance = with.border.rss / out.freedom;
  out.pulse_noise = radians(std::sqrt(variance));
  fill_linear_part(problem, with, variance, order_one_scale, out, 1);
  out.moved = MovedPlate{rad_per_s(found.speed), as_vector(with.far_above[0])};
  out.slowest = rad_per_s(problem.slowest());
  out.fastest = rad_per_s(problem.fastest());
  out.plumb_at = out.slowest;
  out.p_plumb = chance_of(out.plumb, out.plumb_covariance, out.freedom);
  const double gain = (problem.solve_with({}).border.rss - with.border.rss) / 7.0 / variance;
  out.p_growth = tail_f(gain, 7.0, out.freedom);
  out.mount = {hertz(mount.wn / kTwoPi), mount.z, 1.0, 1.0, out.p_growth < kSure};
  out.model_spread = std::hypot(kOfMount, model_spread(problem, out, mount.wn));
  out.fitting.push_back({out.mount.natural, mount.z, out.far_above, out.covariance});
  out.misfit = Misfit{found.chance, found.left, 0.0};
  return out;
}

} // namespace whirler::tach
