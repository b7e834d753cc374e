#include "guided_words.hpp"

#include "balance_record.hpp"
#include "placed_values.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {

bool over_grade(const BalanceAnswer& answer, const balance::PlacedUnbalance& after) {
  return answer.allowed && after.size > answer.allowed->unbalance;
}

std::string measured_line(const BalanceAnswer& answer, const balance::PlacedUnbalance& after) {
  std::string line = "Measured with it on: " + number_text(after.size.g_mm()) +
                     " g mm, heavy side at " + angle_text(after.at);
  if (answer.allowed)
    line += std::string(over_grade(answer, after) ? ": over the grade" : ": the grade is kept") +
            " at " + number_text(answer.allowed->speed.rpm(), 4) + " rpm";
  return line;
}

std::vector<std::string> way_on_lines(const BalanceAnswer& answer,
                                      const balance::PlacedUnbalance& after,
                                      const std::vector<balance::PlacedMass>& add) {
  std::vector<std::string> lines;
  if (answer.no_share)
    lines.push_back("The holes cannot take the rest: " + answer.no_share->what + "; " +
                    answer.no_share->next);
  else if (no_hole_takes_it(answer))
    say_no_hole(lines, answer);
  else
    lines.push_back("Still to add, beside what is on: " + list_text(add));
  const auto slower =
      balance::highest_speed(after.size, answer.allowed->grade, answer.allowed->mass);
  const bool runs = slower && *slower && **slower >= answer.plate.machine->limits.speed_min;
  lines.push_back("Then balance --guided once more, from the rotor as it is then" +
                  (runs ? "; or run no faster than " + number_text((*slower)->rpm(), 4) +
                              " rpm as it is now: there the grade is kept"
                        : std::string{}));
  return lines;
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
