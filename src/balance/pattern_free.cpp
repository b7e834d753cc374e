#include "whirler/balance/pattern_free.hpp"

#include "checks.hpp"
#include "spread.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whirler::balance {
namespace {

using Complex = std::complex<double>;
using Row = std::array<Complex, 3>; ///< what P, Q (over the slowest speed) and U each add

struct Unknowns {
  Complex pattern;
  Complex loop;
  Complex unbalance_kg_m;
};

struct System {
  std::array<Row, 3> left{};
  Row right{};
};

/// Adds one reading's normal equations.
void add(System& system, const Row& row, Complex reading, double weight) {
  for (std::size_t i = 0; i < row.size(); ++i) {
    for (std::size_t k = 0; k < row.size(); ++k)
      system.left[i][k] += weight * std::conj(row[i]) * row[k];
    system.right[i] += weight * std::conj(row[i]) * reading;
  }
}

/// Positive definite and three by three: elimination without pivoting. A system that cannot be
/// told apart gives infinities, which the caller refuses.
Row solve(System system) {
  for (std::size_t k = 0; k < 3; ++k)
    for (std::size_t i = k + 1; i < 3; ++i) {
      const Complex factor = system.left[i][k] / system.left[k][k];
      for (std::size_t j = k; j < 3; ++j)
        system.left[i][j] -= factor * system.left[k][j];
      system.right[i] -= factor * system.right[k];
    }
  Row unknowns{};
  for (std::size_t i = 3; i-- > 0;) {
    Complex rest = system.right[i];
    for (std::size_t j = i + 1; j < 3; ++j)
      rest -= system.left[i][j] * unknowns[j];
    unknowns[i] = rest / system.left[i][i];
  }
  return unknowns;
}

Speed slowest(std::span<const SpeedPair> pairs) {
  Speed least = pairs.front().speed;
  for (const SpeedPair& pair : pairs)
    least = std::min(least, pair.speed);
  return least;
}

Unknowns fit(std::span<const SpeedPair> pairs, std::span<const double> components,
             Complex trial_kg_m) {
  const Speed least = slowest(pairs);
  // The influence's own size would spoil the elimination: it is scaled to about one.
  double scale = 0.0;
  std::vector<Complex> influence;
  for (std::size_t k = 0; k < pairs.size(); ++k) {
    const auto z = components.subspan(4 * k, 4);
    influence.push_back(Complex(z[2] - z[0], z[3] - z[1]) / trial_kg_m);
    scale = std::max(scale, std::abs(influence.back()));
  }
  System system;
  for (std::size_t k = 0; k < pairs.size(); ++k) {
    const auto z = components.subspan(4 * k, 4);
    const double weight = std::pow(pairs.front().sigma / pairs[k].sigma, 2.0);
    add(system, {1.0, least / pairs[k].speed, influence[k] / scale}, {z[0], z[1]}, weight);
  }
  const Row found = solve(system);
  return {found[0], found[1], found[2] / scale};
}

std::vector<double> components_of(std::span<const SpeedPair> pairs) {
  std::vector<double> components;
  for (const SpeedPair& pair : pairs)
    for (const Complex z : {pair.before, pair.with_trial})
      components.insert(components.end(), {z.real(), z.imag()});
  return components;
}

std::vector<double> sigmas_of(std::span<const SpeedPair> pairs) {
  std::vector<double> sigmas;
  for (const SpeedPair& pair : pairs)
    sigmas.insert(sigmas.end(), 4, pair.sigma);
  return sigmas;
}

/// What is left of one value a speed when the pattern and the loop's doing have been fitted away.
void take_known(std::vector<Complex>& values, std::span<const std::vector<double>> known) {
  for (const std::vector<double>& shape : known) {
    Complex part;
    for (std::size_t k = 0; k < values.size(); ++k)
      part += shape[k] * values[k];
    for (std::size_t k = 0; k < values.size(); ++k)
      values[k] -= part * shape[k];
  }
}

/// The shapes over the speeds of P and Q, each of unit length, square to one another. Speeds that
/// are all one give P alone.
std::vector<std::vector<double>> known_shapes(std::span<const SpeedPair> pairs) {
  const Speed least = slowest(pairs);
  std::vector<std::vector<double>> shapes;
  for (const bool loop : {false, true}) {
    std::vector<Complex> shape;
    for (const SpeedPair& pair : pairs)
      shape.emplace_back((loop ? least / pair.speed : 1.0) / pair.sigma);
    double whole = 0.0;
    for (const Complex value : shape)
      whole += std::norm(value);
    take_known(shape, shapes);
    double left = 0.0;
    for (const Complex value : shape)
      left += std::norm(value);
    if (left < 1e-18 * whole)
      continue;
    shapes.emplace_back();
    for (const Complex value : shape)
      shapes.back().push_back(value.real() / std::sqrt(left));
  }
  return shapes;
}

std::vector<ScaledPair> beside_known(std::span<const SpeedPair> pairs) {
  std::vector<Complex> before;
  std::vector<Complex> with_trial;
  for (const SpeedPair& pair : pairs) {
    before.push_back(pair.before / pair.sigma);
    with_trial.push_back(pair.with_trial / pair.sigma);
  }
  const auto shapes = known_shapes(pairs);
  take_known(before, shapes);
  take_known(with_trial, shapes);
  std::vector<ScaledPair> left;
  for (std::size_t k = 0; k < before.size(); ++k)
    left.push_back({before[k], with_trial[k]});
  return left;
}

double change(std::span<const ScaledPair> pairs) {
  double squares = 0.0;
  for (const ScaledPair& pair : pairs)
    squares += std::norm(pair.with_trial - pair.before);
  return std::sqrt(squares);
}

constexpr double kEnough = 10.0; ///< deviations of change; a bound exists from about five on

/// In deviations: the trial's change, and what of it no pattern could make.
struct TrialChange {
  double whole = 0.0;
  double beside = 0.0;

  /// Whether these speeds tell pattern and unbalance apart.
  [[nodiscard]] bool tells_apart() const {
    constexpr double kAlike = 0.05;
    return beside >= kAlike * whole;
  }
};

TrialChange change_by_trial(std::span<const SpeedPair> pairs) {
  std::vector<ScaledPair> whole;
  for (const SpeedPair& pair : pairs)
    whole.push_back({pair.before / pair.sigma, pair.with_trial / pair.sigma});
  return {change(whole), change(beside_known(pairs))};
}

/// Why any unbalance would fit: the trial was too small, or pattern and unbalance look the same.
Fault cannot_tell(std::span<const SpeedPair> pairs, const PlacedMass& trial) {
  const TrialChange changed = change_by_trial(pairs);
  if (!changed.tells_apart())
    return input_fault("these speeds are too much alike to tell the marks' pattern from the "
                       "unbalance",
                       "balance", "read below and above the mount's natural speed");
  return input_fault("the trial mass of " + number_text(trial.mass.g()) +
                         " g changed the readings too little to tell the unbalance",
                     "balance",
                     "use one of about " +
                         number_text(trial.mass.g() * kEnough / changed.beside, 2) +
                         " g, or run faster");
}

Outcome check(std::span<const SpeedPair> pairs) {
  if (pairs.size() < 3)
    return input_fault(std::to_string(pairs.size()) + " speeds cannot tell the marks' pattern from "
                                                      "the unbalance",
                       "balance", "read at three speeds or more");
  double changed = 0.0;
  for (const SpeedPair& pair : pairs) {
    if (!(pair.speed.is_finite() && pair.speed.rpm() > 0.0 && pair.sigma > 0.0))
      return input_fault("a reading has the speed " + number_text(pair.speed.rpm(), 5) +
                             " rpm and the noise " + number_text(pair.sigma),
                         "balance", "give both above 0");
    for (const Complex z : {pair.before, pair.with_trial})
      if (!std::isfinite(z.real()) || !std::isfinite(z.imag()))
        return input_fault("a reading is not a number", "balance", "read it again");
    changed = std::max(changed, std::abs(pair.with_trial - pair.before) / pair.sigma);
  }
  if (changed > 6.0)
    return Done{};
  return input_fault("the trial mass changed the reading by no more than its noise", "balance",
                     "use a larger trial mass, or run faster");
}

/// Of one reading, what pattern, loop and unbalance leave.
Complex left_of(const SpeedPair& pair, Speed least, const Unknowns& found, Complex trial_kg_m) {
  return pair.before - found.pattern - (least / pair.speed) * found.loop -
         found.unbalance_kg_m / trial_kg_m * (pair.with_trial - pair.before);
}

/// With sigmas as large as what the fit leaves says: a loop or a mount that no such line describes
/// is known only as well as it fits. Three speeds leave nothing.
std::vector<SpeedPair> widened(std::span<const SpeedPair> pairs, const Unknowns& found,
                               Complex trial_kg_m) {
  std::vector<SpeedPair> out(pairs.begin(), pairs.end());
  if (pairs.size() <= 3)
    return out;
  const Complex u = found.unbalance_kg_m / trial_kg_m;
  const double of_both = std::norm(1.0 + u) + std::norm(u); // (1 + u) before - u with_trial
  double square = 0.0;
  for (const SpeedPair& pair : pairs)
    square += std::norm(left_of(pair, slowest(pairs), found, trial_kg_m) / pair.sigma) / of_both;
  const double freedom = 2.0 * static_cast<double>(pairs.size() - 3);
  const double times = std::sqrt(std::max(1.0, square / freedom));
  for (SpeedPair& pair : out)
    pair.sigma *= std::isfinite(times) ? times : 1.0;
  return out;
}

void fill_in(PatternFree& made, std::span<const SpeedPair> pairs, const Unknowns& found,
             Complex trial_kg_m) {
  const Speed least = slowest(pairs);
  Correction& correction = made.correction;
  for (const SpeedPair& pair : pairs) {
    const Complex influence = (pair.with_trial - pair.before) / trial_kg_m;
    correction.influence.push_back(influence);
    correction.rest.push_back(left_of(pair, least, found, trial_kg_m));
  }
  correction.response = std::abs(trial_kg_m) / std::abs(found.unbalance_kg_m);
  made.pattern = found.pattern;
  made.loop = found.loop;
}

} // namespace

Result<PatternFree> correct_free_of_pattern(std::span<const SpeedPair> pairs,
                                            const PlacedMass& trial, Length radius) {
  if (const auto ok = check_masses(trial, radius, {}); !ok)
    return ok.fault();
  if (const auto ok = check(pairs); !ok)
    return ok.fault();
  const Complex trial_kg_m = to_kg_m(trial);
  const auto components = components_of(pairs);
  const Unknowns found = fit(pairs, components, trial_kg_m);
  const auto wide = widened(pairs, found, trial_kg_m);
  const Spread by_noise = spread_of(
      [&](std::span<const double> moved) { return -fit(wide, moved, trial_kg_m).unbalance_kg_m; },
      components, sigmas_of(wide));
  const auto ratios = trial_ratios_95(beside_known(wide));
  if (!ratios || !std::isfinite(std::abs(found.unbalance_kg_m)))
    return cannot_tell(wide, trial);
  PatternFree made;
  made.correction.mass = mass_for(-found.unbalance_kg_m, radius);
  made.correction.unbalance = from_kg_m(found.unbalance_kg_m);
  const Spread published = published_spread(found.unbalance_kg_m);
  made.correction.spread = by_noise.rms() > published.rms() ? by_noise : published;
  const double farthest = ratios->farthest(found.unbalance_kg_m / trial_kg_m);
  made.correction.bound_95 =
      std::max(made.correction.spread.bound_95(), kilogram_metres(std::abs(trial_kg_m) * farthest));
  made.correction.at_most = kilogram_metres(std::abs(trial_kg_m) * ratios->farthest({}));
  made.correction.shown = std::abs(ratios->centre) > ratios->radius;
  fill_in(made, pairs, found, trial_kg_m);
  made.pairs = wide;
  made.trial = trial;
  return made;
}

std::optional<Mass> trial_that_would_do(std::span<const SpeedPair> pairs, const PlacedMass& trial) {
  if (pairs.size() < 3)
    return std::nullopt;
  const TrialChange changed = change_by_trial(pairs);
  if (!(changed.beside < kEnough) || !changed.tells_apart())
    return std::nullopt;
  return kEnough / std::max(changed.beside, 1.0) * trial.mass; // less than noise says no more
}

namespace {

/// Of components before, with trial, and now, two each a speed. Of two runs with the same pattern
/// the mean is a run with the mean unbalance, and their difference is free of the pattern: least
/// squares of both together.
Complex unbalance_now_of(std::span<const SpeedPair> pairs, std::span<const double> components,
                         Complex trial_kg_m) {
  std::vector<double> mean;
  Complex above = 0.0;
  double below = 0.0;
  for (std::size_t k = 0; k < pairs.size(); ++k) {
    const auto z = components.subspan(6 * k, 6);
    const Complex before(z[0], z[1]);
    const Complex by_trial = Complex(z[2], z[3]) - before;
    const Complex since = Complex(z[4], z[5]) - before;
    const Complex middle = before + 0.5 * since;
    const Complex with_trial = middle + by_trial;
    mean.insert(mean.end(), {middle.real(), middle.imag(), with_trial.real(), with_trial.imag()});
    const double weight = std::pow(pairs.front().sigma / pairs[k].sigma, 2.0);
    const Complex influence = by_trial / trial_kg_m;
    above += weight * std::conj(influence) * since;
    below += weight * std::norm(influence);
  }
  return fit(pairs, mean, trial_kg_m).unbalance_kg_m + 0.5 * above / below;
}

} // namespace

Result<UnbalanceNow> unbalance_now(const PatternFree& found, std::span<const Reading> readings) {
  if (readings.size() != found.pairs.size())
    return input_fault(std::to_string(readings.size()) + " readings were given for " +
                           std::to_string(found.pairs.size()) + " speeds",
                       "balance", "read at the same speeds as before");
  std::vector<double> components;
  std::vector<double> sigmas;
  for (std::size_t k = 0; k < readings.size(); ++k) {
    const SpeedPair& pair = found.pairs[k];
    for (const Complex z : {pair.before, pair.with_trial, readings[k]})
      components.insert(components.end(), {z.real(), z.imag()});
    sigmas.insert(sigmas.end(), 6, pair.sigma);
  }
  const Complex trial_kg_m = to_kg_m(found.trial);
  const auto now = [&](std::span<const double> moved) {
    return unbalance_now_of(found.pairs, moved, trial_kg_m);
  };
  return UnbalanceNow{from_kg_m(now(components)), spread_of(now, components, sigmas).bound_95()};
}

} // namespace whirler::balance
