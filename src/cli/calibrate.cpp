// Learns a resist from measured boards.
#include "bottle.hpp"
#include "commands.hpp"
#include "film_agreement.hpp"
#include "parsed_option.hpp"
#include "replace_file.hpp"
#include "room_options.hpp"
#include "scales.hpp"
#include "whirler/film/prediction.hpp"
#include "witness_text.hpp"

#include <algorithm>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kCalibrateExamples = R"(Examples:
  cp profiles/resists/amber.json amber.json    (a copy that is yours)
  whirler calibrate amber.json --witness 1.62um@3000rpm
  whirler calibrate amber.json --witness 2.3um@1500rpm@21C --witness 1.2um@5000rpm@21C
  whirler calibrate amber.json --witness 2.2um@3000rpm --spread 5s@500rpm --ramp 1000rpm/s
  whirler calibrate amber.json --weighed 24.000g,24.096g --area 80cm2 --speed 3000rpm
  whirler calibrate amber.json                 (says what the boards so far teach)
Boards are kept in amber.calibration.json beside the resist; delete it to start over.
Weigh one and the same board, before coating and after drying; a nominal mass will not do.)";

struct Weighing {
  Mass before;
  Mass after;
  Mass digit; ///< the last that was typed: the scales'
};

struct CalibrateOptions {
  std::string resist;
  std::vector<film::Known> witnesses;
  std::optional<Weighing> weighed;
  int weighings = 0; ///< how often --weighed was given
  std::optional<Area> area;
  std::optional<Speed> speed;
  std::optional<Duration> dwell;
  std::optional<Ramp> ramp;
  std::optional<Spread> spread;
  bool dry_run = false;
  bool sure = false;
  RoomOptions room;
};

/// Of two masses "24.000g,24.096g": the finer one, since zeros at the end are often left out.
Mass digit_of_scales(std::string_view text) {
  const auto comma = text.find(',');
  return std::min(last_digit(text.substr(0, comma)), last_digit(text.substr(comma + 1)));
}

std::vector<std::string> warnings_of(const std::optional<Weighing>& weighed) {
  const auto coarse =
      weighed ? coarse_scales(weighed->digit, weighed->after - weighed->before) : std::nullopt;
  return coarse ? std::vector<std::string>{*coarse} : std::vector<std::string>{};
}

/// A weighing's film, with the density of the dry film from the label.
Result<std::optional<Length>> weighed_film(const CalibrateOptions& options,
                                           const film::Resist& resist) {
  if (!options.weighed)
    return std::optional<Length>{};
  if (!options.area)
    return Fault{FaultKind::command_line, "two masses without the area of the film", "",
                 "give the coated area, as --area 80cm2"};
  const Density dry = resist.dries() ? resist.solids_density : resist.density;
  const auto film =
      film::weighed_thickness(options.weighed->before, options.weighed->after, *options.area, dry);
  if (!film)
    return film.fault();
  return std::optional(*film);
}

std::vector<film::Board> new_boards(const CalibrateOptions& options,
                                    const std::optional<Length>& weighed) {
  std::vector<film::Board> boards;
  film::Spin spin{options.speed.value_or(Speed{}),
                  options.room.temperature,
                  options.dwell,
                  options.ramp,
                  {},
                  {}};
  if (options.spread) {
    spin.spread_speed = options.spread->speed;
    spin.spread_dwell = options.spread->dwell;
  }
  for (const film::Known& known : options.witnesses) {
    film::Spin own = spin;
    own.speed = known.speed;
    own.temperature = known.temperature ? known.temperature : spin.temperature;
    boards.push_back({own, known.thickness, false});
  }
  if (weighed && options.speed)
    boards.push_back({spin, *weighed, true});
  return boards;
}

/// A file of boards holds no more, and would not be read again.
Outcome check_added(const std::vector<film::Board>& boards) {
  constexpr Speed kFastest = rpm(100'000.0);
  for (const film::Board& board : boards) {
    const film::Spin& spin = board.spin;
    const bool turns =
        !spin.spread_speed || (*spin.spread_speed > rpm(0) && *spin.spread_speed <= kFastest &&
                               spin.spread_dwell > seconds(0));
    if (!turns || (spin.ramp && !(*spin.ramp > rpm_per_s(0))))
      return input_fault("a board's spread or ramp is not above 0", "",
                         "give what it was coated by, as --spread 5s@500rpm --ramp 1000rpm/s");
    if (auto spun = check_spun_film(board.thickness); !spun)
      return spun;
    if (board.spin.speed > kFastest)
      return input_fault("a board at " + number_text(board.spin.speed.rpm()) + " rpm", "",
                         "give up to " + number_text(kFastest.rpm()) + " rpm; check the unit");
  }
  return Done{};
}

Result<film::BaseModel> label_model(const film::Resist& resist,
                                    const film::Conditions& conditions) {
  return film::thinning_model(resist, board_plan(std::nullopt, conditions.dwell),
                              {conditions.air, {}, {}});
}

/// A board far from what the label, and the boards before it, foresaw of its own spin: a slip of
/// the unit sooner than a film, and every later estimate would follow it.
Outcome check_believable(const Bottle& bottle, const std::vector<film::Board>& added,
                         const film::Conditions& conditions) {
  const auto label = label_model(bottle.resist, conditions);
  if (!label)
    return label.fault();
  for (const film::Board& board : added) {
    film::BaseModel own = *label;
    own.thickness = [&](const film::Spin&) { return label->thickness(board.spin); };
    const auto prediction = film::predict(own, *label, bottle.boards);
    if (!prediction)
      return prediction.fault();
    const auto film = prediction->curve(board.spin.speed);
    if (!film)
      return film.fault();
    if (auto doubt = doubt_of(board.thickness, *film)) {
      doubt->next += "; --sure learns from it although";
      return *doubt;
    }
  }
  return Done{};
}

/// Boards that repeat one already known figure for figure are one board typed twice: as boards of
/// their own they would narrow the interval by what nobody measured. Taken out, and named.
std::vector<std::string> take_out_repeats(const std::vector<film::Board>& known,
                                          std::vector<film::Board>& added) {
  std::vector<film::Board> fresh;
  std::vector<std::string> texts;
  const auto has = [](const std::vector<film::Board>& boards, const film::Board& board) {
    return std::find(boards.begin(), boards.end(), board) != boards.end();
  };
  for (const film::Board& board : added) {
    if (!has(known, board) && !has(fresh, board)) {
      fresh.push_back(board);
      continue;
    }
    texts.push_back("a board of " + number_text(board.thickness.um()) + " um at " +
                    number_text(board.spin.speed.rpm(), 4) +
                    " rpm is known already, figure for figure: counted once; if it is another "
                    "board, give one digit more");
  }
  added = std::move(fresh);
  return texts;
}

/// What all boards together teach.
struct Learnt {
  std::vector<film::Board> boards;
  film::Calibration calibration; ///< of no board: the label's own spread
  double exponent = 0.5;
};

Result<Learnt> learn(const Bottle& bottle, std::vector<film::Board> boards,
                     const film::Conditions& conditions) {
  const auto model = label_model(bottle.resist, conditions);
  if (!model)
    return model.fault();
  const film::BaseModel& base = *model;
  Learnt learnt;
  learnt.boards = std::move(boards);
  const auto prediction = film::predict(base, learnt.boards);
  if (!prediction)
    return prediction.fault();
  if (prediction->calibration) {
    learnt.calibration = *prediction->calibration;
  } else {
    learnt.calibration.pivot = rpm(3000);
    learnt.calibration.factor_variance = base.deviation * base.deviation;
  }
  const auto exponent = film::exponent_at(*prediction, learnt.calibration.pivot);
  if (!exponent)
    return exponent.fault();
  learnt.exponent = *exponent;
  return learnt;
}

Json json_of(const Learnt& learnt, const std::optional<Length>& weighed,
             const std::vector<std::string>& suspects, const std::string& file, bool stored) {
  const film::Calibration& c = learnt.calibration;
  Json boards = Json::array();
  for (const film::Board& board : learnt.boards)
    boards.push_back({{"speed_rpm", rounded(board.spin.speed.rpm())},
                      {"thickness_um", rounded(board.thickness.um())},
                      {"how", board.weighed ? "weighed" : "gauge"}});
  Json document = {{"factor", rounded(c.factor())},
                   {"interval", {rounded(c.factor_low()), rounded(c.factor_high())}},
                   {"exponent", rounded(learnt.exponent)},
                   {"at_speed_rpm", rounded(c.pivot.rpm())},
                   {"boards", boards},
                   {"used", c.used},
                   {"suspects", suspects},
                   {"file", file},
                   {"stored", stored}};
  if (weighed)
    document["thickness_um"] = rounded(weighed->um());
  return document;
}

void say_learnt(const Context& context, const Learnt& learnt,
                const std::vector<std::string>& suspects) {
  const film::Calibration& c = learnt.calibration;
  context.say("factor   " + number_text(c.factor()) + " (95 %: " + number_text(c.factor_low()) +
              " to " + number_text(c.factor_high()) + ") on the label's film");
  context.say("exponent " + number_text(learnt.exponent) + " around " +
              number_text(c.pivot.rpm(), 4) + " rpm");
  context.say("boards   " + std::to_string(c.used) + " of " + std::to_string(learnt.boards.size()));
  for (const std::string& suspect : suspects)
    context.say("warning  " + suspect);
}

Outcome store(const Bottle& bottle, const std::vector<film::Board>& kept) {
  return replace_file(calibration_path(bottle.path),
                      files::write_calibration({bottle.resist.name, kept}));
}

/// An option that nothing would be done with is a board that the user believes to be learnt from.
Outcome check_options(const CalibrateOptions& options) {
  if (options.weighings > 1)
    return command_line_fault("--weighed was given " + std::to_string(options.weighings) + " times",
                              "learn from one weighed board at a time");
  if (options.weighed)
    return Done{};
  if (options.area)
    return command_line_fault("--area without --weighed",
                              "give both masses, as --weighed 24.000g,24.096g");
  if (options.speed)
    return command_line_fault(
        "--speed is that of a weighed board",
        "give --weighed, or the speed with the board, as --witness 1.62um@3000rpm");
  if (options.witnesses.empty() && (options.spread || options.ramp))
    return command_line_fault("--spread and --ramp without a board", "give --witness or --weighed");
  return Done{};
}

int run_calibrate(const Context& context, const CalibrateOptions& options) {
  if (auto sound = check_options(options); !sound)
    return context.fail(sound.fault());
  // Two that learn at once would each store what it read and its own: one would be lost.
  const HeldFile alone(options.resist);
  FileLoader files(context);
  const auto bottle = load_bottle(files, options.resist);
  if (!bottle || !files.ok())
    return files.fail();
  std::vector<film::Board> kept = load_boards(files, options.resist);
  const auto weighed = weighed_film(options, bottle->resist);
  if (!weighed)
    return context.fail(weighed.fault());
  std::vector<film::Board> added = new_boards(options, *weighed);
  settle_rooms(added, bottle->resist);
  if (auto sound = check_added(added); !sound)
    return context.fail(sound.fault());
  const film::Conditions conditions{air_of(options.room, bottle->resist.viscosity_at, std::nullopt),
                                    options.dwell};
  if (!options.sure)
    if (auto sound = check_believable(*bottle, added, conditions); !sound)
      return context.fail(sound.fault());
  const std::vector<std::string> repeats = take_out_repeats(bottle->boards, added);
  const std::vector<std::string> coarse = warnings_of(options.weighed);
  std::vector<film::Board> all = bottle->boards;
  all.insert(all.end(), added.begin(), added.end());
  const auto learnt = learn(*bottle, std::move(all), conditions);
  if (!learnt)
    return context.fail(learnt.fault());
  const bool stores = !added.empty() && !options.dry_run;
  kept.insert(kept.end(), added.begin(), added.end());
  if (stores)
    if (auto stored = store(*bottle, kept); !stored)
      return context.fail(stored.fault());
  const auto suspects = suspect_texts(learnt->calibration, learnt->boards);
  if (*weighed)
    context.say("weighed  " + number_text((*weighed)->um()) + " um" +
                (options.speed ? "" : "; give --speed to learn from it"));
  say_learnt(context, *learnt, suspects);
  for (const std::string& repeat : repeats)
    context.say("warning  " + repeat);
  for (const std::string& warning : coarse)
    context.say("warning  " + warning);
  if (stores)
    context.say("stored   " + calibration_path(bottle->path));
  Json document = json_of(*learnt, *weighed, suspects, calibration_path(bottle->path), stores);
  document["repeats"] = repeats;
  document["warnings"] = coarse;
  context.answer(document);
  return kDone;
}

void add_board_options(CLI::App& command, CalibrateOptions& options) {
  add_parsed(command, "--witness", "A measured board, as 1.62um@3000rpm@22C; may be given again",
             "T@N[@C]", [&options](std::string_view text) {
               return keep(parse_witness(text),
                           [&](const film::Known& known) { options.witnesses.push_back(known); });
             });
  add_parsed(command, "--weighed", "Mass before and after coating, as 24.000g,24.096g", "M0,M1",
             [&options](std::string_view text) {
               return keep(parse_pair<Mass>(text, "24.000g,24.096g"), [&](const auto& pair) {
                 options.weighed = Weighing{pair.first, pair.second, digit_of_scales(text)};
                 ++options.weighings;
               });
             });
  add_quantity<Area>(command, "--area", options.area, "Coated area of the weighed board");
  add_quantity<Speed>(command, "--speed", options.speed, "Speed of the weighed board");
  add_quantity<Duration>(command, "--dwell", options.dwell,
                         "Time at speed; needed by a liquid that does not dry");
  add_quantity<Ramp>(command, "--ramp", options.ramp,
                     "Up to speed, of the boards given here (3000rpm/s)");
  add_parsed(command, "--spread", "Step before it, of the boards given here, as 5s@500rpm", "S@N",
             [&options](std::string_view text) {
               return keep(parse_spread(text), [&](const Spread& s) { options.spread = s; });
             });
  command.add_flag("--sure", options.sure, "Although a board is far from what its spin leaves");
  command.add_flag("--dry-run", options.dry_run, "Say what would be learnt, store nothing");
}

} // namespace

void add_calibrate(CLI::App& program, Context& context) {
  auto options = std::make_shared<CalibrateOptions>();
  CLI::App* command = program.add_subcommand("calibrate", "Learns a resist from measured boards")
                          ->footer(kCalibrateExamples);
  command->add_option("RESIST", options->resist, "Resist file")->required();
  add_board_options(*command, *options);
  add_room_options(*command, options->room);
  command->callback([&context, options] {
    context.work = [&context, options] { return run_calibrate(context, *options); };
  });
}

} // namespace whirler::cli
