#include "guided_words.hpp"

#include "balance_record.hpp"
#include "placed_values.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {

Unbalance under(const balance::UnbalanceNow& after) {
  return after.unbalance.size + after.bound_95;
}

Grade grade_of(const BalanceAnswer& answer, const balance::UnbalanceNow& after) {
  if (!answer.allowed)
    return Grade::none;
  if (under(after) <= answer.allowed->unbalance)
    return Grade::kept;
  const bool shown = after.unbalance.size > after.bound_95;
  return shown && after.unbalance.size > answer.allowed->unbalance ? Grade::over
                                                                   : Grade::cannot_tell;
}

std::string measured_line(const BalanceAnswer& answer, const balance::UnbalanceNow& after) {
  const std::string line = "Measured with it on: " + number_text(after.unbalance.size.g_mm()) +
                           " g mm, heavy side at " + angle_text(after.unbalance.at) + ", under " +
                           number_text(under(after).g_mm()) + " g mm in 95 of 100";
  const auto at_speed = [&] { return number_text(answer.allowed->speed.rpm(), 4) + " rpm"; };
  switch (grade_of(answer, after)) {
  case Grade::kept:
    return line + ": the grade is kept at " + at_speed();
  case Grade::over:
    return line + ": over the grade at " + at_speed();
  case Grade::cannot_tell:
    return line + ": the grade allows " + number_text(answer.allowed->unbalance.g_mm()) +
           " g mm at " + at_speed() + ", and these runs cannot tell whether it is kept";
  case Grade::none:
    break;
  }
  return line;
}

namespace {

/// The highest speed at which what may be left keeps the grade.
std::optional<Speed> sure_speed(const BalanceAnswer& answer, const balance::UnbalanceNow& after) {
  const auto speed =
      balance::highest_speed(under(after), answer.allowed->grade, answer.allowed->mass);
  if (!speed || !*speed || **speed < answer.plate.machine->limits.speed_min)
    return std::nullopt;
  return **speed;
}

} // namespace

std::vector<std::string> way_on_lines(const BalanceAnswer& answer,
                                      const balance::UnbalanceNow& after, const std::string& next) {
  std::vector<std::string> lines;
  const auto slower = sure_speed(answer, after);
  const std::string as_it_is = slower ? "run no faster than " + number_text(slower->rpm(), 4) +
                                            " rpm as it is now: there the grade is kept"
                                      : std::string{};
  if (grade_of(answer, after) == Grade::cannot_tell) {
    lines.push_back("To tell: balance --guided once more, with a larger --trial or a higher "
                    "--speed, past the mount's natural speed" +
                    (slower ? "; or " + as_it_is : ""));
    return lines;
  }
  if (answer.no_share)
    lines.push_back("The holes cannot take the rest: " + answer.no_share->what + "; " +
                    answer.no_share->next);
  else if (no_hole_takes_it(answer))
    say_no_hole(lines, answer);
  else
    lines.push_back(next);
  lines.push_back("Then balance --guided once more, from the rotor as it is then" +
                  (slower ? "; or " + as_it_is : ""));
  return lines;
}

std::vector<std::string> recall_lines(const notebook::Coat& coat) {
  const auto on = masses_on(coat);
  const auto told = masses_told(coat);
  std::string words = on && !on->empty() ? "had " + list_text(*on) + " on" : "";
  if (!told.empty())
    words += std::string(words.empty() ? "was" : ", and was") + " to be followed by one with " +
             list_text(told) + " on";
  if (words.empty())
    return {};
  return {"caution: the last run in the notebook, coat " + std::to_string(coat.number) + ", " +
          words + ". Take it off before run 1, unless it belongs to this rotor"};
}

std::vector<std::string> last_lines(const GuidedEnd& end) {
  std::vector<std::string> lines;
  std::string numbers;
  for (const std::int64_t coat : end.coats)
    numbers += (numbers.empty() ? "" : ", ") + std::to_string(coat);
  if (!end.coats.empty())
    lines.push_back("Kept with what was on and what came of it: " +
                    std::string(end.coats.size() == 1 ? "coat " : "coats ") + numbers +
                    " (whirler show " + std::to_string(end.coats.back()) + ")");
  if (end.trial)
    lines.push_back("The trial mass may still be on: " + typed_form(*end.trial) +
                    ". Take it off before the plate is run again");
  if (!end.told.empty())
    lines.push_back((end.early ? "The correction may be on: " : "On the rotor: ") +
                    list_text(end.told));
  return lines;
}

} // namespace whirler::cli
