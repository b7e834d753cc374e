#include "statistics.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {

double tail_f2(double f, double d) { return std::exp(-0.5 * d * std::log1p(2.0 * f / d)); }

double tail_f(double f, double numerator, double denominator) {
  if (!(f > 0.0))
    return 1.0;
  return cdf(complement(boost::math::fisher_f(numerator, denominator), f));
}

double tail_t_both(double x, double d) {
  return 2.0 * cdf(complement(boost::math::students_t(d), std::abs(x)));
}

double t_both(double p, double d) {
  return quantile(complement(boost::math::students_t(d), 0.5 * p));
}

double tail_chi2(double x, double d) {
  if (!(x > 0.0))
    return 1.0;
  return cdf(complement(boost::math::chi_squared(d), x));
}

double tail_rice(double b, double a) {
  if (b <= 0.0)
    return 1.0;
  // P(r > b) = mean over all directions of P(beyond the circle of radius b | direction), seen from
  // the true point: along direction t the circle is met at distance s(t), and a Gaussian in two
  // dimensions leaves exp(-s^2/2) beyond. From inside the circle (a < b) that is all.
  if (a >= b)
    return 1.0;               // not asked for: a bound lies inside its estimate
  constexpr int kSteps = 720; // the integrand is smooth and periodic: far below 1e-12
  double sum = 0.0;
  for (int i = 0; i < kSteps; ++i) {
    const double t = 2.0 * std::numbers::pi * (i + 0.5) / kSteps;
    const double across = a * std::sin(t);
    const double s = -a * std::cos(t) + std::sqrt(b * b - across * across);
    sum += std::exp(-0.5 * s * s);
  }
  return sum / kSteps;
}

} // namespace whirler::tach
