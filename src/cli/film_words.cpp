// The answer of `film` as JSON and as words for the bench.
#include "farthest_out.hpp"
#include "film_answer.hpp"
#include "film_drawing.hpp"
#include "poured_text.hpp"
#include "room_options.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

Json maybe(const std::optional<Length>& length, double factor) {
  return length ? rounded(factor * length->um()) : Json(nullptr);
}

Json maybe(const std::optional<Duration>& time) {
  return time ? rounded(time->s()) : Json(nullptr);
}

Json interval(const film::Estimate& film) {
  return {rounded(film.low.um()), rounded(film.high.um())};
}

Json trace_of(const FilmAnswer& answer) {
  Json trace = Json::array();
  for (const film::TracePoint& p : answer.course.trace)
    trace.push_back({{"t_s", rounded(p.at.s())},
                     {"speed_rpm", rounded(p.speed.rpm())},
                     {"wet_um", rounded(answer.factor * p.wet.um())},
                     {"dry_um", rounded(answer.factor * p.dry.um())},
                     {"solids_volume_share", rounded(p.solids_volume_share)},
                     {"film_C", rounded(p.film.celsius())},
                     {"dry_centre_um", maybe(p.dry_centre, answer.factor)},
                     {"unevenness", p.unevenness ? rounded(*p.unevenness) : Json(nullptr)}});
  return trace;
}

/// What stops after a quarter, half and three quarters of the time near top speed leave.
std::vector<film::TracePoint> early_stops(const film::ThinningResult& course) {
  constexpr double kNearTop = 0.95;
  const auto near_top = [&](const film::TracePoint& p) {
    return p.speed >= kNearTop * course.top_speed;
  };
  const auto first = std::find_if(course.trace.begin(), course.trace.end(), near_top);
  std::vector<film::TracePoint> stops;
  if (first != course.trace.end())
    for (const double share : {0.25, 0.5, 0.75})
      stops.push_back(course.after(first->at + share * course.dwell));
  return stops;
}

bool set_by(const film::ThinningResult& course, Duration time) {
  return course.set_time && *course.set_time <= time;
}

Json stops_of(const FilmAnswer& answer) {
  Json stops = Json::array();
  for (const film::TracePoint& p : early_stops(answer.course))
    stops.push_back({{"t_s", rounded(p.at.s())},
                     {"dry_um", rounded(answer.factor * p.dry.um())},
                     {"centre_um", maybe(p.dry_centre, answer.factor)},
                     {"wet_um", rounded(answer.factor * p.wet.um())},
                     {"is_set", set_by(answer.course, p.at)}});
  return stops;
}

void add_plate(const FilmQuestion& question, const FilmAnswer& answer, Json& document) {
  const film::ThinningResult& course = answer.course;
  if (course.turbulent_from)
    document["turbulent_from_mm"] = rounded(course.turbulent_from->mm());
  if (question.volume) {
    document["covered_at_s"] = maybe(course.covered_at);
    if (course.covered_radius)
      document["covered_radius_mm"] = rounded(course.covered_radius->mm());
  }
  if (answer.coverage)
    document["volume_mL"] = {{"least", rounded(answer.coverage->least.mL())},
                             {"advised", rounded(answer.coverage->advised.mL())},
                             {"customary", rounded(answer.coverage->customary.mL())}};
}

std::string um_text(Length length) { return number_text(length.um()) + " um"; }

std::string range_text(const film::Estimate& film) {
  return um_text(film.thickness) + " (95 %: " + number_text(film.low.um()) + " to " +
         um_text(film.high) + ")";
}

std::string set_text(const FilmQuestion& question, const film::ThinningResult& course) {
  const std::string dwell = number_text(course.dwell.s()) + " s near top speed";
  if (course.is_set)
    return "at " + number_text(course.set_time->s()) + " s" +
           (course.needed_dwell
                ? "; " + dwell + ", " + number_text(course.needed_dwell->s(), 2) + " s needed"
                : "");
  const std::string left = number_text(100.0 * course.flow_left, 2) + " % would still flow off";
  if (!question.bottle.resist.dries())
    return "never: it does not dry; " + left + " in a minute more";
  return "NOT SET: " + left + "; " +
         (course.needed_dwell
              ? "dwell " + number_text(course.needed_dwell->s(), 2) + " s, not " + dwell
              : "not even in an hour at speed");
}

std::string across_text(const FilmAnswer& answer) {
  const film::ThinningResult& course = answer.course;
  if (!course.dry.centre || !course.dry.edge)
    return course.across_why;
  return "centre " + um_text(answer.factor * *course.dry.centre) + ", rim " +
         um_text(answer.factor * *course.dry.edge) + " (" +
         number_text(100.0 * *course.unevenness, 2) + " %)";
}

/// Half-way through the time at speed: what a stop leaves, and what of it in the middle.
std::string stop_text(const FilmAnswer& answer, const film::TracePoint& p) {
  std::string text = number_text(p.at.s()) + " s: " + um_text(answer.factor * p.dry);
  if (p.dry_centre)
    text += ", " + um_text(answer.factor * *p.dry_centre) + " in the middle";
  return text + (set_by(answer.course, p.at) ? ", set" : ", NOT SET");
}

void say_list(const Context& context, const char* word, const std::vector<std::string>& texts) {
  for (const std::string& text : texts)
    context.say(word + text);
}

} // namespace

Json json_of(const FilmQuestion& question, const FilmAnswer& answer) {
  const film::ThinningResult& course = answer.course;
  Json document = {{"thickness_um",
                    {{"centre", maybe(course.dry.centre, answer.factor)},
                     {"mean", rounded(answer.film.thickness.um())},
                     {"edge", maybe(course.dry.edge, answer.factor)}}},
                   {"thickness_why", course.across_why},
                   {"wet_um", maybe(course.wet.mean, answer.factor)},
                   {"interval_um", interval(answer.film)},
                   {"model", film::model_word(answer.model)},
                   {"set_time_s", maybe(course.set_time)},
                   {"is_set", course.is_set},
                   {"dwell_s", rounded(course.dwell.s())},
                   {"needed_dwell_s", maybe(course.needed_dwell)},
                   {"flow_left", rounded(std::max(0.0, course.flow_left))},
                   {"unevenness", course.unevenness ? rounded(*course.unevenness) : Json(nullptr)},
                   {"ramp_sets_film", course.ramp_sets_film},
                   {"ramp_ratio", rounded(course.ramp_ratio)},
                   {"rule", nullptr},
                   {"temperature_C", rounded(question.air.temperature.celsius())},
                   {"humidity", rounded(question.air.humidity)},
                   {"coldest_C", rounded(course.coldest.celsius())}};
  if (answer.rule)
    document["rule"] = rule_json(*answer.rule, answer.rule_check, answer.film);
  add_plate(question, answer, document);
  document["warnings"] = answer.warnings;
  document["not_modelled"] = course.unseen;
  document["cautions"] = answer.cautions;
  document["early_stop"] = stops_of(answer);
  document["trace"] = trace_of(answer);
  return document;
}

void say_answer(const Context& context, const FilmQuestion& question, const FilmAnswer& answer) {
  const film::ThinningResult& course = answer.course;
  context.say(
      range_text(answer.film) + "   dry film" +
      (course.covered_radius
           ? ", within the " + number_text(course.covered_radius->mm(), 2) + " mm that it covers"
           : ""));
  context.say("set      " + set_text(question, course));
  context.say("wet      " + um_text(answer.factor * *course.wet.mean) + " at the end");
  context.say("across   " + across_text(answer));
  if (course.covered_at)
    context.say("covered  to the plate's " + std::string(farthest_out(*question.plate.blank)) +
                " at " + number_text(course.covered_at->s(), 2) + " s");
  if (const auto stops = early_stops(course); stops.size() > 1)
    context.say("stopped  at " + stop_text(answer, stops[1]));
  context.say("model    " + std::string(film::model_word(answer.model)) + ", at " +
              room_text(question.air, &question.bottle.resist));
  if (answer.rule && answer.rule_check.holds)
    context.say("rule     " + range_text(*answer.rule) +
                disagreement_text(*answer.rule, answer.film));
  else if (answer.rule)
    context.say("rule     does not hold: " + answer.rule_check.why);
  if (answer.coverage)
    context.say("pour     " + poured_text(answer.coverage->advised) + " or more (" +
                number_text(answer.coverage->customary.mL(), 2) + " mL by custom)");
  context.say("");
  for (const std::string& line : film_drawing(course.trace, answer.factor))
    context.say(line);
  context.say("");
  say_list(context, "warning  ", answer.warnings);
  say_list(context, "not seen ", course.unseen);
  say_list(context, "caution  ", answer.cautions);
}

} // namespace whirler::cli
