// What an earlier go of the same board's work left: after a power cut, a kill, a q between the
// sides. Its films may lie on the plate, and the bare plate's weight can be had from nowhere else.
#include "board_close.hpp"
#include "board_job.hpp"
#include "lying.hpp"
#include "run_job.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

bool names(const std::vector<std::string>& flags, const std::string& side) {
  return std::count(flags.begin(), flags.end(), side) > 0;
}

bool began_after(const Pour& pour, notebook::Instant then) {
  const auto started = notebook::instant_from_text(pour.started);
  return started && *started >= then;
}

} // namespace

/// Gives each side its story so far.
Outcome BoardJob::take_up() {
  BoardFilms films = films_of(notes_.book(), plan_.board.name, plan_.run.simulate);
  for (SideStory& film : films.lying) {
    const auto own = std::find_if(sides_.begin(), sides_.end(),
                                  [&](const SideStory& side) { return side.name == film.name; });
    if (own != sides_.end())
      *own = std::move(film);
    else if (sides_.size() + others_.size() < 2) // a plate has two sides, whatever they are called
      others_.push_back(std::move(film));
  }
  weighings_ = weighings_of(notes_.book(), plan_.board.name, plan_.run.simulate);
  if (!weighings_.empty() && weighings_.back().when == "before")
    kept_ = weighings_.back();
  if (const auto named = check_films_named(); !named)
    return named;
  return check_masses_ahead();
}

/// A flag about a film from before, of a side that has none, is a slip of the pen.
Outcome BoardJob::check_films_named() const {
  const auto lying = on_plate();
  for (const auto* flags :
       {&words_.keep_film, &words_.over_film, &words_.weighed_with, &words_.weighed_without})
    for (const std::string& name : *flags)
      if (std::none_of(lying.begin(), lying.end(),
                       [&](const SideStory& side) { return side.name == name; }))
        return Fault{FaultKind::command_line,
                     "the notebook knows of no film on side '" + name + "' of " + plan_.board.name,
                     "", "whirler log --board says what was coated"};
  return Done{};
}

void BoardJob::say_other_programs() {
  for (const RunningCoat& other :
       running_coats(notes_.book(), plan_.board.name, plan_.run.simulate)) {
    if (std::count(said_running_.begin(), said_running_.end(), other.coat) > 0)
      continue;
    said_running_.push_back(other.coat);
    context_.say("warning  ANOTHER PROGRAM COATS THIS BOARD right now: " + other.side + " (coat " +
                 std::to_string(other.coat) + "). If it is the same plate, end one of them");
  }
}

/// The sides that bear a film.
std::vector<SideStory> BoardJob::on_plate() const {
  std::vector<SideStory> lying;
  for (const auto* sides : {&sides_, &others_})
    for (const SideStory& side : *sides)
      if (!side.pours.empty())
        lying.push_back(side);
  return lying;
}

/// With the films that will lie there by the flags, before anything is asked or moves.
Outcome BoardJob::check_masses_ahead() const {
  const auto before = words_.weighed_before ? read_mass(*words_.weighed_before)
                      : kept_ && words_.yes ? Result(std::optional(kept_->mass))
                                            : Result(std::optional<Mass>());
  const auto after = read_mass(words_.weighed_after.value_or(""));
  if (!before || !*before || !after || !*after)
    return Done{};
  const auto with = weighed_with(**before).value_or(std::vector<std::string>{});
  std::size_t films = 0;
  for (const auto* sides : {&sides_, &others_})
    for (const SideStory& side : *sides) {
      const bool is_left = names(words_.cancel, side.name) || names(words_.keep_film, side.name) ||
                           sides == &others_;
      const bool is_gone = side.pours.empty() || names(words_.washed_off, side.name) ||
                           names(with, side.pours.back().coat) ||
                           names(words_.weighed_with, side.name);
      films += is_left && is_gone ? 0 : 1;
    }
  return check_weighed_ahead({**before, **after}, plan_, films);
}

/// "bare 12.712 g kept from coat 1"; empty where none is.
std::string BoardJob::kept_text() const {
  if (!kept_)
    return "";
  std::optional<std::int64_t> first; // coat after it
  for (const SideStory& side : on_plate())
    if (side.coat && side.started >= kept_->at)
      first = std::min(first.value_or(*side.coat), *side.coat);
  const std::string from =
      first ? "coat " + std::to_string(*first) : age_text(since(kept_->at, wall_clock())) + " ago";
  return "bare " + number_text(kept_->mass.g(), 8) + " g kept from " + from;
}

/// The pours that were on the plate at a weighing that the notebook knows of; none where this mass
/// is of no such weighing.
std::optional<std::vector<std::string>> BoardJob::weighed_with(Mass before) const {
  const auto lying = on_plate();
  const auto pours_before = [&](notebook::Instant then) {
    std::vector<std::string> uids;
    for (const SideStory& side : lying)
      for (const Pour& pour : side.pours)
        if (!began_after(pour, then))
          uids.push_back(pour.coat);
    return uids;
  };
  if (lying.empty())
    return std::vector<std::string>{};
  const auto bare = last_weighing(weighings_, "before");
  if (bare && is_same_reading(bare->mass, before)) {
    if (bare->with)
      return bare->with;
    if (pours_before(bare->at).empty())
      return std::vector<std::string>{};
  }
  const auto coated = last_weighing(weighings_, "after");
  if (coated && is_same_reading(coated->mass, before))
    return pours_before(coated->at);
  return std::nullopt;
}

std::optional<std::string> BoardJob::mount_ahead(const SideStory& side) const {
  if (names(words_.cancel, side.name))
    return "c";
  if (names(words_.keep_film, side.name))
    return "k";
  if (names(words_.over_film, side.name))
    return "r";
  return std::nullopt;
}

/// The question before a side's first run, where the notebook knows of a film on it.
Result<char> BoardJob::mount_over(SideStory& side, bool flipped) {
  if (names(words_.washed_off, side.name)) {
    if (const auto washed = wash(side); !washed)
      return washed.fault();
    return mount(side, flipped);
  }
  std::string text = "SIDE " + side.name + ": " + film_age(side, wall_clock()) + ". ";
  if (flipped)
    text += "FLIP the plate, the other side touch-dry first; hold it by its edges. ";
  text += "Screw tight, " + plan_.pour_text() +
          ", lid shut. Enter runs on a bare side, w too: that film was washed off, r pours over "
          "it, k keeps it and pours nothing, c cancels this side, q ends";
  const auto answer = prompter_.choose({text, "", mount_ahead(side)}, "rwkc");
  if (!answer)
    return answer.fault();
  if (*answer == 'w')
    if (const auto washed = wash(side); !washed)
      return washed.fault();
  if (*answer == '\n') {
    context_.say("note     " + side.name + " is taken as bare" +
                 (words_.yes ? ": --keep-film, --over-film or --washed-off says otherwise" : ""));
    side.clear();
  }
  return *answer == 'w' ? '\n' : *answer;
}

/// What lies on a side that was given up after its run.
Outcome BoardJob::ask_whether_washed(SideStory& side) {
  std::optional<std::string> ahead;
  if (names(words_.washed_off, side.name))
    ahead = "y";
  const auto answer = prompter_.choose(
      {"Is " + side.name + " washed off now? y; Enter: no, its film is weighed with the rest", "",
       ahead},
      "y");
  if (!answer)
    return answer.fault();
  if (*answer != 'y')
    return Done{};
  const auto washed = wash(side);
  side.state = SideState::cancelled;
  return washed;
}

/// Whether this side's film from before was weighed with the bare plate; false where nobody knows.
Result<bool> BoardJob::ask_whether_weighed(SideStory& side, std::vector<std::string>& with) {
  std::optional<std::string> ahead;
  if (names(words_.weighed_with, side.name))
    ahead = "y";
  else if (names(words_.weighed_without, side.name))
    ahead = "n";
  const auto answer = prompter_.choose(
      {"Was the film of side " + side.name + " (" + film_age(side, wall_clock()) +
           ") on the plate when it was weighed before? y, n, w: it was washed off since then; "
           "Enter: not known",
       "", ahead},
      "ynw");
  if (!answer)
    return answer.fault();
  if (*answer == 'w')
    if (const auto washed = wash(side); !washed)
      return washed.fault();
  if (*answer == 'y')
    for (std::size_t i = 0; i < side.earlier; ++i)
      with.push_back(side.pours[i].coat);
  return *answer != '\n';
}

/// Where the weight before is of no weighing that the notebook knows.
Outcome BoardJob::ask_what_was_weighed() {
  if (!before_ || with_)
    return Done{};
  std::vector<std::string> with;
  for (auto* sides : {&sides_, &others_})
    for (SideStory& side : *sides) {
      if (side.earlier == 0)
        continue;
      const auto known = ask_whether_weighed(side, with);
      if (!known)
        return known.fault();
      if (!*known)
        return Done{};
    }
  with_ = with;
  return Done{};
}

} // namespace whirler::cli
