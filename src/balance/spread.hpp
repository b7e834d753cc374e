// How errors of readings pass on to a correction.
#pragma once

#include "whirler/balance/influence.hpp"

#include <functional>
#include <optional>
#include <span>

namespace whirler::balance {

/// A correction in kg m as a function of the readings' real components, in the order in which the
/// caller keeps them.
using CorrectionOf = std::function<std::complex<double>(std::span<const double>)>;

/// Spread of `correction` when each component errs independently by `sigma`: first order, slopes
/// by central differences. The functions are not analytic in the complex sense (sizes and
/// conjugates occur), so each component is moved by itself.
[[nodiscard]] Spread spread_of(const CorrectionOf& correction, std::span<const double> components,
                               double sigma);

/// The same with each component's own `sigmas`.
[[nodiscard]] Spread spread_of(const CorrectionOf& correction, std::span<const double> components,
                               std::span<const double> sigmas);

/// One speed's readings less what is known or fitted beside the unbalance, each over its standard
/// deviation.
struct ScaledPair {
  std::complex<double> before;
  std::complex<double> with_trial;
};

/// The unbalances, in trials, that the readings allow 95 times in 100: a disc.
struct TrialRatios {
  std::complex<double> centre;
  double radius = 0.0;

  /// Of the ratio that lies farthest from `from`.
  [[nodiscard]] double farthest(std::complex<double> from) const {
    return std::abs(centre - from) + radius;
  }
};

/// Fieller's region for a ratio (E. C. Fieller, J. R. Stat. Soc. B 16, 175, 1954 [from memory]),
/// for complex readings at any number of speeds. An unbalance of u trials leaves of
/// (1+u) before - u with_trial nothing but noise of variance |1+u|^2 + |u|^2; the ratios u at which
/// what it leaves is no more than chi squared of two degrees above the least make a disc. None
/// where the trial moved the readings so little that any unbalance would do.
[[nodiscard]] std::optional<TrialRatios> trial_ratios_95(std::span<const ScaledPair> pairs);

/// What a reading errs by, of either component, as a share of its size, where nobody has said: a
/// trial as large as the unbalance then finds its mass as well as published trials do.
inline constexpr double kUsualReadingError = 0.054;

/// The same spread with one more independent error.
[[nodiscard]] Spread with_error(Spread spread, std::complex<double> error);

/// Spread of published trials: 6 % of the mass, 8 deg of the angle, one standard deviation each.
[[nodiscard]] Spread published_spread(std::complex<double> correction_kg_m);

} // namespace whirler::balance
