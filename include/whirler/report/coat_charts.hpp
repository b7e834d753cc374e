// The charts of a coat: speed, film and vibration over its time; the mount's answer over speed.
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/film/thinning.hpp"
#include "whirler/report/chart.hpp"
#include "whirler/tach/order_one.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/speed_curve.hpp"

#include <functional>
#include <optional>
#include <span>

namespace whirler::report {

/// Speed over time, asked and run.
struct SpeedRecord {
  SpeedCurve asked;
  SpeedCurve run;
  std::optional<Speed> limit;
};
[[nodiscard]] Chart speed_chart(const SpeedRecord& record);

/// The once-per-turn figure of a piece of the run, about `at`.
struct JitterPoint {
  Duration at;
  Speed speed;
  Angle amplitude;
  tach::AngleInterval interval; ///< 95 %
  std::optional<Angle> phase;
};

struct JitterLevels {
  std::optional<Angle> watch;
  std::optional<Angle> stop;
};
/// Amplitude over time with its interval and limits; the same axis of time as the speed's.
[[nodiscard]] Chart jitter_chart(std::span<const JitterPoint> points, const JitterLevels& levels,
                                 Duration end);

/// Wet film and solids over time, thickness in decades; `expected` is the dry film with its 95 %
/// interval at the end.
[[nodiscard]] Chart film_chart(std::span<const film::TracePoint> trace,
                               const std::optional<film::Estimate>& expected);

/// The dry film of one spin: its mean with its 95 % interval, and centre and edge where the model
/// looked across; else the film is even, and its line is flat.
struct RadiusRecord {
  film::Estimate film;
  std::optional<Length> centre;
  std::optional<Length> edge;
  Length radius;
  std::optional<Length> turbulent_from;
};
/// From the axis to the farthest point of the plate, with where the air turns turbulent.
[[nodiscard]] Chart radius_chart(const RadiusRecord& record);

/// What a fitted mount answers at a speed.
struct Response {
  Angle amplitude;
  Angle phase;
};
/// Amplitude and phase over speed, measured and fitted: two charts to stand above each other.
struct ResponseCharts {
  Chart amplitude;
  Chart phase;
};
[[nodiscard]] ResponseCharts response_charts(std::span<const JitterPoint> measured,
                                             const std::function<Response(Speed)>& fitted);

} // namespace whirler::report
