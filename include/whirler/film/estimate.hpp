// A thickness with its 95 % interval. Errors of a film multiply (a wrong viscosity, a warm room, a
// worn gauge each scale it), so they are kept and added as standard deviations of the logarithm.
#pragma once

#include "whirler/units/quantities.hpp"

#include <string_view>

namespace whirler::film {

/// Where an estimate comes from, in rising order of trust.
enum class Model { rule, thinning, calibrated };
/// "rule", "thinning", "calibrated": the word in JSON.
[[nodiscard]] std::string_view model_word(Model model);

struct Estimate {
  Length thickness;
  Length low; ///< of the 95 % interval
  Length high;
};

/// From a middle and the standard deviation of its logarithm. Where the error is known to go one
/// way, `lean` stretches one bound alone: above 1 the upper, below 1 the lower.
[[nodiscard]] Estimate estimate(Length middle, double log_deviation, double lean = 1.0);

/// 95 % of a normal distribution lies within this many standard deviations.
inline constexpr double kTwoSided95 = 1.959963985;

} // namespace whirler::film
