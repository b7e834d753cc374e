// The speed for a thickness: command line and files; speed_answer.cpp thinks.
#include "commands.hpp"
#include "parsed_option.hpp"
#include "room_options.hpp"
#include "speed_answer.hpp"
#include "witness_text.hpp"

#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kSpeedExamples = R"(Examples:
  whirler speed --target 1.2um --known 1.62um@3000rpm
  whirler speed --target 1.2um --known 1.62um@3000rpm@18C --temperature 24C
  whirler speed --target 4um --resist profiles/resists/amber.json
        --machine profiles/machines/bench.json --blank profiles/blanks/rain_gauge.json
  whirler speed --target 2.4um --resist profiles/resists/amber.json --spread 5s@500rpm
  whirler speed --target 15um --resist profiles/resists/lacquer-oil.json --dwell 60s
One measured board narrows the interval from 45 % to under 10 %.)";

struct SpeedOptions {
  std::optional<Length> target;
  std::string resist;
  PlateOptions plate;
  std::vector<film::Known> known;
  std::optional<Duration> dwell;
  std::optional<Ramp> ramp;
  std::optional<Spread> spread;
  RoomOptions room;
};

/// Where --temperature is silent: as warm as the known board's room, else as the label's figures.
Temperature quiet_temperature(const SpeedQuestion& question) {
  constexpr Temperature kRoom = celsius(22.0);
  if (!question.known.empty() && question.known.front().temperature)
    return *question.known.front().temperature;
  return question.bottle ? question.bottle->resist.viscosity_at : kRoom;
}

film::CoatPlan plan_of(const SpeedOptions& options,
                       const std::optional<machine::Machine>& machine) {
  film::CoatPlan plan;
  plan.ramp = options.ramp.value_or(machine ? machine->limits.ramp : kUsualRamp);
  plan.dwell = options.dwell;
  if (options.spread) {
    plan.spread_speed = options.spread->speed;
    plan.spread_dwell = options.spread->dwell;
  }
  return plan;
}

/// Reads the files into the question; the command's status where that fails.
std::optional<int> read_files(const Context& context, const SpeedOptions& options,
                              SpeedQuestion& question) {
  FileLoader files(context);
  if (!options.resist.empty())
    question.bottle = load_bottle(files, options.resist);
  auto plate = load_plate(files, options.plate);
  if (!files.ok())
    return files.fail();
  if (!plate)
    return context.fail(plate.fault());
  question.plate = std::move(*plate);
  return std::nullopt;
}

int run_speed(const Context& context, const SpeedOptions& options) {
  if (options.resist.empty() && options.known.empty())
    return context.fail({FaultKind::command_line, "nothing says what the liquid leaves", "",
                         "give --resist FILE, or a measured board as --known 1.62um@3000rpm"});
  if (options.dwell && *options.dwell <= seconds(0))
    return context.fail(input_fault("a dwell of " + number_text(options.dwell->s()) + " s", "",
                                    "give a time above 0, as 30s"));
  SpeedQuestion question;
  question.target = *options.target;
  question.known = options.known;
  if (const auto failed = read_files(context, options, question))
    return *failed;
  const auto& machine = question.plate.machine;
  question.air = air_of(options.room, quiet_temperature(question),
                        machine ? std::optional(machine->air) : std::nullopt);
  question.plan = plan_of(options, machine);
  const auto answer = answer_to(question);
  if (!answer)
    return context.fail(answer.fault());
  say_answer(context, question, *answer);
  context.answer(json_of(question, *answer));
  return kDone;
}

void add_coat_options(CLI::App& command, SpeedOptions& options) {
  add_quantity<Duration>(command, "--dwell", options.dwell,
                         "Time at speed; needed by a liquid that does not dry");
  add_quantity<Ramp>(command, "--ramp", options.ramp,
                     "Up to speed (the machine's limit, else 3000rpm/s)");
  add_parsed(command, "--spread", "Step before it, as 5s@500rpm", "S@N",
             [&options](std::string_view text) {
               return keep(parse_spread(text), [&](const Spread& s) { options.spread = s; });
             });
}

} // namespace

void add_speed(CLI::App& program, Context& context) {
  auto options = std::make_shared<SpeedOptions>();
  CLI::App* command =
      program.add_subcommand("speed", "The speed for a thickness")->footer(kSpeedExamples);
  add_quantity<Length>(*command, "--target", options->target, "Film wanted, as 1.2um")->required();
  command->add_option("--resist", options->resist, "Resist file; its measured boards are used");
  add_parsed(*command, "--known", "A measured board, as 1.62um@3000rpm@22C; may be given again",
             "T@N[@C]", [options](std::string_view text) {
               return keep(parse_witness(text),
                           [&](const film::Known& known) { options->known.push_back(known); });
             });
  command->add_option("--blank", options->plate.blank, "Blank file: corners, air and balance");
  command->add_option("--machine", options->plate.machine, "Machine file: limits, air, motor");
  add_coat_options(*command, *options);
  add_room_options(*command, options->room);
  command->callback([&context, options] {
    context.work = [&context, options] { return run_speed(context, *options); };
  });
}

} // namespace whirler::cli
