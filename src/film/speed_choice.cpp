#include "whirler/film/speed_choice.hpp"

#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::film {
namespace {

/// The hard bounds, each with the words that name it.
struct Range {
  Speed slowest = kSlowest;
  Speed fastest = kFastest;
  std::string slow_why = "the slowest speed that the estimate holds for";
  std::string fast_why = "the fastest speed that the estimate holds for";
};

Range hard_range(std::span<const SpeedLimit> limits) {
  Range range;
  for (const SpeedLimit& limit : limits) {
    if (limit.hard && limit.highest && limit.speed < range.fastest) {
      range.fastest = limit.speed;
      range.fast_why = limit.why;
    }
    if (limit.hard && !limit.highest && limit.speed > range.slowest) {
      range.slowest = limit.speed;
      range.slow_why = limit.why;
    }
  }
  return range;
}

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 4) + " rpm"; }
std::string um_text(Length length) { return number_text(length.um()) + " um"; }

Fault no_speed_left(const Range& range) {
  return input_fault("no speed is left: " + range.fast_why + " is " + rpm_text(range.fastest) +
                         ", " + range.slow_why + " is " + rpm_text(range.slowest),
                     "", "balance the plate better, or use another machine");
}

Fault impossible(Length target, const Range& range, const Estimate& thinnest,
                 const Estimate& thickest) {
  const bool too_thin = target < thinnest.thickness;
  const Estimate& nearest = too_thin ? thinnest : thickest;
  const Speed end = too_thin ? range.fastest : range.slowest;
  return input_fault("no allowed speed gives " + um_text(target) + ": " +
                         (too_thin ? range.fast_why : range.slow_why) + ", " + rpm_text(end) +
                         ", gives " + um_text(nearest.thickness) + " (" +
                         number_text(nearest.low.um()) + " to " + um_text(nearest.high) + ")",
                     "",
                     "possible here: " + um_text(thinnest.thickness) + " to " +
                         um_text(thickest.thickness) +
                         (too_thin ? "; for less, take a thinner or a thinned liquid"
                                   : "; for more, take a thicker liquid or a second coat"));
}

/// The slow end, moved up where the curve has no answer there: a film that takes hours to set.
Result<Estimate> thickest_at(const FilmCurve& curve, Range& range) {
  constexpr double kStride = 1.25;
  auto film = curve(range.slowest);
  while (!film && kStride * range.slowest < range.fastest) {
    range.slowest = kStride * range.slowest;
    range.slow_why = "the slowest speed at which the film still sets";
    film = curve(range.slowest);
  }
  return film;
}

/// Halves the interval of the logarithm; the curve falls with speed.
Result<Speed> inverted(const FilmCurve& curve, Length target, const Range& range) {
  constexpr int kHalvings = 48; // far below a hundredth of an rpm
  double slow = std::log(range.slowest.rpm());
  double fast = std::log(range.fastest.rpm());
  for (int i = 0; i < kHalvings; ++i) {
    const double middle = 0.5 * (slow + fast);
    const auto film = curve(rpm(std::exp(middle)));
    if (!film)
      return film.fault();
    (film->thickness > target ? slow : fast) = middle;
  }
  return rpm(std::exp(0.5 * (slow + fast)));
}

std::optional<std::size_t> binding_limit(std::span<const SpeedLimit> limits, Speed chosen) {
  std::optional<std::size_t> nearest;
  double least = 0.0;
  for (std::size_t i = 0; i < limits.size(); ++i) {
    const double ratio = limits[i].speed / chosen;
    const double room = limits[i].highest ? std::log(ratio) : -std::log(ratio);
    if (!nearest || room < least) {
      nearest = i;
      least = room;
    }
  }
  return nearest;
}

} // namespace

Result<SpeedChoice> choose_speed(const FilmCurve& curve, Length target,
                                 std::span<const SpeedLimit> limits) {
  if (!(target.um() > 0.0) || !target.is_finite())
    return input_fault("a target of " + um_text(target), "", "give a thickness above 0, as 1.4um");
  Range range = hard_range(limits);
  if (!(range.slowest < range.fastest))
    return no_speed_left(range);
  const auto thinnest = curve(range.fastest);
  if (!thinnest)
    return thinnest.fault();
  const auto thickest = thickest_at(curve, range);
  if (!thickest)
    return thickest.fault();
  constexpr double kRounding = 1e-9; // a target that is the bound's own film is possible
  if (target < (1.0 - kRounding) * thinnest->thickness ||
      target > (1.0 + kRounding) * thickest->thickness)
    return impossible(target, range, *thinnest, *thickest);
  const auto speed = inverted(curve, target, range);
  if (!speed)
    return speed.fault();
  const auto film = curve(*speed);
  if (!film)
    return film.fault();
  SpeedChoice choice{*speed, *film, binding_limit(limits, *speed), {}};
  for (std::size_t i = 0; i < limits.size(); ++i)
    if (!limits[i].hard && limits[i].highest == (*speed > limits[i].speed) &&
        *speed != limits[i].speed)
      choice.passed.push_back(i);
  return choice;
}

} // namespace whirler::film
