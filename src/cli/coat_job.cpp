#include "coat_job.hpp"

#include "board_close.hpp"
#include "board_notes.hpp"
#include "prompter.hpp"
#include "run_job.hpp"
#include "run_view.hpp"
#include "side_story.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <iostream>

namespace whirler::cli {
namespace {

class BoardJob {
 public:
  BoardJob(const CoatWords& words, const Context& context, BoardPlan plan, LoadedRun run,
           notebook::Notebook notebook)
      : words_(words), context_(context), plan_(std::move(plan)), run_(std::move(run)),
        notes_(std::move(notebook), plan_.board.name, run_.resist_name), prompter_(words.yes),
        recoats_(words.recoat), early_(words.after_early_end) {
    for (const std::string& name : plan_.board.sides)
      sides_.push_back({name, SideState::bare, {}, 0, {}, kDone, nullptr});
  }

  int go();

 private:
  [[nodiscard]] Outcome work();
  void say_before() const;
  void say_after() const;
  [[nodiscard]] Outcome weigh(const char* when, const std::string& text,
                              const std::optional<std::string>& ahead, std::optional<Mass>& into);
  [[nodiscard]] Outcome coat_side(SideStory& side, bool flipped);
  [[nodiscard]] Result<char> mount(const SideStory& side, bool flipped) const;
  [[nodiscard]] Result<char> pour_again(const SideStory& side, bool washed) const;
  [[nodiscard]] Outcome run_once(SideStory& side);
  void take_in(SideStory& side, const session::RunResult& result);
  [[nodiscard]] Result<char> ask_after(const SideStory& side);
  [[nodiscard]] std::optional<std::string> answer_ahead(const SideStory& side);
  [[nodiscard]] Outcome cancel(SideStory& side);
  [[nodiscard]] Outcome finish();
  [[nodiscard]] Outcome expose(SideStory& side);
  [[nodiscard]] Outcome offer_teaching();
  [[nodiscard]] RunWords words_of_run() const;
  [[nodiscard]] Json json(const Outcome& outcome) const;

  const CoatWords& words_;
  const Context& context_;
  BoardPlan plan_;
  LoadedRun run_;
  BoardNotes notes_;
  Prompter prompter_;
  std::vector<std::string> recoats_; ///< flags not yet used
  std::optional<std::string> early_; ///< likewise
  std::vector<SideStory> sides_;
  std::optional<Mass> before_;
  std::optional<Mass> after_;
  std::optional<Length> by_weight_;
  bool taught_ = false;
  int runs_ = 0;
  bool refused_ = false; ///< the last run was not started
};

void BoardJob::say_before() const {
  say_plan(context_, plan_);
  const auto& said = plan_.cautions();
  for (const std::string& caution : run_.cautions)
    if (std::count(said.begin(), said.end(), caution) == 0)
      context_.say("caution  " + caution);
  for (const std::string& line : notes_.lying(wall_clock()))
    context_.say("note     " + line);
  // Order of the steps around a coat [common practice, no source].
  context_.say("before   clean copper: degrease, rinse until water runs off as one film, dry; "
               "gloves from here on, yellow light only");
}

void BoardJob::say_after() const {
  context_.say("after    dry each side as the resist's own sheet says; keep the board from white "
               "light and dust until it is exposed");
  for (const std::string& line : notes_.lying(wall_clock()))
    context_.say("note     " + line);
}

Outcome BoardJob::weigh(const char* when, const std::string& text,
                        const std::optional<std::string>& ahead, std::optional<Mass>& into) {
  if (words_.no_weighing && !ahead)
    return Done{};
  const auto answer =
      prompter_.ask({text + " Grams, Enter: not weighed", "", ahead},
                    [](const std::string& typed) -> std::optional<std::string> {
                      const auto mass = read_mass(typed);
                      return mass ? std::nullopt : std::optional(to_text(mass.fault()));
                    });
  if (!answer)
    return answer.fault();
  into = *read_mass(*answer);
  if (!into)
    return Done{};
  return notes_.keep("weighing", {{"when", when}, {"mass_g", rounded(into->g())}});
}

Result<char> BoardJob::mount(const SideStory& side, bool flipped) const {
  std::string text = "SIDE " + side.name + ". ";
  if (flipped)
    text += "FLIP the plate, the other side touch-dry first; hold it by its edges. ";
  text +=
      "Screw tight, " + plan_.pour_text() + ", lid shut. Enter runs, c cancels this side, q ends";
  std::optional<std::string> ahead;
  if (std::count(words_.cancel.begin(), words_.cancel.end(), side.name) > 0)
    ahead = "c";
  return prompter_.choose({text, "", ahead}, "c");
}

Result<char> BoardJob::pour_again(const SideStory& side, bool washed) const {
  const std::string text = washed
                               ? "SIDE " + side.name + " again: wash off, dry, " + plan_.pour_text()
                               : "SIDE " + side.name + ": " + plan_.pour_text() + " over the film";
  return prompter_.choose({text + ", lid shut. Enter runs, c cancels this side, q ends", "", {}},
                          "c");
}

RunWords BoardJob::words_of_run() const {
  RunWords words = plan_.run;
  words.faults = faults_of_run(words_, runs_);
  return words;
}

void BoardJob::take_in(SideStory& side, const session::RunResult& result) {
  Json json = run_json(result);
  ++side.pours;
  side.status = run_status(result);
  side.state =
      result.summary->ending == run::Ending::completed ? SideState::coated : SideState::ended_early;
  const std::int64_t number = result.coat.value_or(0);
  const auto coat = notes_.book().coat(number);
  if (!coat) {
    context_.say("warning  " + to_text(coat.fault()));
    side.film.reset();
    side.runs.push_back(std::move(json));
    return;
  }
  const CoatReading reading = read_coat(*coat);
  json["film"] = film_json(reading.film);
  side.runs.push_back(std::move(json));
  side.film = film_after(side.pours > 1 ? side.film : std::nullopt, reading.film);
  if (side.film) {
    context_.say("FILM " + film_text(side.film->film, side.film->is_set));
    for (const std::string& row : result_rows(context_.json, side.film->film.thickness))
      context_.say(row);
    context_.say(
        "  " + film_advice(*side.film, plan_.board.target, plan_.question.bottle->resist.dries()));
  }
  for (const std::string& note : reading.notes)
    context_.say("note     " + note);
  for (const std::string& line : vibration_lines(reading, number))
    context_.say(line);
}

Outcome BoardJob::run_once(SideStory& side) {
  ++runs_;
  RunWords words = words_of_run();
  words.side = side.name;
  run_.order.plan.lid_confirmed = words.lid_closed; // asked anew for each run
  ask_for_lid(run_);
  plant::Unknowns unknowns;
  unknowns.seed = words.seed;
  const auto result = perform(context_, run_, words, notes_.book(), unknowns);
  if (!result)
    return result.fault();
  refused_ = !result->summary;
  if (refused_)
    return result->faults.empty()
               ? Fault{FaultKind::program, "the run was not started", side.name, ""}
               : result->faults.front();
  tell(context_, *result);
  take_in(side, *result);
  return notes_.keep("pour",
                     {{"side", side.name}, {"pour", side.pours}, {"film", to_json(side)["film"]}},
                     result->coat);
}

std::optional<std::string> BoardJob::answer_ahead(const SideStory& side) {
  if (side.state == SideState::ended_early) {
    if (!early_)
      return std::nullopt;
    const std::string word = *early_;
    early_ = "leave"; // a side that ends early again is left
    return word == "repeat" ? "w" : word == "recoat" ? "r" : "";
  }
  const auto found = std::find(recoats_.begin(), recoats_.end(), side.name);
  if (found == recoats_.end())
    return std::nullopt;
  recoats_.erase(found);
  return "r";
}

Result<char> BoardJob::ask_after(const SideStory& side) {
  const std::string text =
      side.state == SideState::coated
          ? "Look at it. Enter keeps it, r pours again over it (thin corner), w washes it off and "
            "starts over, c cancels this side, q ends"
          : "It ended early. r pours again over it, w washes it off and starts over, c cancels "
            "this side, Enter leaves it so, q ends";
  return prompter_.choose({text, "", answer_ahead(side)}, "rwc");
}

Outcome BoardJob::cancel(SideStory& side) {
  side.state = SideState::cancelled;
  side.film.reset();
  context_.say("SIDE " + side.name + " cancelled");
  return notes_.keep("side cancelled", {{"side", side.name}});
}

Outcome BoardJob::coat_side(SideStory& side, bool flipped) {
  auto go_on = mount(side, flipped);
  for (;;) {
    if (!go_on)
      return go_on.fault();
    if (*go_on == 'c')
      return cancel(side);
    if (const auto ran = run_once(side); !ran) {
      if (!refused_ || words_.yes)
        return ran;
      std::cerr << "whirler: " << to_text(ran.fault()) << '\n';
      go_on = prompter_.choose(
          {"NOT STARTED. Enter tries again, c cancels this side, q ends", "", {}}, "c");
      continue;
    }
    const auto next = ask_after(side);
    if (!next)
      return next.fault();
    if (*next == 'c')
      return cancel(side);
    if (*next != 'r' && *next != 'w')
      return Done{};
    if (*next == 'w') {
      side.pours = 0;
      side.film.reset();
      side.state = SideState::bare;
    }
    go_on = pour_again(side, *next == 'w');
  }
}

Outcome BoardJob::expose(SideStory& side) {
  if (!side.film)
    return Done{};
  const auto exposure = exposure_for(plan_, by_weight_.value_or(side.film->film.thickness));
  if (!exposure) {
    context_.say("LAMP " + side.name + ": no seconds: " + to_text(exposure.fault()));
    return Done{};
  }
  side.exposure = *exposure;
  context_.say("LAMP " + side.name + ": " + number_text((*exposure)["time_s"].get<double>()) +
               " s. UV burns eyes and skin: screen it.");
  Json document = *exposure;
  document["side"] = side.name;
  document["advised"] = true;
  return notes_.keep("exposure", std::move(document));
}

Outcome BoardJob::offer_teaching() {
  if (!by_weight_)
    return Done{};
  if (const auto why = cannot_teach(plan_, sides_)) {
    context_.say("note     this board cannot teach the resist: " + *why);
    return Done{};
  }
  if (plan_.run.simulate && !words_.calibrate)
    return Done{}; // a simulated board has nothing to teach
  std::optional<std::string> ahead;
  if (words_.calibrate)
    ahead = "y";
  const auto yes = prompter_.choose(
      {"Teach the resist this film, " + number_text(by_weight_->um()) + " um? y, Enter: no", "",
       ahead},
      "y");
  if (!yes)
    return yes.fault();
  if (*yes != 'y')
    return Done{};
  if (const auto taught = teach(context_, plan_, *by_weight_); !taught)
    return taught;
  taught_ = true;
  return notes_.keep("calibration", {{"thickness_um", rounded(by_weight_->um())},
                                     {"speed_rpm", rounded(plan_.answer->choice.speed.rpm())},
                                     {"how", "weighed"}});
}

Outcome BoardJob::finish() {
  const bool coated = std::any_of(sides_.begin(), sides_.end(), [](const SideStory& side) {
    return side.state == SideState::coated;
  });
  if (before_ && coated)
    if (const auto ok =
            weigh("after", "WEIGH it once more, dry and cool.", words_.weighed_after, after_);
        !ok)
      return ok;
  if (before_ && after_) {
    const auto film = film_by_weight({*before_, *after_}, plan_, sides_);
    if (film) {
      by_weight_ = *film;
      context_.say("BY WEIGHT " + number_text(film->um()) + " um, mean of what is coated");
    } else {
      context_.say("warning  " + to_text(film.fault()));
    }
  }
  for (SideStory& side : sides_)
    if (const auto ok = expose(side); !ok)
      return ok;
  say_after();
  return offer_teaching();
}

Outcome BoardJob::work() {
  say_before();
  if (const auto ok =
          weigh("before", "WEIGH the bare plate, clean and dry.", words_.weighed_before, before_);
      !ok)
    return ok;
  bool touched = false;
  for (SideStory& side : sides_) {
    if (const auto ok = coat_side(side, touched); !ok)
      return ok;
    if (side.state == SideState::ended_early && words_.yes)
      break; // nobody has looked: nothing more is started
    touched = touched || side.state != SideState::cancelled;
  }
  return finish();
}

Json BoardJob::json(const Outcome& outcome) const {
  const auto grams_or_null = [](const std::optional<Mass>& mass) {
    return mass ? rounded(mass->g()) : Json(nullptr);
  };
  Json sides = Json::array();
  for (const SideStory& side : sides_)
    sides.push_back(to_json(side));
  Json json{{"board", plan_.board.name},
            {"plan", plan_json(plan_)},
            {"weighed",
             {{"before_g", grams_or_null(before_)},
              {"after_g", grams_or_null(after_)},
              {"thickness_um", by_weight_ ? rounded(by_weight_->um()) : Json(nullptr)}}},
            {"sides", sides},
            {"taught", taught_}};
  if (!outcome)
    json["fault"] = to_json(outcome.fault());
  return json;
}

int BoardJob::go() {
  const auto outcome = work();
  if (!outcome)
    std::cerr << "whirler: " << to_text(outcome.fault()) << '\n';
  context_.answer(json(outcome));
  if (!outcome)
    return exit_status(outcome.fault().kind);
  const auto early = std::find_if(sides_.begin(), sides_.end(), [](const SideStory& side) {
    return side.state == SideState::ended_early;
  });
  return early == sides_.end() ? static_cast<int>(kDone) : early->status;
}

} // namespace

int coat_board(const CoatWords& words, const Context& context) {
  FileLoader files(context);
  auto plan = plan_board(files, words.board);
  if (!plan)
    return files.fail();
  if (!*plan)
    return context.fail(plan->fault());
  auto run = load_run(files, (**plan).run);
  if (!run)
    return files.fail();
  if (!*run)
    return context.fail(run->fault());
  if (const auto ok = check_words(words, (**plan).board.sides, (**run).order.plan.machine); !ok)
    return context.fail(ok.fault());
  (**plan).run.faults = words.faults;
  if (const auto ok = settle((**plan).run, **run); !ok)
    return context.fail(ok.fault());
  if (!words.board.file.empty()) {
    const auto text = read_text_file(words.board.file);
    if (!text)
      return context.fail(text.fault());
    (**run).texts.push_back({"board", words.board.file, *text});
  }
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  return BoardJob(words, context, std::move(**plan), std::move(**run), std::move(*notebook)).go();
}

} // namespace whirler::cli
