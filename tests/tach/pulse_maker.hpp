// Pulses of a spinner whose truth is known, made without a line of the code under test: the whirl
// by a Runge-Kutta integration of the mount's equation in plain coordinates x and y, the passing of
// each mark by Newton's method on the angle.
#pragma once

#include "whirler/tach/pulses.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstdint>
#include <numbers>
#include <random>
#include <vector>

namespace pulse_maker {

inline constexpr double kPi = std::numbers::pi;
inline constexpr double kRpm = 2.0 * kPi / 60.0; // rad/s

/// Speed over time in straight pieces, and a loop that hunts about it.
struct Motion {
  std::vector<double> at_s{0.0};
  std::vector<double> speed{300.0 * kRpm}; // rad/s
  double hunting = 0.0;                    // share of `hunting_of`
  double hunting_hz = 0.7;
  double hunting_of = 0.0; // rad/s

  static Motion dwell(double rpm, double length_s) {
    return {{0.0, length_s}, {rpm * kRpm, rpm * kRpm}, 0.0, 0.7, rpm * kRpm};
  }
  /// Adds a straight change to `rpm` at `rpm_per_s`, then `dwell_s` there.
  Motion& go_to(double rpm, double rpm_per_s, double dwell_s) {
    const double ramp = std::abs(rpm * kRpm - speed.back()) / (rpm_per_s * kRpm);
    at_s.push_back(at_s.back() + ramp);
    speed.push_back(rpm * kRpm);
    at_s.push_back(at_s.back() + dwell_s);
    speed.push_back(rpm * kRpm);
    if (hunting_of == 0.0)
      hunting_of = rpm * kRpm; // a loop hunts by a share of where it stands
    return *this;
  }
  [[nodiscard]] double end_s() const { return at_s.back(); }
  [[nodiscard]] std::size_t piece(double t) const {
    const auto it = std::upper_bound(at_s.begin(), at_s.end(), t);
    const auto i = static_cast<std::size_t>(std::max<std::ptrdiff_t>(it - at_s.begin(), 1)) - 1;
    return std::min(i, at_s.size() - 2);
  }
  [[nodiscard]] double ramp(double t) const {
    const std::size_t i = piece(t);
    const double length = at_s[i + 1] - at_s[i];
    const double hunt = 2.0 * kPi * hunting_hz;
    return (length > 0.0 ? (speed[i + 1] - speed[i]) / length : 0.0) +
           hunting * hunting_of * hunt * std::cos(hunt * t);
  }
  [[nodiscard]] double omega(double t) const {
    const std::size_t i = piece(t);
    const double length = at_s[i + 1] - at_s[i];
    const double straight =
        speed[i] + (length > 0.0 ? (speed[i + 1] - speed[i]) * (t - at_s[i]) / length : 0.0);
    return straight + hunting * hunting_of * std::sin(2.0 * kPi * hunting_hz * t);
  }
  [[nodiscard]] double angle(double t) const {
    double sum = 0.0;
    const std::size_t last = piece(t);
    for (std::size_t i = 0; i <= last; ++i) {
      const double to = i == last ? t : at_s[i + 1];
      const double length = at_s[i + 1] - at_s[i];
      const double dt = to - at_s[i];
      const double slope = length > 0.0 ? (speed[i + 1] - speed[i]) / length : 0.0;
      sum += speed[i] * dt + 0.5 * slope * dt * dt;
    }
    const double hunt = 2.0 * kPi * hunting_hz;
    return sum + hunting * hunting_of * (1.0 - std::cos(hunt * t)) / hunt;
  }
};

struct Mount {
  double unbalance_kg_m = 0.0;
  double moving_kg = 0.6;
  double mark_radius_m = 0.015;
  double natural_hz = 15.0;
  double damping = 0.08;
  double heavy_side_deg = 40.0; // with the rotation from the index mark
  // A mount softer in one direction: its other natural speed lies along an axis that stands at
  // `other_at_deg` from the sensor. 0: the same all round.
  double other_hz = 0.0;
  double other_at_deg = 45.0;
  // A plate that moves on its hub at this time; its unbalance is so many times as large from then
  // on, and stands so far from where it was. 0: it holds.
  double moves_at_s = 0.0;
  double moves_times = 1.0;
  double moves_by_deg = 0.0;
};

struct Spinner {
  int marks = 6;
  Motion motion = Motion::dwell(3000, 20);
  Mount mount;
  std::vector<Mount> more;     // further modes of the spindle, whose motion adds
  bool whirls = true;          // integrate the mount; else `steady` stands for it
  std::complex<double> steady; // D, rad, added at every speed
  std::vector<double> pattern; // lateness of each mark, rad; empty: even
  std::complex<double> tilt;   // D times omega^2, rad/s^2
  double noise_rad = 0.0;      // of one pulse
  double noise_s = 0.0;        // of one pulse, in time
  double tick_s = 0.5e-6;
  bool with_index = true;
  int first_mark = 0;
};

/// Order 1 of a pattern in the convention lateness = Re(D exp(-j psi)).
inline std::complex<double> order_one_of(const std::vector<double>& pattern) {
  std::complex<double> sum;
  const auto n = static_cast<double>(pattern.size());
  for (std::size_t k = 0; k < pattern.size(); ++k)
    sum += pattern[k] * std::polar(2.0 / n, 2.0 * kPi * static_cast<double>(k) / n);
  return sum;
}

inline std::vector<double> random_pattern(int marks, double rms_rad, std::mt19937_64& random) {
  std::normal_distribution<double> normal(0.0, rms_rad);
  std::vector<double> pattern(static_cast<std::size_t>(marks));
  for (double& p : pattern)
    p = normal(random);
  return pattern;
}

/// Pattern of 8 mrad rms (or 5 % of the pitch) with no order 1 of its own.
inline std::vector<double> pattern_without_order_one(int marks) {
  std::mt19937_64 random(77);
  auto pattern = random_pattern(marks, std::min(8e-3, 0.05 * 2.0 * kPi / marks), random);
  const auto first = marks == 2 ? (pattern[0] - pattern[1]) / 2.0 : order_one_of(pattern);
  for (std::size_t k = 0; k < pattern.size(); ++k)
    pattern[k] -= std::real(first * std::polar(1.0, -2.0 * kPi * static_cast<double>(k) / marks));
  return pattern;
}

/// Tangential motion at the sensor over time, m: y of a whirl whose sensor stands on the x axis.
class Whirl {
 public:
  Whirl(const Motion& motion, const Mount& mount, double marks_from) {
    // x is the other axis, at `at` from the sensor's; y the first one. All in their frame.
    const double at = mount.other_hz > 0.0 ? mount.other_at_deg * kPi / 180.0 : 0.0;
    const double wn = 2.0 * kPi * mount.natural_hz;
    const double wx = mount.other_hz > 0.0 ? 2.0 * kPi * mount.other_hz : wn;
    const double e = mount.unbalance_kg_m / mount.moving_kg;
    double top = std::max(wn, wx);
    for (const double s : motion.speed)
      top = std::max(top, s);
    step_ = 2.0 * kPi / top / 60.0;
    const double beta = mount.heavy_side_deg * kPi / 180.0 + marks_from - at;
    std::array<double, 4> s{}; // x, y, vx, vy
    const auto rate = [&](double t, const std::array<double, 4>& q) {
      const double w = motion.omega(t);
      const double a = motion.ramp(t);
      const bool moved = mount.moves_at_s > 0.0 && t > mount.moves_at_s;
      const double h = motion.angle(t) + beta + (moved ? mount.moves_by_deg * kPi / 180.0 : 0.0);
      const double off = moved ? mount.moves_times * e : e;
      const double fx = off * (w * w * std::cos(h) + a * std::sin(h));
      const double fy = off * (w * w * std::sin(h) - a * std::cos(h));
      return std::array<double, 4>{q[2], q[3],
                                   fx - 2.0 * mount.damping * wx * q[2] - wx * wx * q[0],
                                   fy - 2.0 * mount.damping * wn * q[3] - wn * wn * q[1]};
    };
    const auto after = [](const std::array<double, 4>& q, const std::array<double, 4>& r,
                          double dt) {
      std::array<double, 4> out{};
      for (std::size_t i = 0; i < 4; ++i)
        out[i] = q[i] + dt * r[i];
      return out;
    };
    for (double t = 0.0; t < motion.end_s() + 2.0 * step_; t += step_) {
      y_.push_back(std::sin(at) * s[0] + std::cos(at) * s[1]);
      vy_.push_back(std::sin(at) * s[2] + std::cos(at) * s[3]);
      const auto k1 = rate(t, s);
      const auto k2 = rate(t + 0.5 * step_, after(s, k1, 0.5 * step_));
      const auto k3 = rate(t + 0.5 * step_, after(s, k2, 0.5 * step_));
      const auto k4 = rate(t + step_, after(s, k3, step_));
      for (std::size_t i = 0; i < 4; ++i)
        s[i] += step_ / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
    }
  }
  [[nodiscard]] double y(double t) const { // Hermite between the steps
    const double at = std::max(0.0, t / step_);
    const auto i = std::min(static_cast<std::size_t>(at), y_.size() - 2);
    const double u = at - static_cast<double>(i);
    const double h00 = (1.0 + 2.0 * u) * (1.0 - u) * (1.0 - u);
    const double h10 = u * (1.0 - u) * (1.0 - u);
    const double h01 = u * u * (3.0 - 2.0 * u);
    const double h11 = u * u * (u - 1.0);
    return h00 * y_[i] + step_ * h10 * vy_[i] + h01 * y_[i + 1] + step_ * h11 * vy_[i + 1];
  }

 private:
  double step_ = 0.0;
  std::vector<double> y_;
  std::vector<double> vy_;
};

/// Pulses from the first mark after standstill or start to the motion's end.
inline whirler::tach::PulseTrain pulses_of(const Spinner& spinner, std::mt19937_64& random) {
  whirler::tach::PulseTrain out;
  out.tick = whirler::seconds(spinner.tick_s);
  std::normal_distribution<double> normal;
  const bool whirls = spinner.whirls && spinner.mount.unbalance_kg_m != 0.0;
  // The index mark stands at the sensor when the shaft has turned by 0.1 rad.
  constexpr double kFirst = 0.1;
  const Whirl whirl(whirls ? spinner.motion : Motion{{0.0, 0.0}, {1.0, 1.0}}, spinner.mount,
                    -kFirst);
  std::vector<Whirl> more;
  for (const Mount& mount : spinner.more)
    more.emplace_back(spinner.motion, mount, -kFirst);
  double t = 0.0;
  double w_mark = std::max(spinner.motion.omega(0.0), 0.5);
  for (std::int64_t n = 0;; ++n) {
    const auto k = static_cast<int>((n + spinner.first_mark) % spinner.marks);
    const double psi = 2.0 * kPi * static_cast<double>(n + spinner.first_mark) / spinner.marks;
    const double turn = 2.0 * kPi * k / spinner.marks;
    const double noise = spinner.noise_rad * normal(random);
    const double pitch =
        spinner.pattern.empty() ? 0.0 : spinner.pattern[static_cast<std::size_t>(k)];
    // The index mark stands at the sensor at angle 0, so the shaft has turned psi when mark k
    // comes.
    for (int step = 0; step < 30; ++step) {
      const double w = spinner.motion.omega(t);
      double late = pitch + noise + std::real(spinner.steady * std::polar(1.0, -turn));
      if (std::norm(spinner.tilt) > 0.0)
        late += std::real(spinner.tilt * std::polar(1.0, -turn)) / std::max(w * w, 100.0);
      if (whirls)
        late -= whirl.y(t) / spinner.mount.mark_radius_m;
      for (std::size_t i = 0; i < more.size(); ++i)
        late -= more[i].y(t) / spinner.more[i].mark_radius_m;
      const double miss = spinner.motion.angle(t) - (psi + late + kFirst);
      t -= miss / std::max(w, 0.3 * w_mark);
      if (std::abs(miss) < 1e-10)
        break;
      t = std::max(t, 0.0);
    }
    if (t > spinner.motion.end_s())
      break;
    w_mark = std::max(spinner.motion.omega(t), 0.5);
    const double seen = t + spinner.noise_s * normal(random);
    out.ticks.push_back(std::llround(seen / spinner.tick_s));
    if (spinner.with_index)
      out.marks.push_back(static_cast<std::int16_t>(k));
  }
  return out;
}

} // namespace pulse_maker
