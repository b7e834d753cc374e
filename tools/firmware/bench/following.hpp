// How well the rotor follows a program: figures from the true speed of the simulated rotor, on the
// chip's clock, not from what the driver believes.
#pragma once

#include "stand.hpp"

#include <string>
#include <vector>

namespace bench {

struct DwellFigures {
  double target_rpm = 0.0;
  double mean_error_percent = 0.0; ///< over the dwell
  double overshoot_percent = 0.0;  ///< furthest past the target, in the ramp's direction
  double length_s = 0.0;
  double length_error_ms = 0.0; ///< of the dwell, against the program
  double late_ms = 0.0;         ///< its beginning, against the program's timeline
};

struct Following {
  std::string rotor;
  std::vector<DwellFigures> dwells;
  std::vector<TracePoint> trace;
  std::vector<std::pair<double, double>> target; ///< s since power-up, rpm; as reported
  whirler::link::Latch ended = whirler::link::Latch::none;
  bool all_pulses_heard = false;
};

/// Runs the program on that stand.
[[nodiscard]] Following follow(const std::string& rotor, const StandModel& model,
                               const std::vector<whirler::link::Segment>& program,
                               whirler::Ramp stop_slope);

/// 500 rpm at 500 rpm/s for 3 s, 3000 at 1000 for 6 s, 1500 at 1000 for 3 s, 4000 at 800 for 4 s.
[[nodiscard]] std::vector<whirler::link::Segment> long_program();

/// The bare hub with a small plate, and with the heaviest that the plain machine takes.
[[nodiscard]] whirler::Inertia light_rotor();
[[nodiscard]] whirler::Inertia heavy_rotor();

[[nodiscard]] std::string to_text(const Following& following);
/// True speed and target of several runs over time.
[[nodiscard]] std::string drawing(const std::vector<Following>& runs);

} // namespace bench
