#include "board_plan.hpp"

#include "poured_text.hpp"
#include "run_film.hpp"
#include "whirler/profile/timeline.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

/// Spreads a puddle where the board does not say how [common practice, no source].
constexpr Speed kSpread = rpm(500.0);
constexpr Duration kSpreadDwell = seconds(5.0);

template <class T>
void prefer(T& into, const T& given, const T& absent = {}) {
  if (!(given == absent))
    into = given;
}

files::Board with_flags(files::Board board, const BoardWords& words) {
  const files::Board& given = words.given;
  prefer(board.name, given.name);
  prefer(board.resist, given.resist);
  prefer(board.blank, given.blank);
  prefer(board.machine, given.machine);
  if (given.target) {
    board.target = given.target;
    board.profile.clear();
  }
  if (!given.profile.empty()) {
    board.profile = given.profile;
    board.target.reset();
  }
  if (given.dwell)
    board.dwell = given.dwell;
  if (given.lamp)
    board.lamp = given.lamp;
  if (words.sides_given)
    board.sides = given.sides;
  return board;
}

Outcome whole(const files::Board& board) {
  const auto missing = [](const char* what, const char* flag) {
    return Fault{FaultKind::command_line, std::string("nothing says ") + what, "",
                 std::string("name a board's file, or give ") + flag};
  };
  if (board.name.empty())
    return missing("which board it is", "--board NAME");
  if (board.resist.empty())
    return missing("what is poured", "--resist FILE");
  if (board.blank.empty())
    return missing("what plate it is", "--blank FILE");
  if (board.machine.empty())
    return missing("what it runs on", "--machine FILE");
  if (!board.target && board.profile.empty())
    return missing("what film is wanted", "--target 2.4um, or --profile FILE");
  return Done{};
}

film::CoatPlan coat_plan(const files::Board& board, const machine::Machine& machine) {
  film::CoatPlan plan;
  plan.ramp = machine.limits.ramp;
  plan.dwell = board.dwell;
  const auto spread = board.spread.value_or(files::SpreadStep{kSpread, kSpreadDwell});
  plan.spread_speed = std::max(spread.speed, machine.limits.speed_min);
  plan.spread_dwell = spread.dwell;
  return plan;
}

Json step(const char* name, Speed speed, Ramp ramp, Duration dwell) {
  return {{"name", name},
          {"speed_rpm", std::round(speed.rpm())},
          {"ramp_rpm_s", rounded(ramp.rpm_per_s())},
          {"dwell_s", rounded(std::round(10.0 * dwell.s()) / 10.0)}};
}

/// The plan's own curve, as a profile.
std::string profile_text(const BoardPlan& plan) {
  const film::CoatPlan& coat = plan.question.plan;
  const Speed top = plan.answer->choice.speed;
  Json steps = Json::array();
  if (coat.spread_speed && *coat.spread_speed < top)
    steps.push_back(step("spread", *coat.spread_speed, coat.ramp, coat.spread_dwell));
  steps.push_back(step("thin", top, coat.ramp, plan.answer->dwell));
  return Json{{"kind", "profile"},
              {"format", 1},
              {"name", "for " + plan.board.name},
              {"steps", steps},
              {"stop", {{"ramp_rpm_s", rounded(coat.ramp.rpm_per_s())}}}}
      .dump();
}

Outcome choose_speed(BoardPlan& plan) {
  plan.question.target = *plan.board.target;
  plan.question.plan = coat_plan(plan.board, *plan.question.plate.machine);
  const auto answer = answer_to(plan.question);
  if (!answer)
    return answer.fault();
  plan.answer = *answer;
  plan.run.profile = "for " + plan.board.name;
  plan.run.profile_text = profile_text(plan);
  return Done{};
}

Outcome follow_profile(BoardPlan& plan, const profile::Profile& profile) {
  const auto laid = profile::timeline(profile);
  if (!laid)
    return laid.fault();
  FilmQuestion question{
      *laid, *plan.question.bottle, plan.question.plate, plan.question.air, {}, {}, false};
  const auto film = answer_to(question);
  if (!film)
    return film.fault();
  plan.by_profile = *film;
  plan.run.profile = plan.board.profile;
  return Done{};
}

RunWords run_words(const BoardWords& words, const files::Board& board) {
  RunWords run = words.run;
  run.machine = board.machine;
  run.resist = board.resist;
  run.blank = board.blank;
  run.board = board.name;
  return run;
}

std::optional<files::Board> read_board(FileLoader& files, const BoardWords& words) {
  if (words.file.empty())
    return with_flags({}, words);
  auto read = files.load<files::Board>(words.file);
  if (!read)
    return std::nullopt;
  for (std::string* path :
       {&read->value.resist, &read->value.blank, &read->value.machine, &read->value.profile})
    *path = path_from(words.file, *path);
  return with_flags(std::move(read->value), words);
}

} // namespace

std::optional<film::Coverage> BoardPlan::coverage() const {
  return answer ? answer->coverage : by_profile->coverage;
}

std::string BoardPlan::pour_text() const {
  const auto needed = coverage();
  return needed ? "pour " + poured_text(needed->advised) : std::string("pour");
}

const std::vector<std::string>& BoardPlan::cautions() const {
  return answer ? answer->cautions : by_profile->cautions;
}

std::optional<Result<BoardPlan>> plan_board(FileLoader& files, const BoardWords& words) {
  auto board = read_board(files, words);
  if (!board)
    return std::nullopt;
  if (const auto ok = whole(*board); !ok)
    return ok.fault();
  BoardPlan plan;
  plan.board = std::move(*board);
  plan.run = run_words(words, plan.board);
  plan.question.bottle = load_bottle(files, plan.board.resist);
  const auto plate = load_plate(files, {plan.board.blank, plan.board.machine, {}, false});
  const auto profile =
      plan.board.profile.empty() ? std::nullopt : files.load<profile::Profile>(plan.board.profile);
  if (!files.ok())
    return std::nullopt;
  if (!plate)
    return plate.fault();
  if (!plate->machine)
    return input_fault("no machine was read", plan.board.machine, "name the machine's file");
  plan.question.plate = *plate;
  plan.question.air = air_of(words.run.room, plan.question.bottle->resist.viscosity_at,
                             std::optional(plate->machine->air));
  const auto ok = profile ? follow_profile(plan, profile->value) : choose_speed(plan);
  if (!ok)
    return ok.fault();
  return plan;
}

void say_plan(const Context& context, const BoardPlan& plan) {
  context.say("BOARD " + plan.board.name);
  if (plan.answer) {
    say_answer(context, plan.question, *plan.answer);
    return;
  }
  const FilmAnswer& film = *plan.by_profile;
  context.say("profile  " + plan.board.profile + ": " + film_text(film.film, film.course.is_set));
  if (film.coverage)
    context.say("pour     " + poured_text(film.coverage->advised) + " or more");
  for (const std::string& warning : film.warnings)
    context.say("warning  " + warning);
  for (const std::string& caution : film.cautions)
    context.say("caution  " + caution);
}

Json plan_json(const BoardPlan& plan) {
  if (plan.answer)
    return json_of(plan.question, *plan.answer);
  Json json = film_json(plan.by_profile);
  json["profile"] = plan.board.profile;
  return json;
}

} // namespace whirler::cli
