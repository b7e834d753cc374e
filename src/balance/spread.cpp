#include "spread.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::balance {
namespace {

constexpr double kPublishedMassShare = 0.06;
constexpr double kPublishedAngle_deg = 8.0;
/// 95 % point of chi squared with two degrees of freedom: -2 ln 0.05.
constexpr double kChi2 = 5.991464547107979;

void add(Spread& spread, std::complex<double> error) {
  spread.xx_kg2m2 += error.real() * error.real();
  spread.xy_kg2m2 += error.real() * error.imag();
  spread.yy_kg2m2 += error.imag() * error.imag();
}

} // namespace

Unbalance Spread::rms() const {
  return kilogram_metres(std::sqrt(std::max(0.0, xx_kg2m2 + yy_kg2m2)));
}

Unbalance Spread::bound_95() const {
  const double mean = (xx_kg2m2 + yy_kg2m2) / 2.0;
  const double longer = mean + std::hypot((xx_kg2m2 - yy_kg2m2) / 2.0, xy_kg2m2);
  return kilogram_metres(std::sqrt(kChi2 * std::max(0.0, longer)));
}

Spread spread_of(const CorrectionOf& correction, std::span<const double> components,
                 std::span<const double> sigmas) {
  double scale = 0.0;
  for (const double c : components)
    scale = std::max(scale, std::abs(c));
  const double step = 1e-6 * scale;
  Spread spread;
  if (step == 0.0)
    return spread;
  std::vector<double> moved(components.begin(), components.end());
  for (std::size_t i = 0; i < moved.size(); ++i) {
    moved[i] = components[i] + step;
    const auto above = correction(moved);
    moved[i] = components[i] - step;
    const auto below = correction(moved);
    moved[i] = components[i];
    add(spread, sigmas[i] * (above - below) / (2.0 * step));
  }
  return spread;
}

Spread spread_of(const CorrectionOf& correction, std::span<const double> components, double sigma) {
  const std::vector<double> sigmas(components.size(), sigma);
  return spread_of(correction, components, sigmas);
}

Spread with_error(Spread spread, std::complex<double> error) {
  add(spread, error);
  return spread;
}

std::optional<TrialRatios> trial_ratios_95(std::span<const ScaledPair> pairs) {
  double before = 0.0;
  double with_trial = 0.0;
  std::complex<double> both;
  for (const ScaledPair& pair : pairs) {
    before += std::norm(pair.before);
    with_trial += std::norm(pair.with_trial);
    both += std::conj(pair.before) * pair.with_trial;
  }
  // What the best of all ratios leaves: the smaller eigenvalue of the readings' products.
  const double least =
      (before + with_trial) / 2.0 - std::hypot((before - with_trial) / 2.0, std::abs(both));
  const double limit = std::max(0.0, least) + kChi2;
  const double moved = before + with_trial - 2.0 * both.real();
  const double square = moved - 2.0 * limit; // |u|^2 counts so much
  if (!(square > 0.0))
    return std::nullopt;
  const auto centre = std::conj(both - before + limit) / square;
  const double radius2 = std::norm(centre) - (before - limit) / square;
  return TrialRatios{centre, std::sqrt(std::max(0.0, radius2))};
}

Spread published_spread(std::complex<double> correction_kg_m) {
  Spread spread;
  add(spread, kPublishedMassShare * correction_kg_m);
  add(spread,
      degrees(kPublishedAngle_deg).rad() * std::complex<double>(0.0, 1.0) * correction_kg_m);
  return spread;
}

} // namespace whirler::balance
