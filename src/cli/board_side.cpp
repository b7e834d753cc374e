#include "board_job.hpp"
#include "farthest_out.hpp"
#include "one_line.hpp"

#include "coat_notes.hpp"
#include "run_job.hpp"
#include "run_view.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <iostream>

namespace whirler::cli {

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

RunWords BoardJob::words_of_run(const SideStory& side) const {
  RunWords words = plan_.run;
  words.faults = faults_of_run(words_, runs_);
  words.side = side.name;
  const PourRecord pour{side.name, static_cast<int>(side.pours.size()) + 1, side.pours};
  words.notes.push_back({kPourNote, one_line(pour_document(pour))});
  if (plan_.board.target)
    words.notes.push_back(
        {kThicknessNote, one_line(thickness_document({.wanted = plan_.board.target}))});
  return words;
}

void BoardJob::say_result(const SideStory& side, const CoatReading& reading) const {
  if (side.film) {
    context_.say("FILM " + film_text(side.film->film, side.film->is_set));
    for (const std::string& row : result_rows(context_.json, side.film->film.thickness))
      context_.say(row);
    context_.say(
        "  " + film_advice(*side.film, plan_.board.target, plan_.question.bottle->resist.dries()));
  }
  for (const std::string& note : reading.notes)
    context_.say("note     " + note);
}

void BoardJob::take_in(SideStory& side, const DoneRun& result) {
  Json json = run_json(result);
  side.status = run_status(result);
  side.state =
      result.summary->ending == run::Ending::completed ? SideState::coated : SideState::ended_early;
  side.whole = side.state == SideState::coated;
  side.how = side.whole ? "coated" : "run, ended early,";
  side.resist = run_.resist_name;
  side.coat = result.coat;
  const std::int64_t number = result.coat.value_or(0);
  const auto coat = notes_.book().coat(number);
  if (!coat) {
    context_.say("warning  " + to_text(coat.fault()));
    side.film.reset();
    side.pours.emplace_back();
    side.runs.push_back(std::move(json));
    return;
  }
  const CoatReading reading = read_coat_film(*coat);
  json["film"] = film_json(reading.film);
  side.runs.push_back(std::move(json));
  side.film = reading.lying;
  side.spun_at = reading.spun_at();
  side.started = coat->start.started;
  side.pours.push_back({coat->uid, notebook::instant_text(side.started), film_alone(reading)});
  say_result(side, reading);
  for (const std::string& line : vibration_lines(result.vibration.judgement))
    context_.say(line);
}

Outcome BoardJob::keep_fate(const SideStory& side, Fate fate) {
  return notes_.keep(fate_kind(fate), {{"side", side.name}}, side.coat);
}

Outcome BoardJob::run_once(SideStory& side) {
  ++runs_;
  say_other_programs();
  const RunWords words = words_of_run(side);
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
  say_other_programs(); // one that began in the meantime
  if (!side.pours.empty())
    if (const auto kept = keep_fate(side, Fate::poured_over); !kept)
      context_.say("warning  " + to_text(kept.fault()));
  take_in(side, *result);
  return Done{};
}

std::optional<std::string> BoardJob::answer_ahead(const SideStory& side) {
  if (side.state == SideState::ended_early) {
    if (!early_)
      return std::nullopt;
    const std::string word = *early_;
    early_ = "leave"; // a side that ends early again is left
    return word == "repeat" ? "w" : word == "recoat" ? "r" : word == "cancel" ? "c" : "";
  }
  const auto took = [&](std::vector<std::string>& flags) {
    const auto found = std::find(flags.begin(), flags.end(), side.name);
    const bool was_there = found != flags.end();
    if (was_there)
      flags.erase(found);
    return was_there;
  };
  if (took(repeats_))
    return "w";
  return took(recoats_) ? std::optional<std::string>("r") : std::nullopt;
}

Result<char> BoardJob::ask_after(const SideStory& side) {
  const std::string thin = farthest_out(*plan_.question.plate.blank) == std::string("edge")
                               ? "thin edge"
                               : "thin corner";
  const std::string text =
      side.state == SideState::coated
          ? "Look at it. Enter keeps it, r pours again over it (" + thin +
                "), w washes it off and starts over, c cancels this side, q ends"
          : "It ended early. r pours again over it, w washes it off and starts over, c cancels "
            "this side, Enter leaves it so, q ends";
  return prompter_.choose({text, "", answer_ahead(side)}, "rwc");
}

Outcome BoardJob::cancel(SideStory& side) {
  side.state = SideState::cancelled;
  const bool is_poured = !side.runs.empty() && !side.pours.empty(); // in this go of the work
  context_.say("SIDE " + side.name + " cancelled" +
               (is_poured ? ". Wash it off before the plate is exposed" : ""));
  if (!is_poured)
    return notes_.keep(fate_kind(Fate::cancelled), {{"side", side.name}});
  if (const auto kept = keep_fate(side, Fate::cancelled); !kept)
    return kept;
  return ask_whether_washed(side);
}

Outcome BoardJob::wash(SideStory& side) {
  const auto kept = keep_fate(side, Fate::washed_off);
  side.clear();
  return kept;
}

Outcome BoardJob::coat_side(SideStory& side, bool flipped) {
  auto go_on = side.pours.empty() ? mount(side, flipped) : mount_over(side, flipped);
  for (;;) {
    if (!go_on)
      return go_on.fault();
    if (*go_on == 'k') { // of mount_over alone
      side.state = SideState::kept;
      return Done{};
    }
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
    if (*next == 'w')
      if (const auto washed = wash(side); !washed)
        return washed;
    go_on = pour_again(side, *next == 'w');
  }
}

} // namespace whirler::cli
