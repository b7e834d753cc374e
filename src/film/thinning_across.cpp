#include "whirler/film/thinning_across.hpp"

#include "whirler/film/radial_story.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film::thinning {
namespace {

constexpr double kEven = 1e-3; // (thickest - thinnest)/mean under which the model calls it even

Uneven uneven_of(const Task& task) {
  const Pour& pour = task.environment.pour;
  const Plate& plate = task.environment.plate;
  Uneven uneven;
  uneven.pour_m = pour.thickness.m();
  uneven.dome = pour.dome.value_or(1.0);
  uneven.knows_radius = plate.radius.has_value();
  uneven.radius_m = plate.radius ? plate.radius->m() : kUsualRadius_m;
  uneven.screw_m = plate.screw ? plate.screw->m() : 0.0;
  if (pour.puddle)
    uneven.puddle_share = std::min(1.0, *pour.puddle / metres(uneven.radius_m));
  return uneven;
}

double unevenness(const AcrossPoint& p) { return (p.dry_most_m - p.dry_least_m) / p.dry_mean_m; }

/// The trace's points between the radial steps: means over the plate, since where the film is not
/// even one radius alone ends somewhere else.
void spread_over_trace(const std::vector<AcrossPoint>& points, std::vector<TracePoint>& trace) {
  std::size_t next = 0;
  for (TracePoint& point : trace) {
    const double t = point.at.s();
    const FilmPoint mean = mean_at(points, t);
    point.dry = metres(mean.dry_m);
    point.wet = metres(std::max(mean.wet_m, mean.dry_m));
    point.solids_volume_share = point.dry / point.wet;
    point.film = kelvin(mean.T_K);
    while (next < points.size() && points[next].t < t)
      ++next;
    const AcrossPoint& b = points[std::min(next, points.size() - 1)];
    const AcrossPoint& a = points[next > 0 ? next - 1 : 0];
    const double x = b.t > a.t ? std::clamp((t - a.t) / (b.t - a.t), 0.0, 1.0) : 1.0;
    point.unevenness = unevenness(a) + x * (unevenness(b) - unevenness(a));
    const double over_a = a.dry_centre_m / a.dry_mean_m, over_b = b.dry_centre_m / b.dry_mean_m;
    point.dry_centre = (over_a + x * (over_b - over_a)) * point.dry;
  }
}

bool turns_turbulent(const Task& task) {
  const Plate& plate = task.environment.plate;
  return plate.radius &&
         plate.radius->m() > turbulent_radius(task.label, top_omega(task.pieces)).from_m;
}

void warn_of_turbulence(const Task& task, ThinningResult& result) {
  const TurbulentRadius at = turbulent_radius(task.label, top_omega(task.pieces));
  result.turbulent_from = metres(at.from_m);
  result.warnings.push_back(
      "past " + number_text(at.from_m * 1e3, 2) + " mm from the spindle the air may turn " +
      "turbulent at " + number_text(result.top_speed.rpm(), 4) + " rpm, past " +
      number_text(at.sure_m * 1e3, 2) + " mm it has: the film there is thicker and not even");
}

} // namespace

bool asks_for_radius(const Task& task) {
  const Pour& pour = task.environment.pour;
  const Plate& plate = task.environment.plate;
  return pour.dome || pour.puddle || (plate.screw && plate.screw->m() > 0.0) || task.label.power ||
         turns_turbulent(task);
}

Outcome look_across(const Task& task, ThinningResult& result) {
  const Uneven uneven = uneven_of(task);
  const auto story = radial_story(task.label, task.pieces, uneven, kAccuracy);
  if (!story)
    return Fault{FaultKind::program, "the film's equations found no way on over the radius", "",
                 "please report the resist and the profile"};
  const AcrossPoint& end = story->points.back();
  result.dry = {metres(end.dry_centre_m), metres(end.dry_mean_m), metres(end.dry_edge_m)};
  result.wet = {metres(end.wet_centre_m), metres(end.wet_mean_m), metres(end.wet_edge_m)};
  result.unevenness = unevenness(end);
  if (uneven.puddle_share < 1.0 && !task.label.power) {
    if (story->covered_s)
      result.covered_at = seconds(*story->covered_s);
    else
      result.covered_radius = metres(story->covered_share * uneven.radius_m);
  }
  spread_over_trace(story->points, result.trace);
  if (*result.unevenness < kEven) {
    // Three numbers that agree would claim an evenness that only flow and drying were asked about.
    result.dry.centre = result.dry.edge = result.wet.centre = result.wet.edge = std::nullopt;
    result.across_why =
        "flow alone evens it to under 0.1 %; what else makes a film uneven is not modelled";
  } else {
    result.across_why.clear();
  }
  return Done{};
}

void say_what_is_unseen(const Task& task, ThinningResult& result) {
  const Plate& plate = task.environment.plate;
  if (turns_turbulent(task))
    warn_of_turbulence(task, result);
  if (task.label.power && task.label.power->n < 1.0)
    result.warnings.push_back("a shear-thinning liquid hardly moves at the centre: taken as no "
                              "stiffer than at a shear rate of 1/s, which is a floor, not a fact");
  if (task.label.power && !plate.radius)
    result.warnings.push_back("the film of a power-law liquid depends on the plate's size: " +
                              number_text(kUsualRadius_m * 1e3) + " mm is taken, name the blank");
  if (result.covered_radius)
    result.warnings.push_back("the liquid spreads to " +
                              number_text(result.covered_radius->mm(), 2) +
                              " mm only: bare corners; pour more or spread faster");
  // Each a rule of the trade. [common practice, no source]
  result.unseen.push_back("rim: a bead stands on the outer 3 mm, thicker than the film inside "
                          "(a rule of the trade, nobody's measurement)");
  if (plate.nearest && plate.radius && *plate.nearest < 0.99 * *plate.radius)
    result.unseen.push_back("corners: past " + number_text(plate.nearest->mm(), 2) +
                            " mm from the spindle the plate is no full circle, and its corners "
                            "keep thicker film (as the rim)");
  if (!plate.screw)
    result.unseen.push_back("centre: the screw and its washer stay bare, and the film beside them "
                            "is thinner");
}

} // namespace whirler::film::thinning
