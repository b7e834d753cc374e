#include "whirler/plant/mark_sensor.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::plant {
namespace {

/// Cubic through value and rate at both ends of [0, h].
struct Cubic {
  double p0, m0, p1, m1; ///< values, and rates times h

  [[nodiscard]] double at(double u) const {
    const double u2 = u * u;
    const double u3 = u2 * u;
    return (2 * u3 - 3 * u2 + 1) * p0 + (u3 - 2 * u2 + u) * m0 + (3 * u2 - 2 * u3) * p1 +
           (u3 - u2) * m1;
  }
};

/// Where in [0, 1] the cubic reaches `goal`, which lies between its ends: regula falsi with the
/// bracket kept, good to 1e-12 of the step.
double reaches(const Cubic& cubic, double goal) {
  double a = 0.0;
  double b = 1.0;
  double fa = cubic.p0 - goal;
  double fb = cubic.p1 - goal;
  double u = 0.5;
  for (int i = 0; i < 60 && b - a > 1e-12; ++i) {
    u = i % 3 == 2 ? 0.5 * (a + b) : a - fa * (b - a) / (fb - fa);
    const double f = cubic.at(u) - goal;
    if (std::abs(f) < 1e-15)
      break;
    (f < 0.0 ? a : b) = u;
    (f < 0.0 ? fa : fb) = f;
  }
  return u;
}

} // namespace

std::vector<Angle> pitch_pattern(int per_turn, Angle rms, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  std::vector<double> raw(static_cast<std::size_t>(per_turn));
  for (double& error : raw)
    error = normal(random);
  double mean = 0.0;
  for (const double error : raw)
    mean += error / per_turn;
  double square = 0.0;
  for (double& error : raw) {
    error -= mean;
    square += error * error / per_turn;
  }
  std::vector<Angle> pattern;
  for (const double error : raw)
    pattern.push_back(square > 0.0 ? rms * (error / std::sqrt(square)) : radians(0.0));
  return pattern;
}

MarkSensor::MarkSensor(const MarkModel& model, std::uint64_t seed, SeenAngle at)
    : pitch_(static_cast<std::size_t>(std::max(model.per_turn, 1)), 0.0), noise_(model.noise.rad()),
      random_(seed), last_(at) {
  for (std::size_t i = 0; i < std::min(pitch_.size(), model.pitch_error.size()); ++i)
    pitch_[i] = model.pitch_error[i].rad();
  while (next_angle() <= last_.angle)
    expect_next();
}

double MarkSensor::next_angle() const {
  const double part = static_cast<double>(mark_) / static_cast<double>(pitch_.size());
  return kRadPerTurn * (static_cast<double>(turn_) + part) +
         pitch_[static_cast<std::size_t>(mark_)] + noise_of_next_;
}

void MarkSensor::expect_next() {
  if (++mark_ == static_cast<int>(pitch_.size())) {
    mark_ = 0;
    ++turn_;
  }
  noise_of_next_ = noise_ > 0.0 ? noise_ * normal_(random_) : 0.0;
}

void MarkSensor::advance(Duration dt, SeenAngle now, std::vector<MarkPulse>& pulses) {
  const double h = dt.s();
  const Cubic path{last_.angle, last_.rate * h, now.angle, now.rate * h};
  while (next_angle() <= now.angle) {
    const double goal = next_angle();
    const double part = goal <= last_.angle ? 0.0 : reaches(path, goal);
    last_pulse_s_ = std::max(last_pulse_s_, now_s_ + part * h); // edges do not overtake
    pulses.push_back({seconds(last_pulse_s_), mark_});
    expect_next();
  }
  now_s_ += h;
  last_ = now;
}

} // namespace whirler::plant
