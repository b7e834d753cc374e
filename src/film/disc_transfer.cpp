#include "whirler/film/disc_transfer.hpp"

#include <array>
#include <cmath>
#include <cstddef>

namespace whirler::film {
namespace {

// The wall slopes and the inflow far away that make F and G vanish far from the disc (Cochran;
// further digits by shooting, which the tests repeat with another integrator).
constexpr double kRadialSlope = 0.5102326189;
constexpr double kTangentialSlope = -0.6159220144;
constexpr double kFarInflow = -0.8844741102;

constexpr std::size_t kSteps = 240; // even, for Simpson's rule
constexpr double kStep = 0.05;      // of the distance; 12 in all, where H is constant to 1e-4

/// F, F', G, G', H and the integral of H.
using State = std::array<double, 6>;

State slope(const State& y) {
  const auto [f, df, g, dg, h, sum] = y;
  return {df, f * f - g * g + h * df, dg, 2.0 * f * g + h * dg, -2.0 * f, h};
}

State moved(const State& y, double step, const State& along) {
  State result = y;
  for (std::size_t i = 0; i < y.size(); ++i)
    result[i] += step * along[i];
  return result;
}

State runge_kutta(const State& y) {
  const State k1 = slope(y);
  const State k2 = slope(moved(y, 0.5 * kStep, k1));
  const State k3 = slope(moved(y, 0.5 * kStep, k2));
  const State k4 = slope(moved(y, kStep, k3));
  State result = y;
  for (std::size_t i = 0; i < y.size(); ++i)
    result[i] += kStep / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
  return result;
}

/// The integral of H from the wall, at each node.
std::array<double, kSteps + 1> inflow_integrals() {
  std::array<double, kSteps + 1> integrals{};
  State y{0.0, kRadialSlope, 1.0, kTangentialSlope, 0.0, 0.0};
  for (std::size_t i = 0; i < kSteps; ++i) {
    y = runge_kutta(y);
    integrals[i + 1] = y[5];
  }
  return integrals;
}

} // namespace

double disc_transfer(double schmidt) {
  static const auto inflow = inflow_integrals();
  double simpson = 0.0;
  for (std::size_t i = 0; i <= kSteps; ++i) {
    const double weight = (i == 0 || i == kSteps) ? 1.0 : (i % 2 == 1 ? 4.0 : 2.0);
    simpson += weight * std::exp(schmidt * inflow[i]);
  }
  // Past the last node H is constant, and the rest of the integral is an exponential's.
  const double rest = std::exp(schmidt * inflow[kSteps]) / (schmidt * -kFarInflow);
  return 1.0 / (simpson * kStep / 3.0 + rest);
}

} // namespace whirler::film
