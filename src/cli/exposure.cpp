// Seconds under the lamp, from the user's own step wedge.
#include "bottle.hpp"
#include "commands.hpp"
#include "parsed_option.hpp"
#include "unit_texts.hpp"
#include "whirler/exposure/advice.hpp"
#include "whirler/exposure/working_curve.hpp"

#include <cmath>
#include <memory>

namespace whirler::cli {
namespace {

using exposure::Ranged;

constexpr const char* kExposureExamples = R"(Examples:
  whirler exposure --thickness 20um --resist profiles/resists/umber.json --lamp 8mW/cm2
  whirler exposure --thickness 20um --other-side 23um --resist profiles/resists/umber.json --lamp 8mW/cm2
  whirler exposure --thickness 20um --resist profiles/resists/umber.json --lamp 8mW/cm2 --was 45s
  whirler exposure --thickness 20um --other-side 23um --resist profiles/resists/umber.json --lamp 8mW/cm2
        --was 45s --was-other 60s
  whirler exposure --thickness-range 18um,24um --resist profiles/resists/umber.json --lamp 8mW/cm2
The seconds come from the wedge in the resist file. Measure the lamp at the plate with the meter
that measured it for the wedge.)";

constexpr const char* kCautions[] = {
    "UV burns eyes and skin: screen the lamp, glasses that stop UV, covered arms.",
    "Look at the plate with the lamp off. Some lamps make ozone: air the place.",
    "The safety sheets of lamp and resist, and local rules, decide."};

/// Said beside every answer: C_d = h leaves the foot of the film at the edge of hardening.
constexpr const char* kJustReached =
    "these seconds only just harden the film down to the copper; a margin on top is usual, a fifth "
    "to a half more (common practice, no source): let strips beside each other decide";

struct Span {
  Length thinnest;
  Length thickest;
};

struct ExposureOptions {
  std::optional<Length> thickness;
  std::optional<Length> other_side;
  std::optional<Span> range;
  std::string resist;
  std::optional<Irradiance> lamp;
  std::optional<Duration> was;
  std::optional<Duration> was_other; ///< of the other side; none: the same
  double latitude = exposure::kUsualLatitude;
};

/// A past exposure of a side.
struct Past {
  Duration given;
  exposure::Judgement judgement;
};

struct Side {
  Length film;
  Ranged<Dose> dose;
  Ranged<Duration> time;
  bool drawn_on = false; ///< outside the films that the wedge shows
  std::optional<Past> past;
};

struct Answer {
  exposure::WorkingCurve curve;
  std::vector<Side> sides;
  std::optional<exposure::OneForAll> range;
  std::optional<double> over_at_thinnest; ///< past exposure over what the thinnest place needs
  std::vector<std::string> warnings;
};

Result<Side> side_of(const exposure::WorkingCurve& curve, Length film, Irradiance lamp) {
  const auto dose = exposure::dose_for(curve, film);
  if (!dose)
    return dose.fault();
  const auto time = exposure::time_for(*dose, lamp);
  if (!time)
    return time.fault();
  return Side{film, *dose, *time, exposure::is_drawn_on(curve, film), {}};
}

/// The films asked for: a range is exposed for its thickest place.
std::vector<Length> films_of(const ExposureOptions& options) {
  std::vector<Length> films;
  if (options.thickness)
    films.push_back(*options.thickness);
  else if (options.range)
    films.push_back(options.range->thickest);
  if (options.other_side)
    films.push_back(*options.other_side);
  return films;
}

Outcome judge_sides(const ExposureOptions& options, Answer& answer) {
  if (!options.was)
    return Done{};
  for (Side& side : answer.sides) {
    const bool other = options.other_side && &side == &answer.sides.back();
    const Duration given = other ? options.was_other.value_or(*options.was) : *options.was;
    const auto judged = exposure::judge(given, side.time);
    if (!judged)
      return judged.fault();
    side.past = Past{given, *judged};
  }
  if (answer.range)
    answer.over_at_thinnest = *options.was / answer.range->thinnest.value;
  return Done{};
}

Outcome weigh_range(const ExposureOptions& options, Answer& answer) {
  if (!options.range)
    return Done{};
  const auto both = exposure::one_for_all(answer.curve, options.range->thinnest,
                                          options.range->thickest, *options.lamp, options.latitude);
  if (!both)
    return both.fault();
  answer.range = *both;
  return Done{};
}

void warn_of_drawn_on(const ExposureOptions& options, Answer& answer) {
  std::vector<Length> films = films_of(options);
  if (options.range)
    films.push_back(options.range->thinnest);
  for (const Length film : films)
    if (exposure::is_drawn_on(answer.curve, film))
      answer.warnings.push_back(number_text(film.um()) + " um lies outside the films that the " +
                                "wedge shows, " + number_text(answer.curve.shallowest.um()) +
                                " to " + number_text(answer.curve.deepest.um()) +
                                " um: the curve is drawn on beyond them; expose a wedge on such " +
                                "a film before you trust it");
}

Result<Answer> answer_to(const ExposureOptions& options,
                         const std::vector<exposure::Wedge>& wedges) {
  const auto curve = exposure::fit(wedges);
  if (!curve)
    return curve.fault();
  Answer answer;
  answer.curve = *curve;
  for (const Length film : films_of(options)) {
    const auto side = side_of(*curve, film, *options.lamp);
    if (!side)
      return side.fault();
    answer.sides.push_back(*side);
  }
  if (auto weighed = weigh_range(options, answer); !weighed)
    return weighed.fault();
  if (auto judged = judge_sides(options, answer); !judged)
    return judged.fault();
  warn_of_drawn_on(options, answer);
  return answer;
}

const char* verdict_word(exposure::Verdict verdict) {
  switch (verdict) {
  case exposure::Verdict::under:
    return "under";
  case exposure::Verdict::within:
    return "within";
  case exposure::Verdict::over:
    return "over";
  }
  return "within";
}

Json interval_of(const Ranged<Duration>& time) {
  return {rounded(time.low.s()), rounded(time.high.s())};
}

Json json_of(const exposure::WorkingCurve& curve) {
  if (!curve.separated)
    return {{"separated", false}, {"film_um", rounded(curve.single_film.um())}};
  return {{"separated", true},
          {"depth_um", rounded(curve.depth.value.um())},
          {"depth_interval_um", {rounded(curve.depth.low.um()), rounded(curve.depth.high.um())}},
          {"critical_mJ_cm2", rounded(curve.critical.value.mJ_per_cm2())},
          {"critical_interval_mJ_cm2",
           {rounded(curve.critical.low.mJ_per_cm2()), rounded(curve.critical.high.mJ_per_cm2())}},
          {"films_um", {rounded(curve.shallowest.um()), rounded(curve.deepest.um())}},
          {"points", curve.points}};
}

Json json_of(const Past& past) {
  const exposure::Judgement& j = past.judgement;
  return {{"time_s", rounded(past.given.s())},
          {"verdict", verdict_word(j.verdict)},
          {"within_margin", j.within_margin},
          {"ratio", rounded(j.ratio)},
          {"wedge_steps", rounded(j.wedge_steps)},
          {"next_s", rounded(j.next.s())},
          {"strips_s", {rounded(j.next_low.s()), rounded(j.next.s()), rounded(j.next_high.s())}}};
}

Json json_of(const Side& side) {
  Json document = {{"thickness_um", rounded(side.film.um())},
                   {"time_s", rounded(side.time.value.s())},
                   {"interval_s", interval_of(side.time)},
                   {"dose_mJ_cm2", rounded(side.dose.value.mJ_per_cm2())},
                   {"outside_wedge", side.drawn_on}};
  if (side.past)
    document["was"] = json_of(*side.past);
  return document;
}

Json json_of(const exposure::OneForAll& range, double latitude) {
  return {{"thinnest_s", rounded(range.thinnest.value.s())},
          {"thickest_s", rounded(range.thickest.value.s())},
          {"over_at_thinnest", rounded(range.over_at_thinnest)},
          {"latitude", rounded(latitude)},
          {"serves_both", range.serves_both}};
}

Json json_of(const Answer& answer, const ExposureOptions& options) {
  Json document = json_of(answer.sides.front());
  document["curve"] = json_of(answer.curve);
  Json sides = Json::array();
  for (const Side& side : answer.sides)
    sides.push_back(json_of(side));
  document["sides"] = std::move(sides);
  if (answer.range)
    document["range"] = json_of(*answer.range, options.latitude);
  if (answer.over_at_thinnest)
    document["range"]["was_over_at_thinnest"] = rounded(*answer.over_at_thinnest);
  document["margin"] = kJustReached;
  document["warnings"] = answer.warnings;
  document["cautions"] = kCautions;
  return document;
}

void say_curve(const Context& context, const exposure::WorkingCurve& curve) {
  if (!curve.separated) {
    context.say("curve    one border: good for this film alone");
    return;
  }
  context.say("curve    depth " + number_text(curve.depth.value.um()) + " um (95 %: " +
              number_text(curve.depth.low.um()) + " to " + number_text(curve.depth.high.um()) +
              "), critical dose " + number_text(curve.critical.value.mJ_per_cm2()) + " mJ/cm2 (" +
              number_text(curve.critical.low.mJ_per_cm2()) + " to " +
              number_text(curve.critical.high.mJ_per_cm2()) + ")");
}

void say_sides(const Context& context, const std::vector<Side>& sides) {
  for (const Side& side : sides)
    context.say(s_text(side.time.value) + "   for " + number_text(side.film.um()) +
                " um (95 %: " + number_text(side.time.low.s()) + " to " + s_text(side.time.high) +
                "), " + number_text(side.dose.value.mJ_per_cm2()) + " mJ/cm2");
  // Copper stops the light, so each side needs its own time in full.
  const Duration both = sides.front().time.value + sides.back().time.value;
  context.say("both sides of a board, one after the other: " + s_text(both));
  context.say(std::string("margin   ") + kJustReached);
}

void say_range(const Context& context, const exposure::OneForAll& range, double latitude) {
  context.say("thinnest " + s_text(range.thinnest.value) + ", thickest " +
              s_text(range.thickest.value));
  context.say(std::string(range.serves_both ? "one exposure serves both"
                                            : "one exposure cannot serve both: even the film") +
              " (the thinnest place gets " + number_text(range.over_at_thinnest) +
              " times its dose; " + number_text(latitude) + " is allowed)");
}

/// Which of several sides a line speaks of.
std::string side_text(const Answer& answer, const Side& side) {
  return answer.sides.size() > 1 ? "the side of " + number_text(side.film.um()) + " um: " : "";
}

void say_past(const Context& context, const std::string& side, const Past& past) {
  const exposure::Judgement& j = past.judgement;
  context.say(side + s_text(past.given) + " was " + number_text(j.ratio) +
              " times what it needs (" + number_text(std::abs(j.wedge_steps), 2) + " wedge steps " +
              (j.wedge_steps < 0 ? "under" : "over") + "): " +
              (j.verdict == exposure::Verdict::within ? "within what the wedge can tell"
               : j.within_margin                      ? "within the usual margin"
                                 : std::string(verdict_word(j.verdict)) + "exposed"));
  context.say(side + (j.within_margin ? "keep it, or try " : "try next ") + s_text(j.next) +
              ", with strips at " + s_text(j.next_low) + " and " + s_text(j.next_high));
}

void say_pasts(const Context& context, const Answer& answer, double latitude) {
  for (const Side& side : answer.sides)
    if (side.past)
      say_past(context, side_text(answer, side), *side.past);
  if (answer.over_at_thinnest)
    context.say("the thinnest place had " + number_text(*answer.over_at_thinnest) +
                " times what it needs; " + number_text(latitude) + " is allowed");
}

void say_answer(const Context& context, const Answer& answer, const ExposureOptions& options) {
  say_sides(context, answer.sides);
  say_curve(context, answer.curve);
  if (answer.range)
    say_range(context, *answer.range, options.latitude);
  say_pasts(context, answer, options.latitude);
  for (const std::string& warning : answer.warnings)
    context.say("warning  " + warning);
  for (const char* caution : kCautions)
    context.say(std::string("caution  ") + caution);
}

Outcome check_options(const ExposureOptions& options) {
  if (!options.thickness && !options.range)
    return command_line_fault("no film was given",
                              "give --thickness 20um, or --thickness-range 18um,24um");
  if (options.thickness && options.range)
    return command_line_fault("--thickness and --thickness-range both say how thick the film is",
                              "give one: the range where the film is uneven");
  if (options.was_other && !(options.was && options.other_side))
    return command_line_fault("--was-other judges a board's other side",
                              "give --was and --other-side with it");
  if (!(options.latitude >= 1.0) || !std::isfinite(options.latitude))
    return command_line_fault(
        "a --latitude of " + number_text(options.latitude),
        "give how many times too much light the lines still stand, 1 or more");
  return Done{};
}

int run_exposure(const Context& context, const ExposureOptions& options) {
  if (auto sound = check_options(options); !sound)
    return context.fail(sound.fault());
  const auto resist = load<files::ResistFile>(context, options.resist);
  if (!resist)
    return kInput;
  if (resist->value.wedges.empty())
    return context.fail(input_fault(
        "the resist has no step wedge, and no label can stand in for one", options.resist,
        "expose a step wedge, develop it, and enter under \"wedge\" what each step "
        "left"));
  const auto answer = answer_to(options, resist->value.wedges);
  if (!answer)
    return context.fail(answer.fault());
  say_answer(context, *answer, options);
  context.answer(json_of(*answer, options));
  return kDone;
}

} // namespace

void add_exposure(CLI::App& program, Context& context) {
  auto options = std::make_shared<ExposureOptions>();
  CLI::App* command =
      program.add_subcommand("exposure", "Seconds under the lamp, from the step wedge")
          ->footer(kExposureExamples);
  add_quantity<Length>(*command, "--thickness", options->thickness, "Dry film, as 20um");
  add_quantity<Length>(*command, "--other-side", options->other_side,
                       "Film on the board's other side");
  add_parsed(*command, "--thickness-range", "Thinnest and thickest place, as 18um,24um", "T,T",
             [options](std::string_view text) {
               return keep(parse_pair<Length>(text, "18um,24um"), [&](const auto& pair) {
                 options->range = Span{pair.first, pair.second};
               });
             });
  command->add_option("--resist", options->resist, "Resist file with a wedge")->required();
  add_quantity<Irradiance>(*command, "--lamp", options->lamp, "At the plate, as 8mW/cm2")
      ->required();
  add_quantity<Duration>(*command, "--was", options->was, "A past exposure to judge, as 45s");
  add_quantity<Duration>(*command, "--was-other", options->was_other,
                         "The other side's, where it was not the same");
  command->add_option("--latitude", options->latitude,
                      "How many times its dose a thin place may get (1.5)");
  command->callback([&context, options] {
    context.work = [&context, options] { return run_exposure(context, *options); };
  });
}

} // namespace whirler::cli
