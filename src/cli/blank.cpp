// `whirler blank`: what a plate weighs, how far it is off balance, and what to do about it.
#include "blank_answer.hpp"
#include "commands.hpp"
#include "parsed_option.hpp"
#include "whirler/blank/edges.hpp"
#include "whirler/units/text.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <variant>

namespace whirler::cli {
namespace {

/// Shown where neither --speed nor a machine says one.
constexpr Speed kUsualSpeed = rpm(3000.0);
struct Options {
  PlateOptions plate;
  std::optional<Speed> speed;
  std::optional<Length> rim;
  std::string svg;
  JitterWords run; ///< whose phase says where the hole is
};

Result<balance::Cures> cures_of(const Plate& plate, const std::optional<Length>& rim) {
  const blank::Properties& p = *plate.properties;
  balance::OffBalance off{{p.unbalance, p.offset.direction()},
                          p.mass,
                          p.undrilled_mass,
                          std::nullopt,
                          {},
                          rim,
                          plate.blank->hole.diameter,
                          p.unbalance_at_most};
  if (plate.machine) {
    off.rotor = plate.machine->rotor.mass;
    off.grade = plate.machine->limits.balance_grade;
  }
  return balance::cures(off);
}

/// A hub's rim lies outside the hole that is bolted through, and not far beyond the plate (common
/// practice, no source).
Outcome check_rim(const std::optional<Length>& rim, const Plate& plate) {
  const Length hole = 0.5 * plate.blank->hole.diameter;
  const Length most = std::max(2.0 * plate.properties->corner_radius, millimetres(100.0));
  if (!rim || (*rim > hole && *rim <= most))
    return Done{};
  return input_fault("the rim's radius is " + number_text(rim->mm(), 4) + " mm", "--rim",
                     "give a radius outside the hole, " + number_text(hole.mm()) +
                         " mm, and up to " + number_text(most.mm()) + " mm");
}

Result<BlankAnswer> work_out(const Options& options, const Plate& plate,
                             const std::optional<HoleFromRun>& run) {
  const Speed machine_speed = plate.machine ? plate.machine->limits.speed : kUsualSpeed;
  const Speed speed = options.speed.value_or(machine_speed);
  constexpr Speed kFastest = rpm(100'000); // as in a machine's file
  if (!(speed > Speed{}))
    return input_fault("the speed is " + number_text(speed.rpm()) + " rpm", "--speed",
                       "give a speed above 0");
  if (speed > kFastest)
    return input_fault("the speed is " + number_text(speed.rpm()) + " rpm", "--speed",
                       "give a speed up to " + number_text(kFastest.rpm()) + " rpm");
  if (const auto ok = check_rim(options.rim, plate); !ok)
    return ok.fault();
  const auto turbulent = blank::turbulent_zone(speed);
  if (!turbulent)
    return turbulent.fault();
  const auto cures = cures_of(plate, options.rim);
  if (!cures)
    return cures.fault();
  const auto edges =
      plate.blank->edges ? std::optional(blank::hole_doubt(*plate.blank)) : std::nullopt;
  return BlankAnswer{*plate.blank,
                     *plate.properties,
                     plate.machine,
                     speed,
                     *turbulent,
                     *cures,
                     edges,
                     plate.mounting.turned_over,
                     run};
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

/// Options that would be left unused without a run to read.
Outcome check_words(const Options& options) {
  if (options.run.coat)
    return Done{};
  if (!options.run.baseline.empty())
    return command_line_fault("--baseline is for a run, and there is no --coat",
                              "give --coat, or leave --baseline out");
  return check_mounting_words(options.plate, false, "--coat");
}

int blank_command(const Options& options, const Context& context) {
  if (const auto ok = check_words(options); !ok)
    return context.fail(ok.fault());
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
  auto answer = plate ? work_out(options, *plate, run) : Result<BlankAnswer>(plate.fault());
  if (!answer)
    return context.fail(answer.fault());
  if (!options.svg.empty()) {
    const auto written = write_text_file(options.svg, drawing(*answer).file());
    if (!written)
      return context.fail(written.fault());
  }
  say_blank(*answer, context);
  context.answer(to_json(*answer));
  return kDone;
}

constexpr auto kBlankExamples =
    R"(Right, left, away from you and towards you are as the plate lies on
the hub, seen from above; degrees are the drawing's: from its right-hand side, counter-clockwise.

Examples:
  whirler blank profiles/blanks/rain_gauge.json
  whirler blank board.json --machine spinner.json --speed 3000rpm --rim 25mm --svg plate.svg
  whirler blank board.json --machine spinner.json --coat 12 --plate-at 30deg

With --coat the hole's place is taken from the phase of that run, not from the file. Balancing
masses that were on in a run of `balance --guided` are taken off.)";

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
  command.footer(kBlankExamples);
  command.callback([options, &context] {
    context.work = [options, &context] { return blank_command(*options, context); };
  });
}

} // namespace whirler::cli
