#include "whirler/balance/influence.hpp"

#include "checks.hpp"
#include "spread.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace whirler::balance {
namespace {

using Complex = std::complex<double>;

/// Least squares over the speeds; for one speed the exact answer.
Complex solve_kg_m(std::span<const TrialPair> runs, Complex trial_kg_m) {
  Complex above = 0.0;
  double below = 0.0;
  for (const TrialPair& run : runs) {
    const Complex influence = (run.with_trial - run.before) / trial_kg_m;
    above += std::conj(influence) * (run.before - run.pattern);
    below += std::norm(influence);
  }
  return -above / below;
}

std::vector<double> components_of(std::span<const TrialPair> runs) {
  std::vector<double> components;
  for (const TrialPair& run : runs)
    for (const Complex z : {run.before, run.with_trial})
      components.insert(components.end(), {z.real(), z.imag()});
  return components;
}

std::vector<TrialPair> with_components(std::span<const TrialPair> runs,
                                       std::span<const double> components) {
  std::vector<TrialPair> made(runs.begin(), runs.end());
  for (std::size_t i = 0; i < made.size(); ++i) {
    const auto of_run = components.subspan(4 * i, 4);
    made[i].before = {of_run[0], of_run[1]};
    made[i].with_trial = {of_run[2], of_run[3]};
  }
  return made;
}

Outcome check_runs(std::span<const TrialPair> runs, const ReadingQuality& quality) {
  if (runs.empty())
    return input_fault("there are no readings", "balance",
                       "give one run before and one with trial");
  double changed = 0.0;
  double sizes = 0.0;
  for (const TrialPair& run : runs) {
    for (const Complex z : {run.before, run.with_trial, run.pattern})
      if (!std::isfinite(z.real()) || !std::isfinite(z.imag()))
        return input_fault("a reading is not a number", "balance", "read it again");
    for (const Complex z : {run.before, run.with_trial, run.pattern})
      if (std::abs(z) > kMostReading)
        return input_fault("a reading is " + number_text(std::abs(z)), "balance",
                           "read it again: no meter shows so much");
    changed += std::norm(run.with_trial - run.before);
    sizes += std::norm(run.with_trial) + std::norm(run.before);
  }
  const double sigma = quality.sigma.value_or(0.0);
  const double count = static_cast<double>(runs.size());
  const double rounding = 1e-18 * sizes; // squares: a part in 1e9
  if (changed > std::max(9.0 * sigma * sigma * count, rounding))
    return Done{};
  return input_fault("the trial mass changed the reading by no more than its noise", "balance",
                     "use a larger trial mass, or run faster");
}

double least_response(std::span<const TrialPair> runs) {
  double least = std::numeric_limits<double>::infinity();
  for (const TrialPair& run : runs) {
    const double before = std::abs(run.before - run.pattern);
    if (before > 0.0)
      least = std::min(least, std::abs(run.with_trial - run.before) / before);
  }
  return least;
}

void predict(Correction& made, std::span<const TrialPair> runs, Complex trial_kg_m,
             Complex correction_kg_m) {
  for (const TrialPair& run : runs) {
    const Complex influence = (run.with_trial - run.before) / trial_kg_m;
    const Complex before = run.before - run.pattern;
    const Complex rest = before + influence * correction_kg_m;
    const bool rounding = std::abs(rest) < 1e-12 * std::abs(before);
    made.influence.push_back(influence);
    made.rest.push_back(rounding ? Complex{} : rest);
  }
}

/// Each pair over its standard deviation; pairs without one say nothing of the bound.
std::vector<ScaledPair> scaled(std::span<const TrialPair> runs, const ReadingQuality& quality) {
  std::vector<ScaledPair> pairs;
  for (const TrialPair& run : runs) {
    const Complex before = run.before - run.pattern;
    const Complex with_trial = run.with_trial - run.pattern;
    const double usual = kUsualReadingError * std::max(std::abs(before), std::abs(with_trial));
    const double sigma = quality.sigma.value_or(usual);
    if (sigma > 0.0)
      pairs.push_back({before / sigma, with_trial / sigma});
  }
  return pairs;
}

void bound(Correction& made, std::span<const TrialPair> runs, Complex trial_kg_m,
           const ReadingQuality& quality) {
  const Unbalance by_spread = made.spread.bound_95();
  const auto pairs = scaled(runs, quality);
  if (pairs.empty()) { // readings without any noise
    made.bound_95 = by_spread;
    return;
  }
  const auto ratios = trial_ratios_95(pairs);
  if (!ratios)
    return;
  const double trial = std::abs(trial_kg_m);
  const Complex found = to_kg_m(made.unbalance) / trial_kg_m;
  made.bound_95 = std::max(by_spread, kilogram_metres(trial * ratios->farthest(found)));
  if (!quality.sigma)
    return;
  made.at_most = kilogram_metres(trial * ratios->farthest({}));
  made.shown = std::abs(ratios->centre) > ratios->radius;
}

Spread larger(const Spread& a, const Spread& b) { return a.rms() > b.rms() ? a : b; }

/// Without a stated noise: as published, or more where the trial was weaker than those were.
Spread usual_spread(const CorrectionOf& again, std::span<const TrialPair> runs, Complex wanted) {
  std::vector<double> sigmas;
  for (const TrialPair& run : runs)
    for (const Complex z : {run.before - run.pattern, run.with_trial - run.pattern})
      sigmas.insert(sigmas.end(), 2, kUsualReadingError * std::abs(z));
  return larger(published_spread(wanted), spread_of(again, components_of(runs), sigmas));
}

} // namespace

Reading reading(double size, Angle phase) { return std::polar(size, phase.rad()); }

Reading from_lateness(Reading once_per_turn) { return std::conj(once_per_turn); }

Angle wrapped(Angle angle) {
  double part = std::fmod(angle.turns(), 1.0);
  if (part < 0.0)
    part += 1.0;
  return turns(part < 1.0 ? part : 0.0);
}

Complex to_kg_m(const PlacedUnbalance& unbalance) {
  return unbalance.size.kg_m() * std::polar(1.0, unbalance.at.rad());
}

Complex to_kg_m(std::span<const PlacedMass> masses) {
  Complex sum;
  for (const PlacedMass& mass : masses)
    sum += to_kg_m(mass);
  return sum;
}

Complex to_kg_m(const PlacedMass& mass) {
  return mass.mass.kg() * mass.radius.m() * std::polar(1.0, mass.at.rad());
}

PlacedUnbalance from_kg_m(Complex kg_m) {
  return {kilogram_metres(std::abs(kg_m)), wrapped(radians(std::arg(kg_m)))};
}

double predicted_rest(const Correction& correction, const PlacedUnbalance& missed) {
  double squares = 0.0;
  for (std::size_t i = 0; i < correction.rest.size(); ++i)
    squares += std::norm(correction.rest[i] - correction.influence[i] * to_kg_m(missed));
  return correction.rest.empty() ? 0.0
                                 : std::sqrt(squares / static_cast<double>(correction.rest.size()));
}

PlacedMass mass_for(Complex kg_m, Length radius) {
  const PlacedUnbalance placed = from_kg_m(kg_m);
  return {kilograms(placed.size.kg_m() / radius.m()), placed.at, radius};
}

Outcome check_masses(const PlacedMass& trial, Length radius, const ReadingQuality& quality) {
  const auto positive = [](double value) { return std::isfinite(value) && value > 0.0; };
  if (!positive(trial.mass.g()) || !positive(trial.radius.mm()) || !trial.at.is_finite())
    return input_fault("the trial mass is " + number_text(trial.mass.g(), 6) + " g at radius " +
                           number_text(trial.radius.mm(), 6) + " mm",
                       "balance", "give a mass and a radius above 0");
  if (trial.mass > kMostMass || trial.radius > kFarthest || !is_angle(trial.at))
    return input_fault("the trial mass is " + number_text(trial.mass.g(), 6) + " g at " +
                           number_text(trial.at.deg()) + " deg, radius " +
                           number_text(trial.radius.mm(), 6) + " mm",
                       "balance", "give at most 1000 kg at 10 m, and an angle of a few turns");
  if (!positive(radius.mm()))
    return input_fault("the correction's radius is " + number_text(radius.mm(), 6) + " mm",
                       "balance", "give a radius above 0");
  if (radius > kFarthest)
    return input_fault("the correction's radius is " + number_text(radius.mm(), 6) + " mm",
                       "balance", "give at most 10 m");
  if (quality.sigma && !(std::isfinite(*quality.sigma) && *quality.sigma >= 0.0))
    return input_fault("the readings' noise is " + number_text(*quality.sigma, 6), "balance",
                       "give 0 or more, in the readings' own unit");
  return Done{};
}

Result<Correction> correct(std::span<const TrialPair> runs, const PlacedMass& trial, Length radius,
                           const ReadingQuality& quality) {
  if (const auto ok = check_masses(trial, radius, quality); !ok)
    return ok.fault();
  if (const auto ok = check_runs(runs, quality); !ok)
    return ok.fault();
  const Complex trial_kg_m = to_kg_m(trial);
  const Complex wanted = solve_kg_m(runs, trial_kg_m);
  Correction made;
  made.mass = mass_for(wanted, radius);
  made.unbalance = from_kg_m(-wanted);
  predict(made, runs, trial_kg_m, wanted);
  made.response = least_response(runs);
  const auto again = [&](std::span<const double> components) {
    return solve_kg_m(with_components(runs, components), trial_kg_m);
  };
  made.spread = quality.sigma ? spread_of(again, components_of(runs), *quality.sigma)
                              : usual_spread(again, runs, wanted);
  bound(made, runs, trial_kg_m, quality);
  return made;
}

} // namespace whirler::balance
