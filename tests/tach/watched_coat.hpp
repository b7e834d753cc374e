// Coats as a running watch meets them, and the bench that they run on.
#pragma once

#include "pulse_maker.hpp"
#include "whirler/tach/live_watch.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <span>

namespace whirler::test {

/// A bench with mount and masses in its file: 15 Hz, 600 g on it, a rotor of 324 g, marks at 15 mm.
inline tach::SpinnerModel calibrated_bench(int marks = 6) {
  tach::SpinnerModel model;
  model.marks_per_turn = marks;
  model.natural = hertz(15);
  model.mark_radius = millimetres(15);
  model.moving_mass = grams(600);
  model.rotor_mass = grams(324);
  return model;
}

/// All but its motion: hand-made marks, a loop that hunts, an axis that is not plumb; an index on
/// every second seed.
inline pulse_maker::Spinner coated(int marks, double unbalance_g_mm, double natural_hz,
                                   double damping, std::uint64_t seed, std::mt19937_64& random) {
  pulse_maker::Spinner spinner;
  spinner.marks = marks;
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.hunting = 0.002;
  spinner.noise_rad = 2e-4;
  spinner.with_index = seed % 2 == 0;
  spinner.pattern = pulse_maker::random_pattern(marks, 8e-3, random);
  spinner.tilt = std::polar(1.0, 0.3 * static_cast<double>(seed));
  spinner.mount.unbalance_kg_m = unbalance_g_mm * 1e-6;
  spinner.mount.natural_hz = natural_hz;
  spinner.mount.damping = damping;
  return spinner;
}

/// Jeffcott's steady whirl of `unbalance_kg_m` on this mount, as an angle at the marks, rad.
inline double steady_amplitude_rad(const pulse_maker::Mount& m, double unbalance_kg_m,
                                   double speed_rpm) {
  const double r = speed_rpm / 60.0 / m.natural_hz;
  return unbalance_kg_m / m.moving_kg / m.mark_radius_m * r * r /
         std::hypot(1.0 - r * r, 2.0 * m.damping * r);
}

/// Batches of ten pulses, as they come from a line; after each `ask(seconds)`, until it is true.
template <class Ask>
bool feed_in_tens(tach::LiveWatch& watch, const tach::PulseTrain& train, Ask ask) {
  for (std::size_t i = 0; i < train.size(); i += 10) {
    const std::size_t n = std::min<std::size_t>(10, train.size() - i);
    watch.feed(std::span(train.ticks).subspan(i, n), train.marks.empty()
                                                         ? std::span<const std::int16_t>()
                                                         : std::span(train.marks).subspan(i, n));
    if (ask(static_cast<double>(train.ticks[i]) * train.tick.s()))
      return true;
  }
  return false;
}

} // namespace whirler::test
