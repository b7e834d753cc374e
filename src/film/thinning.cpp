#include "whirler/film/thinning.hpp"

#include "whirler/film/column_path.hpp"
#include "whirler/film/radial_story.hpp"
#include "whirler/film/thinning_across.hpp"
#include "whirler/film/thinning_history.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film {
namespace thinning {
namespace {

constexpr double kRampMatters = 1.05;

Outcome check_pour(const Pour& pour) {
  if (!(pour.thickness.m() > 0.0) || !pour.thickness.is_finite())
    return input_fault("the pour is " + number_text(pour.thickness.um()) + " um thick", "",
                       "give a wet thickness above 0");
  if (pour.dome && !(*pour.dome >= 0.7 && *pour.dome <= 10.0))
    return input_fault("the pour is " + number_text(*pour.dome) +
                           " times as deep in the middle as at its edge",
                       "", "give a ratio from 0.7 to 10");
  return Done{};
}

Outcome check_plate(const Plate& plate, const Pour& pour) {
  const double radius = plate.radius ? plate.radius->m() : 1.0;
  if (!(radius > 0.0) || !std::isfinite(radius))
    return input_fault("the plate has no radius", "", "give its size");
  if (plate.screw && !(plate.screw->m() >= 0.0 && plate.screw->m() < radius))
    return input_fault("a screw of " + number_text(2.0 * plate.screw->mm()) +
                           " mm across leaves nothing of the plate",
                       "", "give the diameter of the screw's head or washer");
  if (plate.screw && !plate.radius)
    return input_fault("a screw needs the size of the plate beside it", "", "name the blank");
  if (pour.puddle && !plate.radius)
    return input_fault("a puddle needs the size of the plate beside it", "", "name the blank");
  if (pour.puddle && !(pour.puddle->m() > 0.0))
    return input_fault("the puddle has no radius", "", "give the radius that the pour covers");
  return Done{};
}

Result<Task> prepare(const Resist& resist, const SpeedCurve& curve,
                     const Environment& environment) {
  auto label = read_label(resist, environment.air, environment.plate.heat);
  if (!label)
    return label.fault();
  auto pieces = pieces_of(curve);
  if (!pieces)
    return pieces.fault();
  if (!(top_omega(*pieces) > 0.0))
    return input_fault("the spindle never turns", "", "give the profile a speed above 0");
  if (auto checked = check_pour(environment.pour); !checked)
    return checked.fault();
  if (auto checked = check_plate(environment.plate, environment.pour); !checked)
    return checked.fault();
  return Task{std::move(*label), std::move(*pieces), environment};
}

Fault no_film() {
  return {FaultKind::program, "the film's equations found no way on", "",
          "please report the resist and the profile"};
}

} // namespace

double dry_film_m(const Label& label, std::span<const Piece> pieces, double pour_m, double accuracy,
                  double radius_m) {
  if (label.power) {
    Uneven even;
    even.pour_m = pour_m;
    even.radius_m = radius_m;
    const auto story = radial_story(label, pieces, even, accuracy);
    return story ? story->points.back().dry_mean_m : -1.0;
  }
  return with_closures(label, [&](const auto& closures) {
    using Film = Column<std::decay_t<decltype(closures)>>;
    Film column(closures);
    auto y = column.start(pour_m);
    return finish(column, pieces, y, accuracy) ? Film::dry_m(y) : -1.0;
  });
}

} // namespace thinning

using namespace thinning;

Result<Length> dry_film(const Resist& resist, const SpeedCurve& curve,
                        const Environment& environment) {
  auto task = prepare(resist, curve, environment);
  if (!task)
    return task.fault();
  const double dry_m =
      dry_film_m(task->label, task->pieces, environment.pour.thickness.m(), kAccuracy,
                 environment.plate.radius.value_or(metres(kUsualRadius_m)).m());
  if (!(dry_m > 0.0))
    return no_film();
  return metres(dry_m);
}

namespace {

std::optional<Duration> maybe_seconds(const std::optional<double>& s) {
  return s ? std::optional<Duration>(seconds(*s)) : std::nullopt;
}

/// Of a puddle: its own depth. An even puddle is a column from the start, before and after its
/// front reaches the rim.
std::optional<ColumnStory> story_of(const Task& task) {
  const Environment& e = task.environment;
  if (!task.label.power)
    return column_story(task.label, task.pieces, e.pour.thickness.m(), kAccuracy);
  Uneven uneven;
  uneven.pour_m = e.pour.thickness.m();
  uneven.dome = e.pour.dome.value_or(1.0);
  uneven.radius_m = e.plate.radius.value_or(metres(kUsualRadius_m)).m();
  return power_story(task.label, task.pieces, uneven, kAccuracy);
}

ThinningResult from_story(const ColumnStory& story, std::span<const Piece> pieces) {
  ThinningResult result;
  result.dry.mean = metres(story.end.dry_m);
  result.wet.mean = metres(story.end.wet_m);
  result.is_set = story.is_set;
  result.set_time = maybe_seconds(story.set_s);
  result.needed_dwell = maybe_seconds(story.needed_dwell_s);
  result.dwell = seconds(story.top_until_s - story.top_from_s);
  result.flow_left = story.flow_left;
  result.ramp_ratio = story.end.dry_m / story.straight_dry_m;
  result.ramp_sets_film = result.ramp_ratio > kRampMatters;
  result.top_speed = rad_per_s(top_omega(pieces));
  result.coldest = kelvin(story.coldest_K);
  for (const FilmPoint& p : story.points)
    result.trace.push_back({seconds(p.t), rad_per_s(omega_at(pieces, p.t)), metres(p.wet_m),
                            metres(p.dry_m), p.dry_m / p.wet_m, kelvin(p.T_K), std::nullopt,
                            std::nullopt});
  return result;
}

} // namespace

Result<ThinningResult> estimate(const Resist& resist, const SpeedCurve& curve,
                                const Environment& environment) {
  auto task = prepare(resist, curve, environment);
  if (!task)
    return task.fault();
  const auto story = story_of(*task);
  if (!story)
    return no_film();
  ThinningResult result = from_story(*story, task->pieces);
  result.across_why = "the pour is taken as even, and an even film stays even";
  result.warnings = label_warnings(resist, task->label);
  if (asks_for_radius(*task))
    if (auto looked = look_across(*task, result); !looked)
      return looked.fault();
  say_what_is_unseen(*task, result);
  // Dry to the last of the accuracy, the solvent may come out a rounding below nothing.
  if (*result.wet.mean < *result.dry.mean)
    result.wet.mean = result.dry.mean;
  return result;
}

TracePoint ThinningResult::after(Duration time) const {
  const auto next = std::upper_bound(trace.begin(), trace.end(), time,
                                     [](Duration t, const TracePoint& p) { return t < p.at; });
  if (next == trace.begin())
    return trace.front();
  if (next == trace.end())
    return trace.back();
  const TracePoint& a = *(next - 1);
  const TracePoint& b = *next;
  const double x = (time - a.at) / (b.at - a.at);
  TracePoint p = a;
  p.at = time;
  p.speed = a.speed + x * (b.speed - a.speed);
  p.wet = a.wet + x * (b.wet - a.wet);
  p.dry = a.dry + x * (b.dry - a.dry);
  p.solids_volume_share += x * (b.solids_volume_share - a.solids_volume_share);
  p.film = kelvin(a.film.kelvin() + x * (b.film.kelvin() - a.film.kelvin()));
  if (a.unevenness && b.unevenness)
    p.unevenness = *a.unevenness + x * (*b.unevenness - *a.unevenness);
  if (a.dry_centre && b.dry_centre)
    p.dry_centre = *a.dry_centre + x * (*b.dry_centre - *a.dry_centre);
  return p;
}

} // namespace whirler::film
