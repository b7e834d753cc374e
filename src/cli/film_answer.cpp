#include "film_answer.hpp"

#include "farthest_out.hpp"
#include "poured_text.hpp"
#include "whirler/film/uncertainty.hpp"
#include "whirler/film/vapour.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::cli {
namespace {

/// A pour is seldom even: twice as deep in the middle as at the rim. [common practice, no source]
constexpr double kUsualDome = 2.0;
/// A puddle's depth at rest, where it has room. [from memory, organic liquids on copper]
constexpr Length kPuddleDepth = millimetres(2.0);

/// A pool deeper than this runs off before anything turns.
constexpr Length kDeepestPour = millimetres(10.0);

/// From the spindle to the nearest edge of a rectangle whose hole has a place.
std::optional<Length> nearest_edge(const blank::Blank& blank) {
  const auto* rectangle = std::get_if<blank::Rectangle>(&blank.outline);
  if (rectangle == nullptr || blank.edges)
    return std::nullopt;
  const double x = 0.5 * rectangle->width.m() - std::abs(blank.hole.at.x.m());
  const double y = 0.5 * rectangle->height.m() - std::abs(blank.hole.at.y.m());
  return metres(std::min(x, y));
}

film::Pour pour_of(const FilmQuestion& question) {
  film::Pour pour;
  if (!question.volume) {
    pour.dome = kUsualDome;
    return pour;
  }
  const double radius_m = question.plate.properties->corner_radius.m();
  const double spread_m2 = question.volume->m3() / kPuddleDepth.m();
  const double plate_m2 = std::numbers::pi * radius_m * radius_m;
  if (spread_m2 >= plate_m2) {
    pour.thickness = metres(question.volume->m3() / plate_m2);
  } else {
    pour.thickness = kPuddleDepth;
    pour.puddle = metres(std::sqrt(spread_m2 / std::numbers::pi));
  }
  return pour;
}

film::Environment environment_of(const FilmQuestion& question) {
  film::Environment environment;
  environment.air = question.air;
  environment.pour = pour_of(question);
  environment.plate.heat.faces = question.back_covered ? 1.0 : 2.0;
  environment.plate.screw = question.screw;
  if (question.plate.blank) {
    environment.plate.heat.capacity = blank::heat_capacity(*question.plate.blank);
    environment.plate.nearest = nearest_edge(*question.plate.blank);
  }
  if (question.plate.properties)
    environment.plate.radius = question.plate.properties->corner_radius;
  return environment;
}

film::CoatPlan usual_plan(const FilmQuestion& question, const FilmAnswer& answer) {
  const bool dries = question.bottle.resist.dries();
  return board_plan(question.plate.machine,
                    dries ? std::nullopt : std::optional(answer.course.dwell));
}

/// A forecast is of an even pour, the course of this one; and published curves flatten at speed.
film::Estimate around(const film::Estimate& forecast, Length modelled, Speed top, bool dries) {
  const double scale = modelled / forecast.thickness;
  return {modelled, scale * forecast.low, scale * film::flattening(top, dries) * forecast.high};
}

/// As the boards teach it; false where there is none that can.
Result<bool> add_taught_film(const FilmQuestion& question, const film::Environment& environment,
                             FilmAnswer& answer) {
  const film::Resist& resist = question.bottle.resist;
  if (question.bottle.boards.empty())
    return false;
  const auto base = film::thinning_model(resist, usual_plan(question, answer), environment);
  if (!base)
    return base.fault();
  const auto prediction = film::predict(*base, question.bottle.boards);
  if (!prediction)
    return prediction.fault();
  if (!prediction->calibration)
    return false;
  const Length modelled = *answer.course.dry.mean;
  answer.film =
      film::calibrated(*prediction->calibration, modelled, answer.course.top_speed, resist.dries());
  answer.model = prediction->model;
  answer.factor = answer.film.thickness / modelled;
  for (std::string& text : suspect_texts(*prediction->calibration, question.bottle.boards))
    answer.warnings.push_back(std::move(text));
  return true;
}

/// The interval: as the boards narrow it, or of the label alone, which takes a thousand coats.
Outcome add_film(const FilmQuestion& question, const film::Environment& environment,
                 FilmAnswer& answer) {
  const auto taught = add_taught_film(question, environment, answer);
  if (!taught)
    return taught.fault();
  if (*taught)
    return Done{};
  const film::Resist& resist = question.bottle.resist;
  const auto forecast = film::forecast(resist, question.timeline.curve, environment,
                                       film::label_spreads(resist, environment));
  if (!forecast)
    return forecast.fault();
  answer.film =
      around(forecast->film, *answer.course.dry.mean, answer.course.top_speed, resist.dries());
  return Done{};
}

Outcome add_rule(const FilmQuestion& question, const film::Environment& environment,
                 FilmAnswer& answer) {
  const film::Conditions conditions{question.air, answer.course.dwell};
  const auto rule =
      film::predict(film::rule_model(question.bottle.resist, conditions), question.bottle.boards);
  const auto film = rule ? rule->curve(answer.course.top_speed) : rule.fault();
  if (!film)
    return Done{}; // the rule has no opinion
  answer.rule = *film;
  const auto check = check_rule(question.bottle.resist, environment, answer.course, *answer.rule);
  if (!check)
    return check.fault();
  answer.rule_check = *check;
  return Done{};
}

Outcome add_coverage(const FilmQuestion& question, FilmAnswer& answer) {
  if (!question.plate.properties)
    return Done{};
  // The puddle spreads in the first step that turns.
  Speed spread = answer.course.top_speed;
  for (const profile::Segment& segment : question.timeline.segments)
    if (segment.to.rpm() > 0.0) {
      spread = segment.to;
      break;
    }
  const auto needed =
      film::coverage(question.bottle.resist, question.air, question.plate.properties->corner_radius,
                     spread, answer.film.thickness);
  if (!needed)
    return needed.fault();
  answer.coverage = *needed;
  if (!question.volume)
    return Done{};
  const auto verdict = film::covers(*needed, *question.volume);
  const std::string farthest = farthest_out(*question.plate.blank);
  if (verdict == film::Covers::bare_corners)
    answer.warnings.push_back("bare " + farthest + ": " + number_text(question.volume->mL(), 2) +
                              " mL does not reach so far; pour " + poured_text(needed->advised));
  else if (verdict == film::Covers::thin_margin)
    answer.warnings.push_back(number_text(question.volume->mL(), 2) + " mL may leave the " +
                              farthest + " bare; " + poured_text(needed->advised) + " is safer");
  return Done{};
}

void add_warnings(FilmAnswer& answer) {
  const film::ThinningResult& course = answer.course;
  if (course.ramp_sets_film)
    answer.warnings.push_back("ramp and spread set this film, not the speed alone: " +
                              number_text(100.0 * (course.ramp_ratio - 1.0), 2) +
                              " % thicker than at speed from the start");
  answer.warnings.insert(answer.warnings.end(), course.warnings.begin(), course.warnings.end());
}

Outcome add_cautions(const FilmQuestion& question, FilmAnswer& answer) {
  film::Surroundings around;
  around.temperature = question.air.temperature;
  const auto& machine = question.plate.machine;
  around.brushed_motor =
      machine && machine->motor && machine->motor->current == machine::MotorCurrent::brushed;
  auto cautions = film::vapour_cautions(question.bottle.resist, around);
  if (!cautions)
    return cautions.fault();
  answer.cautions = std::move(*cautions);
  return Done{};
}

Outcome check_volume(const FilmQuestion& question) {
  if (!question.volume)
    return Done{};
  if (!question.plate.properties)
    return input_fault("a volume covers a plate, and no plate is named", "", "give --blank FILE");
  if (!(question.volume->mL() > 0.0))
    return input_fault("the volume is " + number_text(question.volume->mL()) + " mL", "",
                       "give a volume above 0");
  const Volume most = cubic_metres(question.plate.properties->area.m2() * kDeepestPour.m());
  if (*question.volume > most)
    return input_fault(number_text(question.volume->mL()) + " mL do not stay on this plate", "",
                       "give what is poured, up to " + number_text(most.mL(), 2) + " mL here");
  return Done{};
}

} // namespace

Result<FilmAnswer> answer_to(const FilmQuestion& question) {
  if (auto poured = check_volume(question); !poured)
    return poured.fault();
  const film::Environment environment = environment_of(question);
  const auto course = film::estimate(question.bottle.resist, question.timeline.curve, environment);
  if (!course)
    return course.fault();
  FilmAnswer answer;
  answer.course = *course;
  if (auto added = add_film(question, environment, answer); !added)
    return added.fault();
  if (auto added = add_rule(question, environment, answer); !added)
    return added.fault();
  if (auto added = add_coverage(question, answer); !added)
    return added.fault();
  add_warnings(answer);
  if (auto added = add_cautions(question, answer); !added)
    return added.fault();
  return answer;
}

film::ThinningResult taught_course(const FilmAnswer& answer) {
  film::ThinningResult course = answer.course;
  for (film::Across* across : {&course.dry, &course.wet})
    for (auto* film : {&across->centre, &across->mean, &across->edge})
      if (*film)
        *film = answer.factor * **film;
  for (film::TracePoint& p : course.trace) {
    p.wet = answer.factor * p.wet;
    p.dry = answer.factor * p.dry;
    if (p.dry_centre)
      p.dry_centre = answer.factor * *p.dry_centre;
  }
  return course;
}

} // namespace whirler::cli
