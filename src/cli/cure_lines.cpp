#include "cure_lines.hpp"

#include "unit_texts.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {

std::vector<std::string> cure_lines(const balance::Cures& cures, const CureWords& words) {
  std::vector<std::string> lines{
      words.kept_up_to ? "Nothing has to be done: the grade is kept at " +
                             number_text(words.kept_up_to->rpm(), 5) + " rpm. To better it still:"
                       : "What to do, first what is easiest:"};
  int number = 0;
  const auto offer = [&](const std::string& what) {
    ++number;
    lines.push_back("  " + std::to_string(number) + ". " + (number > 1 ? "or " : "") + what);
  };
  const auto no = [&](const std::string& why) { lines.push_back("  no " + why); };
  if (cures.hole_lets_shift)
    offer("shift the plate on the hub by " + words.way(cures.shift.by, cures.shift.towards) +
          ", if the hole's play lets it");
  else
    no("shift on the hub: it would take " + mm_text(cures.shift.by) +
       ", and the play is half of what the hole, " + mm_text(words.hole) +
       ", is wider than the spindle: under " + mm_text(0.5 * words.hole));
  if (!words.counter.empty())
    offer(words.counter);
  else if (!words.no_counter.empty())
    no(words.no_counter);
  if (!words.kept_up_to && cures.slower && words.least && *cures.slower < *words.least)
    no("running slower: the grade would take " + number_text(cures.slower->rpm(), 4) +
       " rpm or less, and the machine runs at " + number_text(words.least->rpm(), 5) +
       " rpm or more");
  else if (!words.kept_up_to)
    offer("run slower" + (cures.slower ? ": at most " + number_text(cures.slower->rpm(), 4) + " rpm"
                                       : words.slower_unknown));
  if (words.new_hole_fits)
    offer("drill a new blank, its hole " + words.way(cures.redrill.by, cures.redrill.towards));
  else
    no("new hole: it would have to be " + mm_text(cures.redrill.by) +
       " from this one, where the plate "
       "has no material for it");
  return lines;
}

} // namespace whirler::cli
