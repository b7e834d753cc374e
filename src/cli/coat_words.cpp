#include "coat_words.hpp"

#include "prompter.hpp"
#include "run_job.hpp"
#include "scales.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <utility>

namespace whirler::cli {
namespace {

/// A fault of the simulation and the run that it is for: "2:lid@9s", else the first.
std::pair<int, std::string> numbered(const std::string& fault) {
  const auto colon = fault.find(':');
  if (colon == std::string::npos || colon == 0 || fault.find_first_not_of("0123456789") != colon ||
      colon > 3)
    return {1, fault};
  return {std::stoi(fault.substr(0, colon)), fault.substr(colon + 1)};
}

/// Sides that are none, and names that the flags use and the board does not have.
Outcome check_names(const CoatWords& words, const std::vector<std::string>& sides) {
  if (sides.size() > 2 || std::count(sides.begin(), sides.end(), "") > 0)
    return Fault{FaultKind::command_line, "a board has one or two sides, each with a name", "",
                 "give --side once or twice"};
  if (sides.size() == 2 && sides.front() == sides.back())
    return Fault{FaultKind::command_line, "both sides are called '" + sides.front() + "'", "",
                 "give them different names"};
  for (const auto* names :
       {&words.recoat, &words.cancel, &words.repeat, &words.keep_film, &words.over_film})
    for (const std::string& name : *names)
      if (std::count(sides.begin(), sides.end(), name) == 0)
        return Fault{FaultKind::command_line, "the board has no side '" + name + "'", "",
                     "name one of its sides: " + sides.front() + ", " + sides.back()};
  return Done{};
}

/// One side told to do two things of which only one can be done.
Outcome check_answers(const CoatWords& words) {
  struct Answer {
    const char* flag;
    const std::vector<std::string>& sides;
  };
  const Answer cancel{"--cancel", words.cancel};
  const Answer recoat{"--recoat", words.recoat};
  const Answer repeat{"--repeat", words.repeat};
  const Answer keep{"--keep-film", words.keep_film};
  const Answer over{"--over-film", words.over_film};
  const Answer washed{"--washed-off", words.washed_off};
  const Answer with{"--weighed-with", words.weighed_with};
  const Answer without{"--weighed-without", words.weighed_without};
  for (const auto& [one, other] : {std::pair{&cancel, &recoat},
                                   {&cancel, &repeat},
                                   {&cancel, &keep},
                                   {&cancel, &over},
                                   {&keep, &over},
                                   {&keep, &recoat},
                                   {&keep, &repeat},
                                   {&keep, &washed},
                                   {&over, &washed},
                                   {&with, &without}})
    for (const std::string& side : one->sides)
      if (std::count(other->sides.begin(), other->sides.end(), side) > 0)
        return Fault{FaultKind::command_line,
                     std::string(one->flag) + " and " + other->flag + " both name '" + side + "'",
                     "", "give one of them"};
  return Done{};
}

/// A flag says its unit, as every flag does; at the scales the question does.
Outcome check_masses(const CoatWords& words) {
  for (const auto* typed : {&words.weighed_before, &words.weighed_after}) {
    if (!*typed)
      continue;
    const auto mass = parse<Mass>(**typed);
    if (!mass || !(mass->kg() > 0.0))
      return Fault{FaultKind::command_line, mass ? "a board of " + **typed : mass.fault().what, "",
                   "type it as 24.310g"};
  }
  return Done{};
}

Outcome check_simulated_faults(const CoatWords& words) {
  std::vector<std::string> faults;
  for (const std::string& fault : words.faults)
    faults.push_back(numbered(fault).second);
  return check_faults(faults);
}

} // namespace

Outcome check_words(const CoatWords& words, const std::vector<std::string>& sides,
                    const machine::Machine& machine) {
  for (const Outcome& ok : {check_names(words, sides), check_answers(words), check_masses(words),
                            check_simulated_faults(words), Prompter(words.yes).can_ask()})
    if (!ok)
      return ok;
  if (machine.lid == machine::Lid::none && words.yes && !words.board.run.lid_closed)
    return Fault{FaultKind::command_line,
                 "this machine has no lid switch, and nobody says that "
                 "the lid is shut",
                 "", "add --lid-closed when you have seen it"};
  return Done{};
}

/// A mass as typed, grams where no unit stands. None: a blank answer.
Result<std::optional<Mass>> read_mass(const std::string& text) {
  if (text.empty())
    return std::optional<Mass>{};
  if (text.find(',') != std::string::npos) // 12,5 is 12.5 to some and 12 500 cut short to others
    return input_fault("'" + text + "' has a comma", "", "type the mass with a point, as 24.310");
  auto mass = parse<Mass>(text);
  if (!mass)
    mass = parse<Mass>(text + "g");
  if (!mass)
    return mass.fault();
  if (!(mass->kg() > 0.0))
    return input_fault("a board of " + text, "", "type grams above 0, as 24.310");
  return std::optional(*mass);
}

Mass digit_of_mass(const std::string& text) {
  return last_digit(parse<Mass>(text) ? text : text + "g");
}

std::vector<std::string> faults_of_run(const CoatWords& words, int number) {
  std::vector<std::string> faults;
  for (const std::string& fault : words.faults)
    if (auto [run, text] = numbered(fault); run == number)
      faults.push_back(std::move(text));
  return faults;
}

} // namespace whirler::cli
