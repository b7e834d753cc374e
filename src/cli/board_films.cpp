#include "board_films.hpp"

#include "coat_reading.hpp"
#include "lying.hpp"
#include "whirler/run/state_machine.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

using notebook::CoatLine;
using notebook::CoatState;

std::vector<CoatLine> lines_of(notebook::Notebook& notebook, const std::string& board,
                               bool simulated) {
  notebook::Filter filter;
  filter.board = board;
  auto lines = notebook.log(filter);
  if (!lines)
    return {}; // the notebook says why when the run is to be kept
  std::vector<CoatLine> own = std::move(lines).value();
  std::erase_if(own, [&](const CoatLine& line) { // the filter takes parts of names
    return line.board != board || line.simulated != simulated;
  });
  return own;
}

std::vector<RunningCoat> running_among(const std::vector<CoatLine>& lines) {
  std::vector<RunningCoat> running;
  for (const CoatLine& line : lines)
    if (line.state == CoatState::running)
      running.push_back({line.number, line.side});
  return running;
}

std::string how_it_went(const CoatLine& line, bool whole) {
  switch (line.state) {
  case CoatState::running:
    return "being coated now";
  case CoatState::broken_off:
    return "broken off";
  case CoatState::finished:
    break;
  }
  return whole ? "coated" : "run, ended early,";
}

SideStory story_of(notebook::Notebook& notebook, const CoatLine& line) {
  SideStory story;
  story.name = line.side;
  story.coat = line.number;
  story.started = line.started;
  story.resist = line.resist;
  story.whole = line.state == CoatState::finished &&
                run::ending_from_word(line.outcome) == run::Ending::completed;
  story.how = how_it_went(line, story.whole);
  const auto coat = notebook.coat(line.number);
  if (!coat) { // damaged: a film lies there, and nothing more is known of it
    story.pours.emplace_back();
    story.earlier = 1;
    story.whole = false;
    return story;
  }
  const CoatReading reading = read_coat_film(*coat);
  if (reading.pour) {
    story.pours = reading.pour->over;
    if (reading.pour->is_partial())
      story.pours.insert(story.pours.begin(),
                         static_cast<std::size_t>(reading.pour->pour) - 1 - story.pours.size(),
                         Pour{});
  }
  story.pours.push_back({coat->uid, notebook::instant_text(line.started), film_alone(reading)});
  story.film = reading.lying;
  story.spun_at = reading.spun_at();
  story.earlier = story.pours.size();
  return story;
}

Fault no_film(const std::string& why, const std::string& next) {
  return input_fault("no film by weight: " + why, "", next);
}

} // namespace

BoardFilms films_of(notebook::Notebook& notebook, const std::string& board, bool simulated) {
  const std::vector<CoatLine> lines = lines_of(notebook, board, simulated);
  BoardFilms films;
  films.running = running_among(lines);
  std::vector<std::string> seen;
  for (const CoatLine& line : lines) { // the newest coat of a side comes first
    if (std::count(seen.begin(), seen.end(), line.side) > 0)
      continue;
    seen.push_back(line.side);
    if (line.fate != fate_kind(Fate::washed_off))
      films.lying.push_back(story_of(notebook, line));
  }
  return films;
}

std::vector<RunningCoat> running_coats(notebook::Notebook& notebook, const std::string& board,
                                       bool simulated) {
  return running_among(lines_of(notebook, board, simulated));
}

std::string film_age(const SideStory& side, notebook::Instant now) {
  const std::string number = side.coat ? "(coat " + std::to_string(*side.coat) + ")" : "";
  if (side.how == "being coated now")
    return side.how + " " + number;
  return side.how + " " + age_text(since(side.started, now)) + " ago " + number;
}

Result<std::vector<SideStory>> films_gained(std::span<const SideStory> sides,
                                            const std::vector<std::string>& with,
                                            const std::string& resist) {
  std::vector<SideStory> gained;
  std::ptrdiff_t still_there = 0;
  for (const SideStory& side : sides) {
    const auto weighed = std::count_if(side.pours.begin(), side.pours.end(), [&](const Pour& pour) {
      return std::count(with.begin(), with.end(), pour.coat) > 0;
    });
    still_there += weighed;
    if (weighed == static_cast<std::ptrdiff_t>(side.pours.size()))
      continue; // nothing lies there, or nothing that came later
    if (weighed > 0)
      return no_film(side.name + " was poured over a film that was weighed with the plate",
                     "take it as estimated");
    if (!side.whole)
      return no_film("what " + side.name + " was left with is weighed too",
                     "weigh a board whose sides ran to their end");
    if (side.resist != resist)
      return no_film("on " + side.name + " lies " + side.resist + ", not " + resist,
                     "take it as estimated");
    gained.push_back(side);
    gained.back().state = SideState::coated;
  }
  if (still_there < static_cast<std::ptrdiff_t>(with.size()))
    return no_film("a film that was weighed with the plate is not on it any more",
                   "weigh the bare plate anew");
  if (gained.empty())
    return no_film("nothing was put on since the plate was weighed", "weigh it when a side is");
  if (gained.size() > 2)
    return no_film("the notebook has films on more than two sides", "say what was washed off");
  return gained;
}

bool spun_alike(std::span<const SideStory> sides) {
  constexpr double kSameSpeed = 0.03; // moves a film by 1.5 %
  const auto [slow, fast] =
      std::minmax_element(sides.begin(), sides.end(), [](const SideStory& a, const SideStory& b) {
        return a.spun_at < b.spun_at;
      });
  return slow == sides.end() || fast->spun_at <= (1.0 + kSameSpeed) * slow->spun_at;
}

} // namespace whirler::cli
