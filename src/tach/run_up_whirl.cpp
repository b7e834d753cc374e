#include "complex_vector.hpp"
#include "whirler/tach/run_up.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kSure = 1e-4;

/// Gains that a whirl is seen through, of the mount and of the second one.
struct Gains {
  Complex first;
  Complex second;
};

Gains gains_at(const FittingMount& m, Speed speed) {
  const auto gain = [&](Frequency natural, double damping) {
    return std::conj(steady_gain({natural.Hz() * kTwoPi, damping}, speed.rad_per_s()));
  };
  return {gain(m.natural, m.damping),
          m.second ? gain(m.second->natural, m.second->damping) : Complex{}};
}

OnceVector seen_through(Gains gains, const FittingMount& m) {
  Complex sum = as_complex(m.far_above) * gains.first;
  if (m.second)
    sum += as_complex(m.second->far_above) * gains.second;
  return as_vector(sum);
}

/// Of the larger principal variance in every direction.
OnceCovariance all_round(OnceCovariance c) {
  const double worst = c.largest();
  return {worst, 0.0, worst};
}

OnceCovariance covariance_through(Gains gains, const FittingMount& m) {
  if (!m.second) {
    const double g2 = std::norm(gains.first);
    return all_round({g2 * m.covariance.re_re, g2 * m.covariance.re_im, g2 * m.covariance.im_im});
  }
  // Re D = re g re K - im g im K, Im D = im g re K + re g im K, of both.
  const std::array<double, 4> re{gains.first.real(), -gains.first.imag(), gains.second.real(),
                                 -gains.second.imag()};
  const std::array<double, 4> im{gains.first.imag(), gains.first.real(), gains.second.imag(),
                                 gains.second.real()};
  const auto of = [&](const std::array<double, 4>& a, const std::array<double, 4>& b) {
    double sum = 0.0;
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t j = 0; j < 4; ++j)
        sum += a[i] * m.joint[4 * i + j] * b[j];
    return sum;
  };
  return all_round({of(re, re), of(re, im), of(im, im)});
}

} // namespace

OnceVector steady_whirl(OnceVector far_above, Frequency natural, double damping, Speed speed) {
  const Complex gain = steady_gain({natural.Hz() * kTwoPi, damping}, speed.rad_per_s());
  return as_vector(as_complex(far_above) * std::conj(gain));
}

OnceVector steady_whirl(const FittingMount& mount, Speed speed) {
  return seen_through(gains_at(mount, speed), mount);
}

Whirl RunUp::whirl_at(Speed speed) const {
  return whirl_through([&](const FittingMount& m) { return gains_at(m, speed); });
}

Whirl RunUp::far_whirl() const {
  return whirl_through([](const FittingMount&) { return Gains{{1.0, 0.0}, {1.0, 0.0}}; });
}

template <class GainsOf>
Whirl RunUp::whirl_through(GainsOf gains_of) const {
  const auto of = [&](const FittingMount& m) { return seen_through(gains_of(m), m); };
  const auto covariance_at = [&](const FittingMount& m) {
    return covariance_through(gains_of(m), m);
  };
  Whirl out;
  out.vector = of(fitting.front());
  out.covariance = covariance_at(fitting.front());
  if (mount.found) {
    // What the mounts' own spread adds: by ln natural and ln damping of each, the rest fitted anew.
    std::vector<Complex> slope;
    for (std::size_t i = 0; i < step.size(); ++i)
      slope.push_back(as_complex(of(beside[2 * i]) - of(beside[2 * i + 1])) / (2.0 * step[i]));
    for (std::size_t p = 0; p < step.size(); ++p)
      for (std::size_t q = 0; q < step.size(); ++q) {
        const double c = of_mount[p * step.size() + q];
        out.covariance = out.covariance + OnceCovariance{c * slope[p].real() * slope[q].real(),
                                                         c * slope[p].real() * slope[q].imag(),
                                                         c * slope[p].imag() * slope[q].imag()};
      }
  }
  double more = std::pow(model_spread * out.vector.amplitude().rad(), 2);
  if (left_over)
    more += std::pow(left_over->left.rad(), 2);
  out.covariance = out.covariance + OnceCovariance{more, 0.0, more};
  out.interval = amplitude_interval(out.vector, out.covariance, freedom);
  for (std::size_t i = 1; i < fitting.size(); ++i) {
    const auto other = amplitude_interval(of(fitting[i]), covariance_at(fitting[i]), freedom);
    out.interval.low = std::min(out.interval.low, other.low);
    out.interval.high = std::max(out.interval.high, other.high);
  }
  if (p_growth > kSure)
    out.interval.low = radians(0.0);
  return out;
}

} // namespace whirler::tach
