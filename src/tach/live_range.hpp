// How far the doubt about one mount's account goes, and what all that fit say together.
#pragma once

#include "live_bank.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace whirler::tach {

/// Student's reach for a Gaussian one, near enough for 5 deviations (10 degrees of freedom: 10.6).
[[nodiscard]] inline double widened(double deviations, double freedom) {
  return deviations * std::exp(0.3 * deviations * deviations / freedom);
}

/// How far a bound goes about what one mount says. A mount that fits worse than the best has used
/// up some of the doubt already (the bound of a profile likelihood).
[[nodiscard]] inline double reach_of(const LiveBank::Account& a, double deviations) {
  const double whole = widened(deviations, a.freedom);
  return std::sqrt(std::max(0.0, whole * whole - a.excess));
}

/// Lowest, best and highest of what the mounts that fit say.
struct Range {
  double low = std::numeric_limits<double>::max();
  double best = 0.0;
  double high = 0.0;
  void add(double value, double reach, bool proves) {
    if (high == 0.0)
      best = value; // the first is the best fit
    low = proves ? std::min(low, std::max(0.0, value - reach)) : 0.0;
    high = std::max(high, value + reach);
  }
};

} // namespace whirler::tach
