#include "whirler/balance/four_runs.hpp"

#include "checks.hpp"
#include "spread.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::balance {
namespace {

using Complex = std::complex<double>;

/// What the four sizes hold, in their own unit.
struct Findings {
  Complex harmonic;         ///< the trial's answer, turned to where it adds most
  double mean_square = 0.0; ///< its square, found from the mean
};

Findings findings(const FourSizes& v) {
  Findings found;
  double squares = 0.0;
  for (std::size_t i = 1; i < v.size(); ++i) {
    const double theta = kRadPerTurn * static_cast<double>(i - 1) / 3.0;
    found.harmonic += v[i] * v[i] * std::polar(1.0, -theta);
    squares += v[i] * v[i];
  }
  found.harmonic /= 3.0 * v[0];
  found.mean_square = squares / 3.0 - v[0] * v[0];
  return found;
}

Complex solve_kg_m(const FourSizes& v, Complex trial_kg_m) {
  return -trial_kg_m * v[0] / findings(v).harmonic;
}

Outcome check_sizes(const FourSizes& sizes) {
  for (const double size : sizes)
    if (!std::isfinite(size) || size < 0.0)
      return input_fault("an amplitude is " + (std::isnan(size) ? std::string("not a number")
                                                                : number_text(size, 6)),
                         "balance", "give four amplitudes of 0 or more");
    else if (size > kMostReading)
      return input_fault("an amplitude is " + number_text(size, 6), "balance",
                         "read it again: no meter shows so much");
  if (sizes[0] > 0.0)
    return Done{};
  return input_fault("the amplitude before the trials is 0", "balance",
                     "there is nothing to correct, or the meter was not on");
}

/// Root of the mean square over the harmonic; zero where there is neither.
double consistency_of(const Findings& found) {
  const double harmonic = std::abs(found.harmonic);
  if (harmonic == 0.0 || found.mean_square <= 0.0)
    return 0.0;
  return std::sqrt(found.mean_square) / harmonic;
}

/// Readings that are the same wherever the trial mass sits: no place is better than another.
Outcome check_differences(const FourSizes& v, const Findings& found) {
  const double largest = *std::max_element(v.begin(), v.end());
  if (std::abs(found.harmonic) * v[0] > 1e-9 * largest * largest)
    return Done{};
  return input_fault("the three readings with the trial mass are the same: they name no place",
                     "balance", "repeat the runs, with a larger trial mass if little changed");
}

Outcome check_consistency(double consistency) {
  if (consistency >= kConsistencyLow && consistency <= kConsistencyHigh)
    return Done{};
  return input_fault("the four amplitudes do not fit one machine: the trial's effect from their "
                     "mean is " +
                         number_text(consistency) +
                         " times that from their differences (0.8 to 1.25 would do)",
                     "balance", "repeat the runs, with a larger trial mass if little changed");
}

Outcome check_change(const Findings& found, const ReadingQuality& quality) {
  if (std::abs(found.harmonic) > 3.0 * quality.sigma.value_or(0.0))
    return Done{};
  return input_fault("the trial mass changed the reading by no more than its noise", "balance",
                     "use a larger trial mass, or run faster");
}

double response_of(const FourSizes& sizes, const Findings& found) {
  return std::abs(found.harmonic) / sizes[0];
}

/// Errors of the readings, of either kind: the noise that was told, or the usual share of each.
std::vector<double> sigmas_of(const FourSizes& sizes, const ReadingQuality& quality) {
  std::vector<double> sigmas;
  for (const double size : sizes)
    sigmas.push_back(quality.sigma.value_or(kUsualReadingError * size));
  return sigmas;
}

/// The mass goes as one over the trial's answer: the farther that may be off, the more than in
/// proportion the mass is.
std::optional<Unbalance> bound_of(const FourSizes& v, const Findings& found, const Spread& spread,
                                  std::span<const double> sigmas) {
  Spread answer; // of the harmonic times V0, in the readings' unit squared
  for (std::size_t i = 1; i < v.size(); ++i) {
    const Complex slope =
        2.0 / 3.0 * v[i] * std::polar(1.0, -kRadPerTurn * static_cast<double>(i - 1) / 3.0);
    answer = with_error(answer, sigmas[i] * slope);
  }
  const double doubt = answer.bound_95().kg_m() / (std::abs(found.harmonic) * v[0]);
  if (!(doubt < 1.0))
    return std::nullopt;
  return kilogram_metres(spread.bound_95().kg_m() / (1.0 - doubt));
}

} // namespace

Result<FourRunCorrection> correct(const FourSizes& sizes, const PlacedMass& trial, Length radius,
                                  const ReadingQuality& quality) {
  if (const auto ok = check_masses(trial, radius, quality); !ok)
    return ok.fault();
  if (const auto ok = check_sizes(sizes); !ok)
    return ok.fault();
  const Findings found = findings(sizes);
  if (const auto ok = check_differences(sizes, found); !ok)
    return ok.fault();
  const double consistency = consistency_of(found);
  if (const auto ok = check_consistency(consistency); !ok)
    return ok.fault();
  if (const auto ok = check_change(found, quality); !ok)
    return ok.fault();
  const Complex trial_kg_m = to_kg_m(trial);
  const Complex wanted = solve_kg_m(sizes, trial_kg_m);
  FourRunCorrection made;
  made.consistency = consistency;
  made.correction.mass = mass_for(wanted, radius);
  made.correction.unbalance = from_kg_m(-wanted);
  made.correction.rest = {0.0};
  made.correction.influence = {std::abs(found.harmonic) / std::abs(trial_kg_m)};
  made.correction.response = response_of(sizes, found);
  const auto again = [&](std::span<const double> v) {
    return solve_kg_m({v[0], v[1], v[2], v[3]}, trial_kg_m);
  };
  const auto sigmas = sigmas_of(sizes, quality);
  const Spread by_noise = spread_of(again, sizes, sigmas);
  const Spread published = published_spread(wanted);
  const bool usual = !quality.sigma && published.rms() > by_noise.rms();
  made.correction.spread = usual ? published : by_noise;
  made.correction.bound_95 = bound_of(sizes, found, made.correction.spread, sigmas);
  return made;
}

} // namespace whirler::balance
