#include "mount_motion.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

Complex forced(MountNumbers mount, double w, double ramp) {
  const Complex stiffness{mount.wn * mount.wn - w * w, 2.0 * mount.z * mount.wn * w};
  return Complex{w * w, -ramp} / stiffness;
}

} // namespace

Complex steady_gain(MountNumbers mount, double w) { return forced(mount, w, 0.0); }

std::size_t steps_a_turn(std::size_t marks) {
  constexpr std::size_t kLeast = 8;
  constexpr std::size_t kMany = 12;
  if (marks > kMany)
    return 16;
  return marks * ((kLeast + marks - 1) / marks);
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

void MountMotion::turn(std::span<const double> step_s, double ramp, std::span<Complex> g) {
  const double decay = mount_.z * mount_.wn;
  const double step_angle = kTwoPi / static_cast<double>(step_s.size());
  for (std::size_t s = 0; s < step_s.size(); ++s) {
    g[s] = g_;
    const double dt = step_s[s];
    const double w = step_angle / dt;
    const Complex gain = forced(mount_, w, ramp);
    const Complex turning{0.0, w};
    // What is not forced rings down freely.
    const Complex free_g = g_ - gain * direction_[s];
    const Complex free_rate = rate_ - turning * gain * direction_[s];
    const double fade = std::exp(-decay * dt);
    const double c = fade * std::cos(free_ * dt);
    const double si = fade * std::sin(free_ * dt) / free_;
    g_ = free_g * (c + decay * si) + free_rate * si + gain * direction_[s + 1];
    rate_ = free_rate * (c - decay * si) - free_g * (mount_.wn * mount_.wn * si) +
            turning * gain * direction_[s + 1];
  }
}

} // namespace whirler::tach
