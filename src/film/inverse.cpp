#include "whirler/film/inverse.hpp"

#include "whirler/film/radial_story.hpp"
#include "whirler/film/thinning_history.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film {
namespace {

constexpr double kDwellMargin = 1.25; // of the time that the film needs to set
constexpr double kSameFilm = 1e-6;    // ln film that is as good as equal

Outcome check_plan(const CoatPlan& plan, bool dries) {
  if (!(plan.ramp.rpm_per_s() > 0.0) || !plan.ramp.is_finite())
    return input_fault("the ramp is " + number_text(plan.ramp.rpm_per_s()) + " rpm/s", "",
                       "give a ramp above 0");
  if (!(plan.spread_dwell.s() >= 0.0) || (plan.dwell && !(plan.dwell->s() > 0.0)))
    return input_fault("a time of the plan is negative", "", "give times above 0");
  if (plan.spread_speed && !(plan.spread_speed->rpm() > 0.0))
    return input_fault("the spread turns at " + number_text(plan.spread_speed->rpm()) + " rpm", "",
                       "give a speed above 0, or no spread");
  if (!dries && !plan.dwell)
    return input_fault("this liquid does not dry: it thins as long as it turns", "",
                       "give the dwell");
  return Done{};
}

Fault impossible(Length target, const PlannedFilm& nearest, const char* direction) {
  return input_fault("no speed here leaves " + number_text(target.um()) +
                         " um: " + number_text(nearest.speed.rpm(), 4) + " rpm leaves " +
                         number_text(nearest.thickness.um()) + " um",
                     "", direction);
}

} // namespace

SpeedCurve curve_of(const CoatPlan& plan, Speed top, Duration dwell) {
  SpeedCurve curve = {{seconds(0), rpm(0)}};
  Duration t = seconds(0);
  Speed now = rpm(0);
  const auto go_to = [&](Speed speed, Duration stay) {
    t += seconds(std::abs(speed.si() - now.si()) / plan.ramp.si());
    curve.push_back({t, speed});
    t += stay;
    curve.push_back({t, speed});
    now = speed;
  };
  if (plan.spread_speed && *plan.spread_speed < top)
    go_to(*plan.spread_speed, plan.spread_dwell);
  go_to(top, dwell);
  go_to(rpm(0), seconds(0));
  return curve;
}

Result<FilmOverSpeed> FilmOverSpeed::make(const Resist& resist, const CoatPlan& plan,
                                          const Environment& environment) {
  // One estimate finds every fault that an estimate can have.
  if (auto sound = check_plan(plan, resist.dries()); !sound)
    return sound.fault();
  const SpeedCurve any = curve_of(plan, rpm(1000), plan.dwell.value_or(seconds(1)));
  if (auto tried = dry_film(resist, any, environment); !tried)
    return tried.fault();
  auto label = thinning::read_label(resist, environment.air, environment.plate.heat);
  if (!label)
    return label.fault();
  const Length radius = environment.plate.radius.value_or(metres(thinning::kUsualRadius_m));
  return FilmOverSpeed(std::move(*label), plan, environment.pour.thickness.m(), radius.m());
}

Result<Duration> FilmOverSpeed::dwell_at(Speed top) const {
  if (plan_.dwell)
    return *plan_.dwell;
  const auto pieces = thinning::pieces_of(curve_of(plan_, top, seconds(1)));
  if (!pieces)
    return pieces.fault();
  thinning::Uneven even;
  even.pour_m = pour_m_;
  even.radius_m = radius_m_;
  const auto story =
      label_.power ? thinning::power_story(label_, *pieces, even, thinning::kQuickAccuracy)
                   : thinning::column_story(label_, *pieces, pour_m_, thinning::kQuickAccuracy);
  if (story && story->needed_dwell_s)
    return seconds(std::max(1.0, std::ceil(kDwellMargin * *story->needed_dwell_s)));
  return input_fault("at " + number_text(top.rpm(), 4) + " rpm the film does not set in an hour",
                     "", "give the dwell, or let the vapour out");
}

Result<Length> FilmOverSpeed::film(Speed top, Duration dwell) const {
  const auto pieces = thinning::pieces_of(curve_of(plan_, top, dwell));
  if (!pieces)
    return pieces.fault();
  const double dry_m =
      thinning::dry_film_m(label_, *pieces, pour_m_, thinning::kAccuracy, radius_m_);
  if (dry_m > 0.0)
    return metres(dry_m);
  return Fault{FaultKind::program, "the film's equations found no way on", "",
               "please report the resist and the profile"};
}

Result<PlannedFilm> FilmOverSpeed::at(Speed top) const {
  if (!(top.rpm() > 0.0) || !top.is_finite())
    return input_fault("a speed of " + number_text(top.rpm()) + " rpm leaves no film", "",
                       "give a speed above 0");
  const auto dwell = dwell_at(top);
  if (!dwell)
    return dwell.fault();
  const auto thickness = film(top, *dwell);
  if (!thickness)
    return thickness.fault();
  return PlannedFilm{top, *dwell, *thickness};
}

Result<PlannedFilm> FilmOverSpeed::find(Length target, Speed slowest, Speed fastest) const {
  if (!(target.m() > 0.0) || !target.is_finite())
    return input_fault("the target is " + number_text(target.um()) + " um", "",
                       "give a thickness above 0");
  auto slow = at(slowest);
  auto fast = slow ? at(fastest) : slow;
  if (!fast)
    return fast.fault();
  if (target > slow->thickness)
    return impossible(target, *slow, "take a thicker resist, or aim thinner");
  if (target < fast->thickness)
    return impossible(target, *fast, "take a thinner resist, or aim thicker");
  const auto off = [&](const PlannedFilm& p) { return std::log(p.thickness / target); };
  double x0 = std::log(slowest.rpm()), x1 = std::log(fastest.rpm());
  double y0 = off(*slow), y1 = off(*fast);
  PlannedFilm best = std::abs(y0) < std::abs(y1) ? *slow : *fast;
  // The secant with the standing end's value halved (the Illinois rule): it cannot stall.
  for (int i = 0; i < 40 && std::abs(off(best)) > kSameFilm && x1 - x0 > 1e-9; ++i) {
    const double x = std::clamp(x0 + (x1 - x0) * y0 / (y0 - y1), x0, x1);
    const auto tried = at(rpm(std::exp(x)));
    if (!tried)
      return tried.fault();
    const double y = off(*tried);
    if (std::abs(y) < std::abs(off(best)))
      best = *tried;
    if (y > 0.0) {
      x0 = x, y0 = y;
      y1 *= 0.5;
    } else {
      x1 = x, y1 = y;
      y0 *= 0.5;
    }
  }
  return best;
}

Result<PlannedFilm> speed_for(Length target, const Resist& resist, const CoatPlan& plan,
                              const Environment& environment, Speed slowest, Speed fastest) {
  auto films = FilmOverSpeed::make(resist, plan, environment);
  if (!films)
    return films.fault();
  return films->find(target, slowest, fastest);
}

} // namespace whirler::film
