#include "mount_motion.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

/// The library's product and division guard against overflow, and would be most of a step's cost.
Complex times(Complex a, Complex b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

Complex forced(MountNumbers mount, double w, double ramp) {
  const Complex stiffness{mount.wn * mount.wn - w * w, 2.0 * mount.z * mount.wn * w};
  return times({w * w, -ramp}, std::conj(stiffness)) * (1.0 / std::norm(stiffness));
}

/// j w a: what turns at w rad/s moves so fast.
Complex turned(Complex a, double w) { return {-w * a.imag(), w * a.real()}; }

} // namespace

Complex steady_gain(MountNumbers mount, double w) { return forced(mount, w, 0.0); }

std::size_t steps_a_turn(std::size_t marks, Steps steps) {
  const std::size_t least = steps == Steps::fine ? 8 : 5;
  const std::size_t many = steps == Steps::fine ? 12 : 8;
  if (marks > many)
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
    return times(mean_, 1.0 + times(x, 1.0 + times(x, 0.5 + x * (1.0 / 6.0))));
  }

 private:
  Complex rate_;
  double mean_dt_;
  Complex mean_;
};

} // namespace

void MountMotion::begin(double speed, double ramp) {
  constexpr double kMostTurns = 1.2; // an index mark may be a turn away
  constexpr int kSteps = 16;
  const double angle = ramp > 0.0 ? 0.5 * speed * speed / ramp : 1e9;
  if (angle > kMostTurns * kTwoPi)
    return settle(speed, 0.0);
  g_ = rate_ = {};
  const double dt = speed / ramp / kSteps;
  const Complex fade = std::exp(Complex{-mount_.z * mount_.wn, free_} * dt);
  const auto direction = [&](int s) {
    const double t = s * dt;
    return std::polar(1.0, 0.5 * ramp * t * t - angle);
  };
  for (int s = 0; s < kSteps; ++s)
    step((s + 0.5) * ramp * dt, ramp, fade, direction(s), direction(s + 1));
}

void MountMotion::turn(std::span<const double> step_s, double ramp, std::span<Complex> g) {
  const auto steps = static_cast<double>(step_s.size());
  const double step_angle = kTwoPi / steps;
  const Fading fading(mount_.z * mount_.wn, free_,
                      std::accumulate(step_s.begin(), step_s.end(), 0.0) / steps);
  for (std::size_t s = 0; s < step_s.size(); ++s) {
    g[s] = g_;
    step(step_angle / step_s[s], ramp, fading.over(step_s[s]), direction_[s], direction_[s + 1]);
  }
}

void MountMotion::coast(std::span<const double> step_s, std::span<Complex> g) {
  const Fading fading(mount_.z * mount_.wn, free_,
                      std::accumulate(step_s.begin(), step_s.end(), 0.0) /
                          static_cast<double>(step_s.size()));
  for (std::size_t s = 0; s < step_s.size(); ++s) {
    g[s] = g_;
    ring(fading.over(step_s[s]));
  }
}

/// `from` and `to`: exp(j psi) at its ends. What is not forced rings down freely.
void MountMotion::step(double w, double ramp, Complex fade, Complex from, Complex to) {
  const Complex gain = forced(mount_, w, ramp);
  const Complex forced_g = times(gain, from);
  const Complex forced_then = times(gain, to);
  g_ -= forced_g;
  rate_ -= turned(forced_g, w);
  ring(fade);
  g_ += forced_then;
  rate_ += turned(forced_then, w);
}

/// The free motion over a step; `fade`: exp((-z wn + j free) dt).
void MountMotion::ring(Complex fade) {
  const double decay = mount_.z * mount_.wn;
  const double c = fade.real();
  const double si = fade.imag() / free_;
  const Complex g = g_;
  g_ = g * (c + decay * si) + rate_ * si;
  rate_ = rate_ * (c - decay * si) - g * (mount_.wn * mount_.wn * si);
}

} // namespace whirler::tach
