// How errors of readings pass on to a correction.
#pragma once

#include "whirler/balance/influence.hpp"

#include <functional>
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

/// Spread of published trials: 6 % of the mass, 8 deg of the angle, one standard deviation each.
[[nodiscard]] Spread published_spread(std::complex<double> correction_kg_m);

} // namespace whirler::balance
