#include "whirler/tach/acceleration.hpp"

#include "dwell_fit.hpp"
#include "mount_motion.hpp"
#include "survey.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr std::size_t kFewestSamples = 5; ///< a turn
constexpr std::size_t kMostPlaces = 24;   ///< of a turn that values are taken at

std::optional<Fault> fault_of(const AccelerationTrack& track) {
  const auto unusable = [](const char* what, const char* next) {
    return input_fault(what, "acceleration", next);
  };
  if (track.at.size() != track.m_s2.size())
    return unusable("not as many times as samples", "give one time a sample");
  for (std::size_t i = 0; i < track.at.size(); ++i) {
    if (!track.at[i].is_finite() || !std::isfinite(track.m_s2[i]))
      return unusable("a sample is not finite", "take it out");
    if (i > 0 && !(track.at[i] > track.at[i - 1]))
      return unusable("the times do not rise", "give the samples in order of time");
  }
  return std::nullopt;
}

/// Between samples: the cubic through the four about it (a straight line would make the turn's own
/// frequency smaller by a per cent at 18 samples a turn).
double value_at(const AccelerationTrack& track, double time_s) {
  const auto after = std::lower_bound(track.at.begin(), track.at.end(), seconds(time_s));
  const auto i = static_cast<std::size_t>(after - track.at.begin());
  const std::size_t from = std::min(i > 2 ? i - 2 : 0, track.at.size() - 4);
  double sum = 0.0;
  for (std::size_t j = from; j < from + 4; ++j) {
    double weight = 1.0;
    for (std::size_t m = from; m < from + 4; ++m)
      if (m != j)
        weight *= (time_s - track.at[m].s()) / (track.at[j] - track.at[m]).s();
    sum += weight * track.m_s2[j];
  }
  return sum;
}

/// Turns of the dwell that lie within the samples.
Dwell covered(const Survey::Part& part, Dwell dwell, double origin_s,
              const AccelerationTrack& track) {
  const TurnBegins begins = part.begins();
  while (dwell.from < dwell.to && origin_s + begins[dwell.from] < track.at.front().s())
    ++dwell.from;
  while (dwell.from < dwell.to && origin_s + begins[dwell.to] > track.at.back().s())
    --dwell.to;
  return dwell;
}

/// Values at even angles in place of lateness: what follows is the same fit.
TurnRows rows_of(const TurnBasis& basis, const Survey::Part& part, const Dwell& dwell,
                 double origin_s, const AccelerationTrack& track) {
  TurnRows out;
  out.rows = basis.rows;
  out.slope.assign(dwell.turns(), 0.0);
  out.values.assign(dwell.turns() * basis.rows, 0.0);
  out.beyond_rows.assign(basis.marks, 0.0);
  const TurnBegins begins = part.begins();
  const double first = begins[dwell.from];
  for (std::size_t i = dwell.from; i < dwell.to; ++i) {
    const double length = begins[i + 1] - begins[i];
    out.knots.push_back(begins[i] - first);
    out.speed.push_back(kTwoPi / length);
    double* row = out.values.data() + (i - dwell.from) * basis.rows;
    for (std::size_t k = 0; k < basis.marks; ++k) {
      const double share = static_cast<double>(k) / static_cast<double>(basis.marks);
      const double value = value_at(track, origin_s + begins[i] + share * length);
      for (std::size_t r = 0; r < basis.rows; ++r)
        row[r] += basis.transform[k][r] * value;
    }
  }
  out.knots.push_back(begins[dwell.to] - first);
  return out;
}

AccelerationFigure as_acceleration(const OrderOne& figure) { // a radian stands for a m/s^2
  AccelerationFigure out;
  out.vector_m_s2 = {figure.vector.re.rad(), figure.vector.im.rad()};
  out.spread_m_s2 = std::sqrt(figure.covariance.largest());
  out.low_m_s2 = figure.interval.low.rad();
  out.high_m_s2 = figure.interval.high.rad();
  out.p_value = figure.p_value;
  out.speed = figure.speed;
  out.turns = figure.turns;
  return out;
}

} // namespace

Result<AccelerationFigure> order_one(const PulseTrain& pulses, int marks_per_turn,
                                     const AccelerationTrack& track) {
  if (const auto fault = fault_of(track))
    return *fault;
  const auto survey = survey_of(pulses, marks_per_turn);
  if (!survey)
    return survey.fault();
  const auto place = fastest_dwell(*survey);
  if (!place || track.at.size() < kFewestSamples)
    return input_fault("no steady speed, or no samples", "acceleration",
                       "hold one speed for a second or more");
  const Survey::Part& part = survey->parts[place->part];
  const double origin_s = static_cast<double>(part.slots.ticks.front()) * pulses.tick.s();
  const Dwell dwell = covered(part, place->dwell, origin_s, track);
  if (dwell.turns() < kLeastTurns)
    return input_fault("the samples cover only " + std::to_string(dwell.turns()) +
                           " turns of the steady speed",
                       "acceleration", "record both on one clock, and for longer");
  const auto sample = [&](std::size_t turn) {
    return std::lower_bound(track.at.begin(), track.at.end(),
                            seconds(origin_s + part.begins()[turn])) -
           track.at.begin();
  };
  const auto a_turn =
      static_cast<std::size_t>(sample(dwell.to) - sample(dwell.from)) / dwell.turns();
  if (a_turn < kFewestSamples)
    return input_fault(std::to_string(a_turn) + " samples a turn are too few", "acceleration",
                       "sample faster: five times a turn or more");
  const TurnBasis basis(std::min(a_turn, kMostPlaces));
  const DwellFit fit = fit_rows(basis, rows_of(basis, part, dwell, origin_s, track));
  return as_acceleration(figure_of(fit, basis));
}

std::optional<VelocityInterval> velocity_of(const AccelerationFigure& figure,
                                            const SpinnerModel& model) {
  if (!model.natural || !model.moving_mass || !model.rotor_mass)
    return std::nullopt;
  const double w = figure.speed.rad_per_s();
  std::vector<double> dampings{0.06, 0.01, 0.03, 0.12, 0.3};
  if (model.damping)
    dampings.assign(1, std::clamp(*model.damping, 0.002, 0.7));
  VelocityInterval out{metres_per_s(1e300), metres_per_s(0.0), metres_per_s(0.0)};
  for (std::size_t i = 0; i < dampings.size(); ++i) {
    const double gain = std::abs(steady_gain({kTwoPi * model.natural->Hz(), dampings[i]}, w));
    const double by = model.moving_mass->kg() / (w * gain * model.rotor_mass->kg());
    out.low = std::min(out.low, metres_per_s(figure.low_m_s2 * by));
    out.high = std::max(out.high, metres_per_s(figure.high_m_s2 * by));
    if (i == 0)
      out.estimate = metres_per_s(std::abs(figure.vector_m_s2) * by);
  }
  return out;
}

} // namespace whirler::tach
