// `whirler blank`: what a plate weighs, how far it is off balance, and what to do about it.
#include "commands.hpp"
#include "cure_lines.hpp"
#include "placed_values.hpp"
#include "plate_from_run.hpp"
#include "plate_input.hpp"
#include "whirler/balance/cures.hpp"
#include "whirler/balance/influence.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/blank/air.hpp"
#include "whirler/blank/edges.hpp"
#include "whirler/report/plate_drawing.hpp"
#include "whirler/units/text.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <memory>
#include <variant>

namespace whirler::cli {
namespace {

/// Shown where neither --speed nor a machine says one.
constexpr Speed kUsualSpeed = rpm(3000.0);
/// Below this the balance point and the hole are one for any tool of a workshop.
constexpr Length kCentred = micrometres(1.0);

struct Options {
  PlateOptions plate;
  std::optional<Speed> speed;
  std::optional<Length> rim;
  std::string svg;
  JitterWords run; ///< whose phase says where the hole is
};

struct Answer {
  blank::Blank blank;
  blank::Properties properties;
  std::optional<machine::Machine> machine;
  Speed speed;
  blank::TurbulentZone turbulent;
  balance::Cures cures; ///< in the plate's frame
  std::optional<Length> edge_uncertainty;
  std::optional<HoleFromRun> from_run = std::nullopt;
};

Result<balance::Cures> cures_of(const Plate& plate, const std::optional<Length>& rim) {
  const blank::Properties& p = *plate.properties;
  balance::OffBalance off{
      {p.unbalance, p.offset.direction()}, p.mass, p.undrilled_mass, std::nullopt, {}, rim,
      plate.blank->hole.diameter};
  if (plate.machine) {
    off.rotor = plate.machine->rotor.mass;
    off.grade = plate.machine->limits.balance_grade;
  }
  return balance::cures(off);
}

std::optional<Length> edge_uncertainty(const blank::Blank& blank) {
  const auto* rectangle = std::get_if<blank::Rectangle>(&blank.outline);
  if (!blank.edges || rectangle == nullptr)
    return std::nullopt;
  const auto found = blank::hole_position(*rectangle, blank.hole.diameter, *blank.edges);
  return found ? std::optional{found->uncertainty} : std::nullopt;
}

Result<Answer> work_out(const Options& options, const Plate& plate) {
  const Speed machine_speed = plate.machine ? plate.machine->limits.speed : kUsualSpeed;
  const Speed speed = options.speed.value_or(machine_speed);
  constexpr Speed kFastest = rpm(100'000); // as in a machine's file
  if (speed > kFastest)
    return input_fault("the speed is " + number_text(speed.rpm()) + " rpm", "--speed",
                       "give a speed up to " + number_text(kFastest.rpm()) + " rpm");
  const auto turbulent = blank::turbulent_zone(speed);
  if (!turbulent)
    return turbulent.fault();
  const auto cures = cures_of(plate, options.rim);
  if (!cures)
    return cures.fault();
  return Answer{*plate.blank,
                *plate.properties,
                plate.machine,
                speed,
                *turbulent,
                *cures,
                edge_uncertainty(*plate.blank)};
}

std::string mm(Length length) { return number_text(length.mm()) + " mm"; }

std::string towards(const Answer& answer, Angle direction) {
  return "the " + blank::side_words(answer.blank.outline, direction) + " (" +
         angle_text(direction) + ")";
}

std::string grade_line(const Answer& answer) {
  if (!answer.machine)
    return "  grade: name the --machine to see the highest speed";
  const auto& grade = answer.machine->limits.balance_grade;
  if (!grade)
    return "  grade: the machine file has no balance_grade_mm_s";
  const std::string name = "  grade G " + number_text(grade->mm_per_s());
  if (!answer.cures.slower)
    return name + ": no unbalance, any speed";
  const Speed limit = answer.machine->limits.speed;
  return name + ": up to " + number_text(answer.cures.slower->rpm(), 4) + " rpm" +
         (*answer.cures.slower > limit
              ? " (the machine ends at " + number_text(limit.rpm(), 5) + " rpm)"
              : std::string{}) +
         ", with the rotor of " + number_text(answer.machine->rotor.mass.g(), 4) + " g";
}

void say_figures(const Answer& answer, const Context& context) {
  const blank::Properties& p = answer.properties;
  context.say((answer.blank.name.empty() ? "Plate" : answer.blank.name) + ": " +
              number_text(p.mass.g()) + " g, farthest point " + mm(p.corner_radius) +
              " from the axis");
  context.say("  unbalance " + number_text(p.unbalance.g_mm()) + " g mm: centre of mass " +
              mm(p.offset.size()) + " off" +
              (p.offset.size() > kCentred ? ", towards " + towards(answer, p.offset.direction())
                                          : std::string(", centred")));
  if (answer.edge_uncertainty)
    context.say("  from edge distances that agree" +
                (*answer.edge_uncertainty < kCentred
                     ? std::string{}
                     : " to " + mm(2.0 * *answer.edge_uncertainty)));
  if (answer.from_run)
    context.say("  the hole's place is from " + answer.from_run->source + ", to " +
                mm(answer.from_run->uncertainty));
  context.say("  at " + number_text(answer.speed.rpm(), 5) + " rpm: pull " +
              number_text(blank::unbalance_force(p.unbalance, answer.speed).N()) + " N, energy " +
              number_text(blank::energy(p, answer.speed).J()) + " J, farthest point " +
              number_text(blank::corner_speed(p, answer.speed).m_per_s()) + " m/s, air drag " +
              number_text(blank::air_drag(p, answer.speed).mN_m()) + " mN m");
  context.say(
      "  uneven air from r = " + mm(answer.turbulent.onset) +
      (answer.turbulent.onset < p.corner_radius ? ": streaks there" : ", beyond the plate"));
  context.say(grade_line(answer));
}

std::string counter_text(const Answer& answer) {
  const balance::Cures& cures = answer.cures;
  if (cures.counter)
    return "put a counter-mass of " + number_text(cures.counter->mass.g()) + " g at radius " +
           mm(cures.counter->radius) + ", towards " + towards(answer, cures.counter->at);
  return "put a counter-mass towards " + towards(answer, cures.shift.towards) + ": " +
         number_text(answer.properties.unbalance.g_mm()) +
         " g mm over its radius (--rim tells the grams)";
}

/// The highest speed that is asked for and can be run, where the grade is kept there.
std::optional<Speed> kept_up_to(const Answer& answer) {
  if (!answer.machine || !answer.cures.slower)
    return std::nullopt;
  const Speed top = std::min(answer.speed, answer.machine->limits.speed);
  return *answer.cures.slower >= top ? std::optional(top) : std::nullopt;
}

std::vector<std::string> cautions(const Answer& answer) {
  std::vector<std::string> list;
  if (answer.machine && answer.speed > answer.machine->limits.speed)
    list.push_back(number_text(answer.speed.rpm(), 5) + " rpm is above the machine's limit of " +
                   number_text(answer.machine->limits.speed.rpm(), 5) +
                   " rpm: it will not be run there");
  list.emplace_back("a corner that touches, or a plate that comes off, cuts. Lid closed, eyes "
                    "covered, nobody in line with the plate's edge.");
  return list;
}

void say_cures(const Answer& answer, const Context& context) {
  if (answer.properties.offset.size() <= kCentred)
    return;
  const CureWords words{[&](Angle direction) { return towards(answer, direction); },
                        answer.blank.hole.diameter, counter_text(answer), "", kept_up_to(answer)};
  for (const std::string& line : cure_lines(answer.cures, words))
    context.say(line);
}

void say(const Answer& answer, const Context& context) {
  say_figures(answer, context);
  say_cures(answer, context);
  for (const std::string& caution : cautions(answer))
    context.say("Caution: " + caution);
}

Json move_json(const Answer& answer, const balance::Move& move) {
  return {{"by_mm", move.by.mm()},
          {"towards", blank::side_words(answer.blank.outline, move.towards)},
          {"plate_deg", move.towards.deg()}};
}

Json cures_json(const Answer& answer) {
  const balance::Cures& cures = answer.cures;
  Json json{{"shift", move_json(answer, cures.shift)}, {"counter_mass", nullptr}};
  json["shift"]["within_hole"] = cures.hole_lets_shift;
  if (cures.counter)
    json["counter_mass"] = {{"mass_g", cures.counter->mass.g()},
                            {"radius_mm", cures.counter->radius.mm()},
                            {"plate_deg", cures.counter->at.deg()}};
  json["highest_speed_rpm"] = cures.slower ? Json(cures.slower->rpm()) : Json(nullptr);
  json["redrill"] = move_json(answer, cures.redrill);
  return json;
}

Json hole_from_json(const Answer& answer) {
  if (!answer.from_run)
    return nullptr;
  return {{"source", answer.from_run->source},
          {"uncertainty_mm", answer.from_run->uncertainty.mm()}};
}

Json to_json(const Answer& answer) {
  const blank::Properties& p = answer.properties;
  return {{"mass_g", p.mass.g()},
          {"undrilled_mass_g", p.undrilled_mass.g()},
          {"area_mm2", p.area.mm2()},
          {"offset_mm", p.offset.size().mm()},
          {"heavy_side_deg", balance::wrapped(p.offset.direction()).deg()},
          {"hole_at_mm", {p.axis.x.mm(), p.axis.y.mm()}},
          {"centre_of_mass_mm", {p.centre_of_mass.x.mm(), p.centre_of_mass.y.mm()}},
          {"unbalance_g_mm", p.unbalance.g_mm()},
          {"speed_rpm", answer.speed.rpm()},
          {"force_N", blank::unbalance_force(p.unbalance, answer.speed).N()},
          {"max_speed_rpm", answer.cures.slower ? Json(answer.cures.slower->rpm()) : Json(nullptr)},
          {"corner_radius_mm", p.corner_radius.mm()},
          {"corner_speed_m_s", blank::corner_speed(p, answer.speed).m_per_s()},
          {"inertia_kg_m2", p.inertia.kg_m2()},
          {"energy_J", blank::energy(p, answer.speed).J()},
          {"air_drag_N_m", blank::air_drag(p, answer.speed).N_m()},
          {"turbulent_radius_mm", {answer.turbulent.onset.mm(), answer.turbulent.full.mm()}},
          {"heat_capacity_kJ_m2_K", blank::heat_capacity(answer.blank).kJ_per_m2_K()},
          {"hole_from_run", hole_from_json(answer)},
          {"cures", cures_json(answer)},
          {"cautions", cautions(answer)}};
}

report::Drawing drawing(const Answer& answer) {
  report::PlateDrawing plate{answer.blank, answer.properties, answer.speed, std::nullopt};
  if (answer.cures.counter)
    plate.counter = report::CounterMass{answer.cures.counter->mass, answer.cures.counter->radius};
  return draw(plate);
}

/// The plate with its hole where the run has it; or the exit status of a fault, which has been
/// said.
std::variant<HoleFromRun, int> from_run(FileLoader& files, const Options& options,
                                        const Plate& plate, const Context& context) {
  const auto found = hole_from_run(files, context.notebook, options.run, plate);
  if (!found)
    return files.fail();
  if (!found->ok())
    return context.fail(found->fault());
  return found->value();
}

int blank_command(const Options& options, const Context& context) {
  FileLoader files(context);
  auto plate = load_plate(files, options.plate);
  if (!files.ok())
    return files.fail();
  std::optional<HoleFromRun> run;
  if (plate && options.run.coat) {
    const auto found = from_run(files, options, *plate, context);
    if (const int* status = std::get_if<int>(&found))
      return *status;
    run = std::get<HoleFromRun>(found);
    plate.value().blank = run->blank;
    plate.value().properties = run->properties;
  }
  auto answer = plate ? work_out(options, *plate) : Result<Answer>(plate.fault());
  if (!answer)
    return context.fail(answer.fault());
  answer.value().from_run = run;
  if (!options.svg.empty()) {
    const auto written = write_text_file(options.svg, drawing(*answer).file());
    if (!written)
      return context.fail(written.fault());
  }
  say(*answer, context);
  context.answer(to_json(*answer));
  return kDone;
}

constexpr auto kExamples = R"(Directions are in the plate's frame: from its right-hand side,
counter-clockwise, seen from above.

Examples:
  whirler blank profiles/blanks/rain_gauge.json
  whirler blank board.json --machine spinner.json --speed 3000rpm --rim 25mm --svg plate.svg
  whirler blank board.json --machine spinner.json --coat 12 --plate-at 30deg

With --coat the hole's place is taken from the phase of that run, not from the file.)";

} // namespace

void add_blank(CLI::App& program, Context& context) {
  CLI::App& command =
      *program.add_subcommand("blank", "How heavy a plate is, how far off balance, and the cure");
  const auto options = std::make_shared<Options>();
  command.add_option("FILE", options->plate.blank, "The blank's file")->required();
  command.add_option("--machine", options->plate.machine, "The machine's file")->type_name("FILE");
  add_quantity<Speed>(command, "--speed", options->speed,
                      "Speed for force and energy (else the machine's highest, else 3000rpm)");
  add_quantity<Length>(command, "--rim", options->rim, "Radius where a counter-mass can go");
  command.add_option("--svg", options->svg, "Draw the plate into this file")->type_name("FILE");
  command.add_option("--coat", options->run.coat, "Take the hole's place from this coat's run")
      ->type_name("COAT");
  command
      .add_option("--baseline", options->run.baseline,
                  "With --coat: the bare hub's run, whose own unbalance comes off")
      ->type_name("FILE|COAT");
  add_mounting_options(command, options->plate);
  command.footer(kExamples);
  command.callback([options, &context] {
    context.work = [options, &context] { return blank_command(*options, context); };
  });
}

} // namespace whirler::cli
