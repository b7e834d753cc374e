#include "speed_answer.hpp"

#include "poured_text.hpp"
#include "room_options.hpp"
#include "whirler/film/vapour.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

std::vector<film::Board> all_boards(const SpeedQuestion& question) {
  std::vector<film::Board> boards;
  if (question.bottle)
    boards = question.bottle->boards;
  for (const film::Known& known : question.known)
    boards.push_back({{known.speed, known.temperature, {}}, known.thickness});
  return boards;
}

/// From known boards alone: one is the rule's anchor, several also teach.
Result<film::Prediction> predict_known(const SpeedQuestion& question) {
  const film::Known& first = question.known.front();
  if (question.known.size() > 1)
    return film::predict(film::known_model(first, question.air), all_boards(question));
  return film::Prediction{
      [first, air = question.air](Speed speed) { return film::known_estimate(first, air, speed); },
      film::Model::rule, std::nullopt};
}

film::Environment environment_of(const SpeedQuestion& question) {
  film::Environment environment;
  environment.air = question.air;
  if (question.plate.blank)
    environment.plate.heat.capacity = blank::heat_capacity(*question.plate.blank);
  if (question.plate.properties)
    environment.plate.radius = question.plate.properties->corner_radius;
  return environment;
}

Result<film::Prediction> predict_label(const SpeedQuestion& question) {
  const auto base =
      film::thinning_model(question.bottle->resist, question.plan, environment_of(question));
  if (!base)
    return base.fault();
  // A board of a resist that dries was held until it had set, however short this dwell is.
  const bool dries = question.bottle->resist.dries();
  const auto judge = film::thinning_model(
      question.bottle->resist,
      board_plan(question.plate.machine, dries ? std::nullopt : question.plan.dwell),
      environment_of(question));
  if (!judge)
    return judge.fault();
  return film::predict(*base, *judge, all_boards(question));
}

/// The rule's own opinion, where it has one, and whether it holds for this spin.
Outcome add_rule(const SpeedQuestion& question, SpeedAnswer& answer) {
  const film::Conditions conditions{question.air, question.plan.dwell};
  const auto rule =
      film::predict(film::rule_model(question.bottle->resist, conditions), all_boards(question));
  const auto film = rule ? rule->curve(answer.choice.speed) : rule.fault();
  if (!film)
    return Done{}; // the rule has no opinion
  answer.rule_film = *film;
  const auto check = check_rule(question.bottle->resist, environment_of(question), *answer.course,
                                *answer.rule_film);
  if (!check)
    return check.fault();
  answer.rule_check = *check;
  if (check->holds)
    if (const auto choice = film::choose_speed(rule->curve, question.target, answer.limits))
      answer.rule_speed = choice->speed;
  return Done{};
}

/// Dwell and course of the full model at the chosen speed.
Outcome add_course(const SpeedQuestion& question, SpeedAnswer& answer) {
  const film::Environment environment = environment_of(question);
  const auto films = film::FilmOverSpeed::make(question.bottle->resist, question.plan, environment);
  if (!films)
    return films.fault();
  const auto planned = films->at(answer.choice.speed);
  if (!planned)
    return planned.fault();
  answer.dwell = planned->dwell;
  answer.dwell_why = question.plan.dwell ? "as given" : "until it is set, and a quarter more";
  const auto course =
      film::estimate(question.bottle->resist,
                     film::curve_of(question.plan, answer.choice.speed, answer.dwell), environment);
  if (!course)
    return course.fault();
  answer.course = *course;
  return Done{};
}

void add_known_dwell(const SpeedQuestion& question, SpeedAnswer& answer) {
  constexpr Duration kUsual = seconds(30.0); // [common practice, no source]
  answer.dwell = question.plan.dwell.value_or(kUsual);
  answer.dwell_why = question.plan.dwell ? "as given" : "better: as long as the known board's own";
}

Outcome add_coverage(const SpeedQuestion& question, SpeedAnswer& answer) {
  constexpr Speed kSpread = rpm(500.0); // where none was said [common practice, no source]
  if (!question.plate.properties)
    return Done{};
  const auto volume = film::coverage(
      question.bottle->resist, question.air, question.plate.properties->corner_radius,
      question.plan.spread_speed.value_or(kSpread), answer.choice.estimate.thickness);
  if (!volume)
    return volume.fault();
  answer.coverage = *volume;
  return Done{};
}

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 4) + " rpm"; }
std::string um_text(Length length) { return number_text(length.um()) + " um"; }
std::string range_text(const film::Estimate& film) {
  return um_text(film.thickness) + " (95 %: " + number_text(film.low.um()) + " to " +
         um_text(film.high) + ")";
}

void add_ramp_warning(SpeedAnswer& answer) {
  if (answer.course && answer.course->ramp_sets_film)
    answer.warnings.push_back(
        "the ramp sets this film, not the speed: " +
        number_text(100.0 * (answer.course->ramp_ratio - 1.0), 2) +
        " % thicker than at speed from the start; keep the ramp, or make it steeper");
}

void add_set_warning(const SpeedQuestion& question, SpeedAnswer& answer) {
  if (!question.bottle || !question.bottle->resist.dries() || answer.course->is_set)
    return;
  const auto& needed = answer.course->needed_dwell;
  answer.warnings.push_back("NOT SET after " + number_text(answer.dwell.s()) + " s: " +
                            (needed ? "hold it " + number_text(needed->s(), 2) + " s"
                                    : std::string("a longer dwell is needed")));
}

void add_machine_warning(const SpeedQuestion& question, SpeedAnswer& answer) {
  const auto& machine = question.plate.machine;
  if (machine && question.plan.ramp > machine->limits.ramp)
    answer.warnings.push_back("a run refuses this ramp of " +
                              number_text(question.plan.ramp.rpm_per_s(), 4) +
                              " rpm/s: the machine's most is " +
                              number_text(machine->limits.ramp.rpm_per_s(), 4) + " rpm/s");
}

void add_warnings(const SpeedQuestion& question, const film::Prediction& prediction,
                  SpeedAnswer& answer) {
  add_ramp_warning(answer);
  add_machine_warning(question, answer);
  if (answer.course)
    add_set_warning(question, answer);
  for (const std::size_t i : answer.choice.passed)
    answer.warnings.push_back("past " + answer.limits[i].why + " (" +
                              rpm_text(answer.limits[i].speed) + ")");
  if (answer.course)
    answer.warnings.insert(answer.warnings.end(), answer.course->warnings.begin(),
                           answer.course->warnings.end());
  if (prediction.calibration)
    for (std::string& text : suspect_texts(*prediction.calibration, all_boards(question)))
      answer.warnings.push_back(std::move(text));
}

Outcome add_cautions(const SpeedQuestion& question, SpeedAnswer& answer) {
  film::Surroundings around;
  around.temperature = question.air.temperature;
  const auto& machine = question.plate.machine;
  around.brushed_motor =
      machine && machine->motor && machine->motor->current == machine::MotorCurrent::brushed;
  if (!question.bottle) {
    answer.cautions = film::unknown_vapour_cautions(around);
    return Done{};
  }
  auto cautions = film::vapour_cautions(question.bottle->resist, around);
  if (!cautions)
    return cautions.fault();
  answer.cautions = std::move(*cautions);
  return Done{};
}

/// A target too thin for any speed may still be left by a steeper ramp or a shorter spread.
Fault with_ramp_hint(Fault fault, const SpeedQuestion& question, const film::Prediction& prediction,
                     const std::vector<film::SpeedLimit>& limits) {
  if (!question.bottle || !question.bottle->resist.dries())
    return fault;
  Speed fastest = film::kFastest;
  for (const film::SpeedLimit& limit : limits)
    if (limit.hard && limit.highest)
      fastest = std::min(fastest, limit.speed);
  const auto film = prediction.curve(fastest);
  const auto course =
      film::estimate(question.bottle->resist, film::curve_of(question.plan, fastest, seconds(60)),
                     environment_of(question));
  const bool too_thin = question.target.m() > 0.0 && film && question.target < film->thickness;
  if (too_thin && course && course->ramp_sets_film)
    fault.next += ", or a steeper ramp or shorter spread: they set the film here (" +
                  number_text(course->ramp_ratio, 2) + " times that of the speed alone)";
  return fault;
}

Outcome add_label_parts(const SpeedQuestion& question, SpeedAnswer& answer) {
  if (auto course = add_course(question, answer); !course)
    return course;
  if (auto added = add_rule(question, answer); !added)
    return added;
  return add_coverage(question, answer);
}

/// The target fixes the speed: the limit in the way binds only where the two meet.
bool binds(const SpeedAnswer& answer) {
  const Speed limit = answer.limits[*answer.choice.binding].speed;
  return std::abs(std::log(limit / answer.choice.speed)) < 1e-3;
}

} // namespace

Result<SpeedAnswer> answer_to(const SpeedQuestion& question) {
  if (question.bottle && !question.bottle->resist.dries() && !question.plan.dwell)
    return input_fault("this liquid does not dry: it thins as long as it turns",
                       question.bottle->path, "give the time at speed, as --dwell 45s");
  const auto prediction = question.bottle ? predict_label(question) : predict_known(question);
  if (!prediction)
    return prediction.fault();
  const auto limits = speed_limits(question.plate, question.air.temperature);
  if (!limits)
    return limits.fault();
  const auto choice = film::choose_speed(prediction->curve, question.target, *limits);
  if (!choice)
    return with_ramp_hint(choice.fault(), question, *prediction, *limits);
  SpeedAnswer answer;
  answer.choice = *choice;
  answer.model = prediction->model;
  answer.limits = *limits;
  add_known_dwell(question, answer);
  if (question.bottle)
    if (auto added = add_label_parts(question, answer); !added)
      return added.fault();
  add_warnings(question, *prediction, answer);
  if (auto cautioned = add_cautions(question, answer); !cautioned)
    return cautioned.fault();
  return answer;
}

Json json_of(const SpeedQuestion& question, const SpeedAnswer& answer) {
  const film::Estimate& film = answer.choice.estimate;
  Json document = {{"speed_rpm", rounded(answer.choice.speed.rpm())},
                   {"thickness_um", rounded(film.thickness.um())},
                   {"interval_um", {rounded(film.low.um()), rounded(film.high.um())}},
                   {"dwell_s", rounded(answer.dwell.s())},
                   {"model", film::model_word(answer.model)},
                   {"limits", to_json(answer.limits)},
                   {"binding", nullptr},
                   {"temperature_C", rounded(question.air.temperature.celsius())},
                   {"humidity", rounded(question.air.humidity)},
                   {"warnings", answer.warnings},
                   {"cautions", answer.cautions}};
  if (answer.choice.binding) {
    document["binding"] = answer.limits[*answer.choice.binding].name;
    document["binds"] = binds(answer);
  }
  if (answer.rule_film) {
    document["rule"] = rule_json(*answer.rule_film, answer.rule_check, film);
    document["rule"]["speed_rpm"] =
        answer.rule_speed ? rounded(answer.rule_speed->rpm()) : Json(nullptr);
  }
  if (answer.course) {
    document["ramp_sets_film"] = answer.course->ramp_sets_film;
    document["ramp_ratio"] = rounded(answer.course->ramp_ratio);
  }
  if (answer.coverage)
    document["volume_mL"] = {{"least", rounded(answer.coverage->least.mL())},
                             {"advised", rounded(answer.coverage->advised.mL())},
                             {"customary", rounded(answer.coverage->customary.mL())}};
  return document;
}

void say_answer(const Context& context, const SpeedQuestion& question, const SpeedAnswer& answer) {
  context.say(rpm_text(answer.choice.speed) + "   for " + range_text(answer.choice.estimate));
  context.say("dwell    " + number_text(answer.dwell.s()) + " s (" + answer.dwell_why + ")");
  context.say("model    " + std::string(film::model_word(answer.model)) + ", at " +
              room_text(question.air, question.bottle ? &question.bottle->resist : nullptr));
  if (answer.rule_film && !answer.rule_check.holds)
    context.say("rule     does not hold: " + answer.rule_check.why);
  else if (answer.rule_film)
    context.say("rule     " + range_text(*answer.rule_film) + " at that speed" +
                (answer.rule_speed
                     ? "; it would choose " + number_text(answer.rule_speed->rpm()) + " rpm"
                     : "") +
                disagreement_text(*answer.rule_film, answer.choice.estimate));
  if (answer.choice.binding) {
    const film::SpeedLimit& limit = answer.limits[*answer.choice.binding];
    context.say((binds(answer) ? "binds    " : "limit    ") + rpm_text(limit.speed) + ": " +
                limit.why + (binds(answer) ? "" : " (the nearest; it does not bind)"));
  }
  if (answer.coverage)
    context.say("pour     " + poured_text(answer.coverage->advised) + " or more (" +
                number_text(answer.coverage->customary.mL(), 2) + " mL by custom)");
  for (const std::string& warning : answer.warnings)
    context.say("warning  " + warning);
  for (const std::string& caution : answer.cautions)
    context.say("caution  " + caution);
}

} // namespace whirler::cli
