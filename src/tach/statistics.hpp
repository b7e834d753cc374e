// The few distributions that the verdicts rest on.
#pragma once

#include <cstddef>

namespace whirler::tach {

/// P(F > f), F with (2, d) degrees of freedom: (1 + 2 f/d)^(-d/2).
[[nodiscard]] double tail_f2(double f, double d);
/// P(F > f) with any degrees of freedom.
[[nodiscard]] double tail_f(double f, double numerator, double denominator);
/// P(|t| > x) of Student's t.
[[nodiscard]] double tail_t_both(double x, double d);
/// x with P(|t| > x) = p.
[[nodiscard]] double t_both(double p, double d);
/// P(chi^2 > x).
[[nodiscard]] double tail_chi2(double x, double d);
/// P(r > b) of a Rice variable: unit noise in each component, true length a.
[[nodiscard]] double tail_rice(double b, double a);

} // namespace whirler::tach
