#include "mount_motion.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

Complex forced(MountNumbers mount, double w, double ramp) {
  const Complex stiffness{mount.wn * mount.wn - w * w, 2.0 * mount.z * mount.wn * w};
  // As a product: the library's division guards against overflow, and is most of a step's cost.
  return Complex{w * w, -ramp} * std::conj(stiffness) * (1.0 / std::norm(stiffness));
}

} // namespace

Complex steady_gain(MountNumbers mount, double w) { return forced(mount, w, 0.0); }

std::size_t steps_a_turn(std::size_t marks, Steps steps) {
  const std::size_t least = steps == Steps::fine ? 8 : 5;
  constexpr std::size_t kMany = 12;
  if (marks > kMany)
    return steps == Steps::fine ? 16 : 8;
  return marks * ((least + marks - 1) / marks);
}

MountMotion::MountMotion(MountNumbers mount, std::size_t steps)
    : mount_(mount), free_(mount.wn * std::sqrt(std::max(1.0 - mount.z * mount.z, 1e-6))) {
  for (std::size_t s = 0; s <= steps; ++s)
    direction_.push_back(
        std::polar(1.0, kTwoPi * static_cast<double>(s) / static_cast<double>(steps)));
}

void MountMotion::settle(double speed, double ramp) {
  g_ = forced(mount_, speed, ramp);
  rate_ = Complex{0.0, speed} * g_;
}

namespace {

/// exp((-decay + j free) dt) over the steps of a turn. They differ little, so most are the mean
/// step's times a short series; the error of that is below 1e-6.
class Fading {
 public:
  Fading(double decay, double free, double mean_dt)
      : rate_(-decay, free), mean_dt_(mean_dt), mean_(std::exp(rate_ * mean_dt)) {}
  [[nodiscard]] Complex over(double dt) const {
    const Complex x = rate_ * (dt - mean_dt_);
    constexpr double kSmall = 0.06;
    if (std::abs(x.real()) + std::abs(x.imag()) > kSmall)
      return std::exp(rate_ * dt);
    return mean_ * (1.0 + x * (1.0 + x * (0.5 + x / 6.0)));
  }

 private:
  Complex rate_;
  double mean_dt_;
  Complex mean_;
};

} // namespace

void MountMotion::turn(std::span<const double> step_s, double ramp, std::span<Complex> g) {
  const double decay = mount_.z * mount_.wn;
  const auto steps = static_cast<double>(step_s.size());
  const double step_angle = kTwoPi / steps;
  const Fading fading(decay, free_, std::accumulate(step_s.begin(), step_s.end(), 0.0) / steps);
  for (std::size_t s = 0; s < step_s.size(); ++s) {
    g[s] = g_;
    const double w = step_angle / step_s[s];
    const Complex gain = forced(mount_, w, ramp);
    const Complex turning{0.0, w};
    // What is not forced rings down freely.
    const Complex free_g = g_ - gain * direction_[s];
    const Complex free_rate = rate_ - turning * gain * direction_[s];
    const Complex fade = fading.over(step_s[s]);
    const double c = fade.real();
    const double si = fade.imag() / free_;
    g_ = free_g * (c + decay * si) + free_rate * si + gain * direction_[s + 1];
    rate_ = free_rate * (c - decay * si) - free_g * (mount_.wn * mount_.wn * si) +
            turning * gain * direction_[s + 1];
  }
}

} // namespace whirler::tach
