#include "whirler/film/uncertainty.hpp"

#include "whirler/film/rule.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace whirler::film {
namespace thinning {

double normal_quantile(double share) {
  // Abramowitz and Stegun 26.2.23 to start (4.5e-4), then Newton on the error function.
  const double tail = std::clamp(std::min(share, 1.0 - share), 1e-300, 0.5);
  const double t = std::sqrt(-2.0 * std::log(tail));
  double x = t - (2.515517 + t * (0.802853 + t * 0.010328)) /
                     (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
  for (int i = 0; i < 2; ++i) {
    const double above = 0.5 * std::erfc(x / std::numbers::sqrt2);
    const double density = std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
    x += (above - tail) / density;
  }
  return share < 0.5 ? -x : x;
}

namespace {

constexpr std::size_t kInputs = 4;
using Draw = std::array<double, kInputs>; // standard normal: viscosity, solids, room, tach

/// The i-th of an evenly spread sequence: steps of the powers of 1/g with g^5 = g + 1.
Draw draw(std::size_t i) {
  constexpr double kGolden = 1.1673039782614187;
  Draw z{};
  double step = 1.0;
  for (double& value : z) {
    step /= kGolden;
    const double x = 0.5 + step * static_cast<double>(i + 1);
    value = normal_quantile(std::clamp(x - std::floor(x), 1e-12, 1.0 - 1e-12));
  }
  return z;
}

/// ln of the dry film [ln m] of one draw; not finite where there is none.
double coat(const Label& label, std::span<const Piece> pieces, const Environment& environment,
            const Spreads& spreads, const Draw& z) {
  Label nudged = label;
  nudged.viscosity_Pa_s *= std::exp(spreads.viscosity * z[0]);
  if (nudged.power)
    nudged.power->kappa_Pa_sn *= std::exp(spreads.viscosity * z[0]);
  if (label.count > 0)
    nudged.solids_mass = std::min(0.999, label.solids_mass * std::exp(spreads.solids * z[1]));
  nudged.air.temperature = kelvin(label.air.temperature.kelvin() + spreads.temperature_K * z[2]);
  const double faster = std::exp(spreads.speed * z[3]);
  std::vector<Piece> turned(pieces.begin(), pieces.end());
  for (Piece& piece : turned) {
    piece.omega_start *= faster;
    piece.slope *= faster;
  }
  return std::log(dry_film_m(nudged, turned, environment.pour.thickness.m(), kQuickAccuracy,
                             environment.plate.radius.value_or(metres(kUsualRadius_m)).m()));
}

/// The quantile of the mean of normal curves of width `deviation` around each value.
double smoothed_quantile(const std::vector<double>& values, double deviation, double share) {
  double low = *std::min_element(values.begin(), values.end()) - 8.0 * deviation;
  double high = *std::max_element(values.begin(), values.end()) + 8.0 * deviation;
  const double scale = 1.0 / (deviation * std::numbers::sqrt2);
  while (high - low > 1e-5 * deviation) {
    const double x = 0.5 * (low + high);
    double below = 0.0;
    for (const double value : values)
      below += 0.5 * std::erfc((value - x) * scale);
    (below < share * static_cast<double>(values.size()) ? low : high) = x;
  }
  return 0.5 * (low + high);
}

double deviation_of(const std::vector<double>& values) {
  double mean = 0.0, square = 0.0;
  for (const double value : values)
    mean += value / static_cast<double>(values.size());
  for (const double value : values)
    square += (value - mean) * (value - mean);
  return values.size() < 2 ? 0.0 : std::sqrt(square / static_cast<double>(values.size() - 1));
}

Outcome check_spreads(const Spreads& s, std::size_t samples) {
  for (const double value : {s.viscosity, s.solids, s.temperature_K, s.speed, s.total})
    if (!(value >= 0.0) || !std::isfinite(value))
      return input_fault("a spread of " + number_text(value) + " is not possible", "",
                         "give standard deviations from 0 up");
  if (!(s.total > 0.0) || samples == 0)
    return input_fault("a forecast needs a spread and samples", "", "give both above 0");
  return Done{};
}

} // namespace
} // namespace thinning

using namespace thinning;

Spreads label_spreads(const Resist& resist, const Environment& environment) {
  Spreads spreads;
  spreads.total = kLabelDeviation;
  if (resist.dries() && environment.air.cover != Cover::open && !environment.air.vapour_share)
    spreads.total = std::hypot(spreads.total, kCoverDeviation);
  return spreads;
}

Result<Forecast> forecast(const Resist& resist, const SpeedCurve& curve,
                          const Environment& environment, const Spreads& spreads,
                          std::size_t samples) {
  if (auto sound = check_spreads(spreads, samples); !sound)
    return sound.fault();
  const auto middle = dry_film(resist, curve, environment);
  if (!middle)
    return middle.fault();
  const auto label = read_label(resist, environment.air, environment.plate.heat);
  const auto pieces = pieces_of(curve);
  if (!label || !pieces)
    return label ? pieces.fault() : label.fault();
  // A power-law coat costs a thousand times a column's; a small lattice still spans it.
  constexpr std::size_t kFewest = 48;
  const std::size_t count = label->power ? std::min(samples, kFewest) : samples;
  std::vector<double> films;
  for (std::size_t i = 0; i < count; ++i) {
    const double film = coat(*label, *pieces, environment, spreads, draw(i));
    if (std::isfinite(film))
      films.push_back(film);
  }
  if (films.empty())
    return Fault{FaultKind::program, "no draw of the forecast had a film", "",
                 "please report the resist and the profile"};
  Forecast out;
  out.input_deviation = deviation_of(films);
  const double left = spreads.total * spreads.total - out.input_deviation * out.input_deviation;
  out.model_deviation = std::sqrt(std::max(left, 0.25 * spreads.total * spreads.total));
  constexpr double kTail = 0.025;
  out.film = {*middle, metres(std::exp(smoothed_quantile(films, out.model_deviation, kTail))),
              metres(std::exp(smoothed_quantile(films, out.model_deviation, 1.0 - kTail)))};
  return out;
}

} // namespace whirler::film
