#include "whirler/tach/acceleration.hpp"

#include "acceleration_doubts.hpp"
#include "complex_vector.hpp"
#include "dwell_fit.hpp"
#include "named_mount.hpp"
#include "survey.hpp"
#include "vector_steps.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

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

/// Divides by what a sine of amplitude 1 and of the same phase came out as.
void rescale(AccelerationFigure& out, const AccelerationFigure& pure) {
  const Complex gain = pure.vector_m_s2 * std::polar(1.0, -std::arg(out.vector_m_s2));
  out.vector_m_s2 /= gain;
  out.spread_m_s2 /= std::abs(gain);
  out.low_m_s2 /= std::abs(gain);
  out.high_m_s2 /= std::abs(gain);
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

/// The turn's own frequency alone, at the same times: what the places between samples make of it.
AccelerationTrack pure_turn(const AccelerationTrack& track, std::span<const double> begins_s,
                            double phase) {
  AccelerationTrack out = track;
  TurnOf turns(begins_s);
  for (std::size_t i = 0; i < track.at.size(); ++i)
    out.m_s2[i] = std::cos(kTwoPi * turns.share(track.at[i].s()) - phase);
  return out;
}

/// Nothing where a turn is left out.
std::vector<Complex> vectors_of(const TurnRows& rows, const std::vector<bool>& left_out) {
  std::vector<Complex> out(rows.turns());
  for (std::size_t i = 0; i < out.size(); ++i)
    if (!left_out[i])
      out[i] = {rows.turn(i)[1], rows.turn(i)[2]};
  return out;
}

/// Whether the vector steps: a wire that broke, a clip that slipped, a plate that moved.
bool jumps(const DwellFit& fit, const AccelerationFigure& whole) {
  constexpr double kOfAll = 0.2; // less is within what the sensor's scale is good for
  const auto steps = steps_of(fit, 0);
  return std::any_of(steps.begin(), steps.end(), [&](const VectorStep& step) {
    return step.change.amplitude().rad() > kOfAll * std::abs(whole.vector_m_s2);
  });
}

/// What of the samples, or of the fit, is not as a sound sensor gives it.
struct Signs {
  AtTheEnds ends;
  GoesAway away;
  bool jumped = false;
  std::optional<double> creep;
};

Signs signs_of(const TurnSamples& samples, const TurnRows& rows, const std::vector<bool>& left_out,
               bool jumped) {
  const auto vectors = vectors_of(rows, left_out);
  Signs out{at_the_ends(samples), goes_away(vectors), jumped, creep_of(vectors)};
  if (out.ends.share == 0.0)
    out.ends = flat_tops(samples, left_out);
  return out;
}

std::optional<AccelerationDoubt> doubt_of(const Signs& signs) {
  if (signs.jumped)
    return AccelerationDoubt{"its once per turn jumps within the stretch: a wire or a clip came "
                             "loose, or the plate moved",
                             "check its wire and how it is fixed, and the plate's screw"};
  if (signs.away.share > 0.0)
    return AccelerationDoubt{"its once per turn goes away in " +
                                 number_text(100.0 * signs.away.share, 2) +
                                 " % of the turns, as where a contact is lost now and then",
                             "check its wire and how it is fixed"};
  if (signs.creep)
    return AccelerationDoubt{
        "its once per turn creeps against the pulses by " + number_text(100.0 * *signs.creep, 2) +
            " % of the speed: the two clocks differ, or something else turns nearly as fast",
        "record pulses and samples on one clock"};
  if (signs.ends.share > 0.0)
    return AccelerationDoubt{number_text(100.0 * signs.ends.share, 2) +
                                 " % of its samples are at the end of its range",
                             "set a wider range, or run slower"};
  return std::nullopt;
}

/// The interval holds what each part of the stretch says, and what a range may have cut off.
void widen(AccelerationFigure& out, const Signs& signs, const DwellFit& fit, double scale) {
  out.high_m_s2 = std::max(out.high_m_s2, scale * signs.away.usually);
  if (signs.jumped)
    for (const BlockVector& part : fit.blocks) {
      out.low_m_s2 = std::min(out.low_m_s2, part.vector.amplitude().rad());
      out.high_m_s2 = std::max(out.high_m_s2, part.vector.amplitude().rad());
    }
  out.high_m_s2 /= signs.ends.kept();
}

AccelerationFigure as_acceleration(const OrderOne& figure) { // a radian stands for a m/s^2
  AccelerationFigure out;
  out.vector_m_s2 = as_complex(figure.vector);
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
  std::vector<double> begins_s;
  for (std::size_t turn = dwell.from; turn <= dwell.to; ++turn)
    begins_s.push_back(origin_s + part.begins()[turn]);
  const TurnSamples samples{&track, begins_s};
  if (stands_still(samples))
    return input_fault("its samples are all one value, " +
                           number_text(value_at(track, begins_s.front())) + " m/s2",
                       "acceleration",
                       "check the sensor, its wire and its axis: a live one shows "
                       "noise at least");
  const std::vector<bool> left_out = without_samples(samples);
  const auto gone = static_cast<std::size_t>(std::count(left_out.begin(), left_out.end(), true));
  if (dwell.turns() - gone < kLeastTurns)
    return input_fault("its samples have gaps in all turns but " +
                           std::to_string(dwell.turns() - gone),
                       "acceleration", "record without gaps, five samples a turn or more");
  const TurnBasis basis(std::min(a_turn, kMostPlaces));
  const TurnRows rows = rows_of(basis, part, dwell, origin_s, track);
  const DwellFit fit = fit_rows(basis, rows, left_out);
  AccelerationFigure out = as_acceleration(figure_of(fit, basis));
  const Signs signs = signs_of(samples, rows, left_out, jumps(fit, out));
  widen(out, signs, fit, 1.0 / basis.order_one_scale);
  const AccelerationTrack pure = pure_turn(track, begins_s, std::arg(out.vector_m_s2));
  const TurnRows pure_rows = rows_of(basis, part, dwell, origin_s, pure);
  rescale(out, as_acceleration(figure_of(fit_rows(basis, pure_rows, left_out), basis)));
  out.turns = dwell.turns() - gone;
  out.left_out = gone;
  out.doubt = doubt_of(signs);
  return out;
}

std::optional<VelocityInterval> velocity_of(const AccelerationFigure& figure,
                                            const SpinnerModel& model) {
  if (!model.natural || !model.moving_mass || !model.rotor_mass)
    return std::nullopt;
  constexpr double kScale = 0.05;
  const double w = figure.speed.rad_per_s();
  const Bounded far = far_above({figure.low_m_s2, std::abs(figure.vector_m_s2), figure.high_m_s2},
                                model, w, kScale);
  const double to_velocity = model.moving_mass->kg() / (w * model.rotor_mass->kg());
  return VelocityInterval{metres_per_s(to_velocity * far.low),
                          metres_per_s(to_velocity * far.estimate),
                          metres_per_s(to_velocity * far.high)};
}

} // namespace whirler::tach
