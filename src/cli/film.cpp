// `whirler film`: what a profile leaves of a liquid. Command line and files; film_answer.cpp
// thinks.
#include "commands.hpp"
#include "film_answer.hpp"
#include "room_options.hpp"
#include "whirler/report/coat_charts.hpp"
#include "write_file.hpp"

#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kFilmExamples = R"(Examples:
  whirler film thin.json --resist amber.json
  whirler film thin.json --resist amber.json --blank board.json --volume 3mL
  whirler film thick.json --resist umber.json --machine bench.json --temperature 19C
  whirler film thin.json --resist amber.json --svg film.svg
A film that is not set at the end is an answer, not a fault: the status is 0.)";

struct FilmOptions {
  std::string profile;
  std::string resist;
  PlateOptions plate;
  std::optional<Volume> volume;
  std::optional<Length> screw; ///< its diameter
  bool back_covered = false;
  RoomOptions room;
  std::string svg;
};

/// Reads the files into the question; the command's status where that fails.
std::optional<int> read_files(const Context& context, const FilmOptions& options,
                              std::optional<FilmQuestion>& question) {
  FileLoader files(context);
  const auto profile = files.load<profile::Profile>(options.profile);
  const auto bottle = load_bottle(files, options.resist);
  auto plate = load_plate(files, options.plate);
  if (!files.ok())
    return files.fail();
  if (!plate)
    return context.fail(plate.fault());
  auto timeline = profile::timeline(profile->value);
  if (!timeline)
    return context.fail(timeline.fault());
  question = FilmQuestion{std::move(*timeline), *bottle,      std::move(*plate),   {},
                          options.volume,       std::nullopt, options.back_covered};
  if (options.screw)
    question->screw = 0.5 * *options.screw;
  return std::nullopt;
}

Outcome draw_film(const std::string& path, const FilmAnswer& answer) {
  report::Chart chart = report::film_chart(taught_course(answer).trace, answer.film);
  chart.title = "Film over time, as the profile asks";
  return write_text_file(path, report::draw(chart).file());
}

int run_film(const Context& context, const FilmOptions& options) {
  std::optional<FilmQuestion> question;
  if (const auto failed = read_files(context, options, question))
    return *failed;
  const auto& machine = question->plate.machine;
  question->air = air_of(options.room, question->bottle.resist.viscosity_at,
                         machine ? std::optional(machine->air) : std::nullopt);
  const auto answer = answer_to(*question);
  if (!answer)
    return context.fail(answer.fault());
  if (!options.svg.empty())
    if (const auto drawn = draw_film(options.svg, *answer); !drawn)
      return context.fail(drawn.fault());
  say_answer(context, *question, *answer);
  context.answer(json_of(*question, *answer));
  return kDone;
}

} // namespace

void add_film(CLI::App& program, Context& context) {
  auto options = std::make_shared<FilmOptions>();
  CLI::App* command =
      program.add_subcommand("film", "The film that a profile leaves")->footer(kFilmExamples);
  command->add_option("PROFILE", options->profile, "Profile file")->required();
  command->add_option("--resist", options->resist, "Resist file; its measured boards are used")
      ->required();
  command->add_option("--blank", options->plate.blank, "Blank file: size, heat, corners");
  command->add_option("--machine", options->plate.machine, "Machine file: air, motor");
  add_quantity<Volume>(*command, "--volume", options->volume, "Liquid poured, as 3mL");
  add_quantity<Length>(*command, "--screw", options->screw,
                       "Diameter of the screw head or washer that covers the centre");
  command->add_flag("--back-covered", options->back_covered,
                    "The air cools one face only: the back lies on a chuck");
  add_room_options(*command, options->room);
  command->add_option("--svg", options->svg, "Draw the film over time into this file")
      ->type_name("FILE");
  command->callback([&context, options] {
    context.work = [&context, options] { return run_film(context, *options); };
  });
}

} // namespace whirler::cli
