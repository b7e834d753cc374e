// Seconds under the lamp, from the user's own step wedge.
#include "bottle.hpp"
#include "commands.hpp"
#include "parsed_option.hpp"
#include "whirler/exposure/advice.hpp"
#include "whirler/exposure/working_curve.hpp"

#include <cmath>
#include <memory>

namespace whirler::cli {
namespace {

using exposure::Ranged;

constexpr const char* kExamples = R"(Examples:
  whirler exposure --thickness 20um --resist profiles/resists/umber.json --lamp 8mW/cm2
  whirler exposure --thickness 20um --other-side 23um --resist profiles/resists/umber.json --lamp 8mW/cm2
  whirler exposure --thickness 20um --resist profiles/resists/umber.json --lamp 8mW/cm2 --was 45s
  whirler exposure --thickness-range 18um,24um --resist profiles/resists/umber.json --lamp 8mW/cm2
The seconds come from the wedge in the resist file. Measure the lamp at the plate with the meter
that measured it for the wedge.)";

constexpr const char* kCautions[] = {
    "UV burns eyes and skin: screen the lamp, glasses that stop UV, covered arms.",
    "Look at the plate with the lamp off. Some lamps make ozone: air the place.",
    "The safety sheets of lamp and resist, and local rules, decide."};

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
  double latitude = exposure::kUsualLatitude;
};

struct Side {
  Length film;
  Ranged<Dose> dose;
  Ranged<Duration> time;
};

struct Answer {
  exposure::WorkingCurve curve;
  std::vector<Side> sides;
  std::optional<exposure::OneForAll> range;
  std::optional<exposure::Judgement> judgement;
};

Result<Side> side_of(const exposure::WorkingCurve& curve, Length film, Irradiance lamp) {
  const auto dose = exposure::dose_for(curve, film);
  if (!dose)
    return dose.fault();
  const auto time = exposure::time_for(*dose, lamp);
  if (!time)
    return time.fault();
  return Side{film, *dose, *time};
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
  if (options.range) {
    const auto both = exposure::one_for_all(
        *curve, options.range->thinnest, options.range->thickest, *options.lamp, options.latitude);
    if (!both)
      return both.fault();
    answer.range = *both;
  }
  if (options.was) {
    const auto judged = exposure::judge(*options.was, answer.sides.front().time);
    if (!judged)
      return judged.fault();
    answer.judgement = *judged;
  }
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

std::string s_text(Duration time) { return number_text(time.s()) + " s"; }

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
          {"points", curve.points}};
}

Json json_of(const Side& side) {
  return {{"thickness_um", rounded(side.film.um())},
          {"time_s", rounded(side.time.value.s())},
          {"interval_s", interval_of(side.time)},
          {"dose_mJ_cm2", rounded(side.dose.value.mJ_per_cm2())}};
}

Json json_of(const Answer& answer, const ExposureOptions& options) {
  Json document = json_of(answer.sides.front());
  document["curve"] = json_of(answer.curve);
  Json sides = Json::array();
  for (const Side& side : answer.sides)
    sides.push_back(json_of(side));
  document["sides"] = std::move(sides);
  if (answer.range)
    document["range"] = {{"thinnest_s", rounded(answer.range->thinnest.value.s())},
                         {"thickest_s", rounded(answer.range->thickest.value.s())},
                         {"over_at_thinnest", rounded(answer.range->over_at_thinnest)},
                         {"latitude", rounded(options.latitude)},
                         {"serves_both", answer.range->serves_both}};
  if (answer.judgement)
    document["was"] = {
        {"time_s", rounded(options.was->s())},
        {"verdict", verdict_word(answer.judgement->verdict)},
        {"ratio", rounded(answer.judgement->ratio)},
        {"wedge_steps", rounded(answer.judgement->wedge_steps)},
        {"next_s", rounded(answer.judgement->next.s())},
        {"strips_s",
         {rounded(answer.judgement->next_low.s()), rounded(answer.judgement->next.s()),
          rounded(answer.judgement->next_high.s())}}};
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
}

void say_range(const Context& context, const exposure::OneForAll& range, double latitude) {
  context.say("thinnest " + s_text(range.thinnest.value) + ", thickest " +
              s_text(range.thickest.value));
  context.say(std::string(range.serves_both ? "one exposure serves both"
                                            : "one exposure cannot serve both: even the film") +
              " (the thinnest place gets " + number_text(range.over_at_thinnest) +
              " times its dose; " + number_text(latitude) + " is allowed)");
}

void say_judgement(const Context& context, Duration given, const exposure::Judgement& judgement) {
  const double steps = judgement.wedge_steps;
  context.say(s_text(given) + " was " + number_text(judgement.ratio) + " times what it needs (" +
              number_text(std::abs(steps), 2) + " wedge steps " + (steps < 0 ? "under" : "over") +
              "): " +
              (judgement.verdict == exposure::Verdict::within
                   ? "within what the wedge can tell"
                   : std::string(verdict_word(judgement.verdict)) + "exposed"));
  context.say("try next " + s_text(judgement.next) + ", with strips at " +
              s_text(judgement.next_low) + " and " + s_text(judgement.next_high));
}

void say_answer(const Context& context, const Answer& answer, const ExposureOptions& options) {
  say_sides(context, answer.sides);
  say_curve(context, answer.curve);
  if (answer.range)
    say_range(context, *answer.range, options.latitude);
  if (answer.judgement)
    say_judgement(context, *options.was, *answer.judgement);
  for (const char* caution : kCautions)
    context.say(std::string("caution  ") + caution);
}

int run_exposure(const Context& context, const ExposureOptions& options) {
  if (!options.thickness && !options.range)
    return context.fail({FaultKind::command_line, "no film was given", "",
                         "give --thickness 20um, or --thickness-range 18um,24um"});
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
          ->footer(kExamples);
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
  command->add_option("--latitude", options->latitude,
                      "How many times its dose a thin place may get (1.5)");
  command->callback([&context, options] {
    context.work = [&context, options] { return run_exposure(context, *options); };
  });
}

} // namespace whirler::cli
